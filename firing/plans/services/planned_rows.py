"""Writes a taken plan as rows: bookings, planned firings, what goes in, who does what."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from firing.kiln_time.services.bookings import kiln_time_guarded, refuse_closed
from firing.loads.selectors.firings import firing_title
from firing.loads.selectors.planned import Confirmed
from firing.models import (
    Booking,
    BookingKind,
    FiringKind,
    Plan,
    PlannedFiring,
    PlannedItem,
    PlannedWork,
)
from firing.models import ScheduleRule as Rule
from firing.physics.schedule import PhysicsProblem
from firing.plans.selectors.record import Record
from firing.plans.selectors.words import count_words
from firing.schedules.selectors.programmes import (
    curve_points,
    propose_enamel,
    propose_stack,
)
from studio.models import Kiln, Layer, Person, Studio
from studio.selectors.pieces import PieceView, pieces, view_piece

Span = tuple[int, str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadyFiring:
    """A firing of a record with what its booking is called and heats by."""

    row: Record
    kiln: Kiln
    title: str
    curve: list[list[float]]


def prepare(studio: Studio, record: Record) -> tuple[ReadyFiring, ...]:
    """Return a record's firings by time, titled and with their curves; nothing is held.

    Curves are computed, so it is done before the kilns are locked.
    """
    kilns = {kiln.pk: kiln for kiln in Kiln.owned.for_studio(studio)}
    loads = _Loads(studio)
    rows = [*record["firings"], *record["fuses"]]
    return tuple(
        ReadyFiring(
            row=row,
            kiln=kilns[row["kiln"]],
            title=firing_title(row["kind"], loads.words(row)),
            curve=loads.curve(row, kilns[row["kiln"]]),
        )
        for row in sorted(rows, key=lambda row: (row["starts_at"], row["kiln"]))
    )


def write(
    plan: Plan,
    firings: Sequence[ReadyFiring],
    work: Sequence[Record],
    *,
    by: Person | None,
    at: datetime,
) -> None:
    """Book what a plan has fired, and write down its loads and work.

    Bookings of the plan before it stay where the new one wants the same; the others
    are given back first.

    Raises
    ------
    KilnTaken
        When something else stands or is closed there.
    """
    studio = plan.studio
    wanted = {_span(ready.row) for ready in firings}
    standing = _give_back(studio, plan, wanted, at)
    for ready in firings:
        row, kiln = ready.row, ready.kiln
        booking = standing.get(_span(row)) or Booking(
            studio=studio,
            kiln=kiln,
            kind=BookingKind.FIRING,
            starts_at=datetime.fromisoformat(row["starts_at"]),
            ends_at=datetime.fromisoformat(row["ends_at"]),
            is_provisional=True,
            booked_at=at,
            booked_by=by,
        )
        booking.title, booking.planned_curve = ready.title, ready.curve
        if booking.pk is None:
            refuse_closed(kiln, booking.starts_at, booking.ends_at, at)
        with kiln_time_guarded(kiln, booking.starts_at, booking.ends_at, at):
            booking.save()
        _planned(plan, booking, row)
    PlannedWork.across_studios.bulk_create(
        [_work(plan, row) for row in work if row["segments"]]
    )


def _span(row: Record) -> Span:
    return row["kiln"], row["starts_at"], row["ends_at"]


def _give_back(
    studio: Studio, plan: Plan, wanted: set[Span], at: datetime
) -> dict[Span, Booking]:
    """Cancel the provisional bookings of older plans but those still wanted."""
    found = {}
    old = PlannedFiring.owned.for_studio(studio).filter(
        booking__is_provisional=True, booking__cancelled_at__isnull=True
    )
    for row in old.select_related("booking"):
        booking = row.booking
        span = (
            booking.kiln_id,
            booking.starts_at.isoformat(),
            booking.ends_at.isoformat(),
        )
        row.delete()
        if span in wanted:
            found[span] = booking
            continue
        booking.cancelled_at = at
        booking.cancelled_reason = f"Plan {plan.number} has it otherwise"
        booking.save(update_fields=["cancelled_at", "cancelled_reason"])
    return found


class _Loads:
    """What goes into firings, read once: titles and planned curves."""

    def __init__(self, studio: Studio) -> None:
        self.studio = studio
        self.views: dict[int, PieceView] = {}
        self.layers: dict[int, Layer] = {
            one.pk: one
            for one in Layer.owned.for_studio(studio).select_related("glass")
        }
        self.curves: dict[tuple[Any, ...], list[list[float]]] = {}

    def words(self, row: Record) -> str:
        if row["kind"] != FiringKind.ENAMEL:
            return str(self._view(row["piece"]).piece)
        return count_words(len(row["items"]), "layer")

    def curve(self, row: Record, kiln: Kiln) -> list[list[float]]:
        """Return the planned curve; none where the kiln cannot do it any more."""
        try:
            if row["kind"] == FiringKind.ENAMEL:
                glasses = {self.layers[item["layer"]].glass for item in row["items"]}
                glass = max(glasses, key=lambda g: (g.enamel_c, -g.pk))
                key: tuple[Any, ...] = (kiln.pk, glass.pk)
                if key not in self.curves:
                    found = propose_enamel(glass=glass, kiln=kiln)
                    self.curves[key] = curve_points(found.run, load_s=found.load_s)
                return self.curves[key]
            view = self._view(row["piece"])
            found = propose_stack(
                kind=row["kind"],
                rule=Rule.NEXT_ROW,
                thickness_mm=view.height_mm,
                glass=view.piece.glass,
                kiln=kiln,
            )
            return curve_points(found.run, load_s=found.load_s)
        except PhysicsProblem:
            return []

    def _view(self, pk: int) -> PieceView:
        if pk not in self.views:
            self.views[pk] = view_piece(pieces(self.studio).get(pk=pk))
        return self.views[pk]


def _planned(plan: Plan, booking: Booking, row: Record) -> None:
    firing = PlannedFiring.across_studios.create(
        studio=plan.studio,
        plan=plan,
        booking=booking,
        kind=FiringKind(row["kind"]),
        unload_at=datetime.fromisoformat(row["opens_at"]),
    )
    items = row.get("items") or [{"piece": row["piece"]}]
    PlannedItem.across_studios.bulk_create(
        PlannedItem(
            studio=plan.studio,
            firing=firing,
            piece_id=item["piece"],
            layer_id=item.get("layer"),
            attempt=item.get("attempt", 0),
            number=item.get("number", 0),
            of_pass_id=item.get("pass"),
            x_mm=item.get("x", 0.0),
            y_mm=item.get("y", 0.0),
            is_turned=item.get("turned", False),
        )
        for item in items
    )


def _work(plan: Plan, row: Record) -> PlannedWork:
    return PlannedWork(
        studio=plan.studio,
        plan=plan,
        person_id=row["person"],
        piece_id=row["piece"],
        task=row["task"],
        layer_id=row.get("layer"),
        attempt=row.get("attempt") or 0,
        number=row.get("number") or 0,
        of_pass_id=row.get("pass"),
        segments=row["segments"],
        starts_at=datetime.fromisoformat(row["segments"][0][0]),
        ends_at=datetime.fromisoformat(row["segments"][-1][1]),
    )


def keep_confirmed_work(standing: Plan, plan: Plan) -> None:
    """Hand the work that confirmed firings wait for on to the newer plan."""
    confirmed = Confirmed(standing)
    for work in standing.planned_work.select_related("of_pass"):
        if confirmed.is_due(work):
            work.plan = plan
            work.save(update_fields=["plan"])
