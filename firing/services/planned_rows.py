"""Writes a taken plan as rows: bookings, planned firings, what goes in, who does what."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

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
from firing.selectors.firings import firing_title
from firing.selectors.plan_record import Record
from firing.selectors.planned import Confirmed
from firing.selectors.programmes import (
    curve_points,
    propose_enamel,
    propose_stack,
)
from firing.services.bookings import kiln_time_guarded, refuse_closed
from studio.models import Kiln, Layer, Person, Studio
from studio.selectors.pieces import PieceView, pieces, view_piece

Span = tuple[int, str, str]


def write(plan: Plan, record: Record, *, by: Person | None, at: datetime) -> None:
    """Book what a plan has fired, and write down its loads and work.

    Bookings of the plan before it stay where the new one wants the same; the others
    are given back first.

    Raises
    ------
    KilnTaken
        When something else stands or is closed there.
    """
    studio = plan.studio
    rows = [*record["firings"], *record["fuses"]]
    standing = _give_back(studio, plan, {_span(row) for row in rows}, at)
    kilns = {kiln.pk: kiln for kiln in Kiln.owned.for_studio(studio)}
    loads = _Loads(studio)
    for row in sorted(rows, key=lambda row: (row["starts_at"], row["kiln"])):
        kiln = kilns[row["kiln"]]
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
        booking.title = firing_title(row["kind"], loads.words(row))
        booking.planned_curve = loads.curve(row, kiln)
        if booking.pk is None:
            refuse_closed(kiln, booking.starts_at, booking.ends_at, at)
        with kiln_time_guarded(kiln, booking.starts_at, booking.ends_at, at):
            booking.save()
        _planned(plan, booking, row)
    PlannedWork.across_studios.bulk_create(
        [_work(plan, row) for row in record["work"] if row["segments"]]
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
        count = len(row["items"])
        return f"{count} layer" + ("s" if count > 1 else "")

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


def with_what_comes_before(
    rows: Sequence[PlannedFiring], wanted: set[int]
) -> list[PlannedFiring]:
    """Return the wanted planned firings and those that must come before them."""
    chosen = [row for row in rows if row.pk in wanted]
    seen = {row.pk for row in chosen}
    for row in chosen:
        for other in rows:
            if other.pk not in seen and _comes_before(other, row):
                seen.add(other.pk)
                chosen.append(other)
    return sorted(chosen, key=lambda row: (row.booking.starts_at, row.pk))


def _comes_before(other: PlannedFiring, row: PlannedFiring) -> bool:
    """Say whether a planned firing burns what another one needs burnt."""
    if other.kind != FiringKind.ENAMEL:
        return False
    if other.booking.ends_at > row.booking.starts_at:
        return False
    if row.kind != FiringKind.ENAMEL:
        wanted = {item.piece_id for item in row.items.all()}
        return any(item.piece_id in wanted for item in other.items.all())
    wanted_layers = {item.layer_id for item in row.items.all()}
    return any(item.layer_id in wanted_layers for item in other.items.all())
