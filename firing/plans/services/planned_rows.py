"""Writes an accepted plan as rows: bookings, planned firings, loads and who does what."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q

from firing.kiln_time.services.bookings import book_all
from firing.loads.selectors.names import firing_name
from firing.loads.selectors.planned import Confirmed, due_loads
from firing.models import (
    Booking,
    BookingKind,
    FiringKind,
    Plan,
    PlannedFiring,
    PlannedItem,
    PlannedWork,
)
from firing.physics.schedule import PhysicsProblem
from firing.plans.selectors.record import Record
from firing.schedules.selectors.fuse_anneal import hours_rule
from firing.schedules.selectors.programmes import (
    curve_points,
    propose_enamel,
    propose_stack,
)
from studio.models import Kiln, Layer, Person, Studio
from studio.selectors.pieces import PieceView, pieces, view_pieces

Span = tuple[int, str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadyFiring:
    """A firing of a record with its booking's title and curve."""

    row: Record
    kiln: Kiln
    title: str
    curve: list[list[float]]


def prepare(studio: Studio, record: Record) -> tuple[ReadyFiring, ...]:
    """Return a record's firings by time, with titles and curves, without any lock.

    Computing curves takes time, so it is done before the kilns are locked.
    """
    kilns = {kiln.pk: kiln for kiln in Kiln.owned.for_studio(studio)}
    loads = _Loads(studio, record)
    rows = [*record["firings"], *record["fuses"]]
    return tuple(
        ReadyFiring(
            row=row,
            kiln=kilns[row["kiln"]],
            title=loads.name(row),
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
    """Book a plan's firings, and write its loads and work.

    Bookings of the earlier plan stay where the new one wants the same; the others are
    given back first. All kilns are locked meanwhile, so the number of queries does not
    grow with the plan.

    Raises
    ------
    KilnTaken
        When something else stands or is closed there.
    """
    studio = plan.studio
    standing = _give_back(studio, plan, {_span(ready.row) for ready in firings}, at)
    bookings = [
        standing.get(_span(ready.row)) or _booking(studio, ready, by, at)
        for ready in firings
    ]
    for ready, booking in zip(firings, bookings, strict=True):
        booking.title, booking.planned_curve = ready.title, ready.curve
    Booking.across_studios.bulk_update(standing.values(), ["title", "planned_curve"])
    book_all(
        studio=studio, bookings=[one for one in bookings if one._state.adding], at=at
    )
    planned = PlannedFiring.across_studios.bulk_create(
        PlannedFiring(
            studio=studio,
            plan=plan,
            booking=booking,
            kind=FiringKind(ready.row["kind"]),
            unload_at=datetime.fromisoformat(ready.row["opens_at"]),
        )
        for ready, booking in zip(firings, bookings, strict=True)
    )
    PlannedItem.across_studios.bulk_create(
        _item(firing, item)
        for firing, ready in zip(planned, firings, strict=True)
        for item in ready.row.get("items") or [{"piece": ready.row["piece"]}]
    )
    PlannedWork.across_studios.bulk_create(
        [_work(plan, row) for row in work if row["segments"]]
    )


def _booking(
    studio: Studio, ready: ReadyFiring, by: Person | None, at: datetime
) -> Booking:
    return Booking(
        studio=studio,
        kiln=ready.kiln,
        kind=BookingKind.FIRING,
        starts_at=datetime.fromisoformat(ready.row["starts_at"]),
        ends_at=datetime.fromisoformat(ready.row["ends_at"]),
        is_provisional=True,
        booked_at=at,
        booked_by=by,
    )


def _span(row: Record) -> Span:
    return row["kiln"], row["starts_at"], row["ends_at"]


def _give_back(
    studio: Studio, plan: Plan, wanted: set[Span], at: datetime
) -> dict[Span, Booking]:
    """Cancel the provisional bookings of older plans except those still wanted."""
    old = PlannedFiring.owned.for_studio(studio).filter(
        booking__is_provisional=True, booking__cancelled_at__isnull=True
    )
    # What the plan took on already may not move.
    rows = list(old.exclude(plan=plan).select_related("booking"))
    PlannedFiring.across_studios.filter(pk__in=[row.pk for row in rows]).delete()
    # What gave way under an older plan has no way back under this one.
    given_way = PlannedFiring.owned.for_studio(studio).exclude(gave_way_to=None)
    given_way.exclude(plan=plan).delete()
    found, given_back = {}, []
    for booking in (row.booking for row in rows):
        span = (
            booking.kiln_id,
            booking.starts_at.isoformat(),
            booking.ends_at.isoformat(),
        )
        if span in wanted:
            found[span] = booking
        else:
            given_back.append(booking.pk)
    Booking.across_studios.filter(pk__in=given_back).update(
        cancelled_at=at, cancelled_reason=f"Plan {plan.number} has it otherwise"
    )
    return found


class _Loads:
    """The loads of firings, read once: names and planned curves."""

    def __init__(self, studio: Studio, record: Record) -> None:
        self.rule = hours_rule(studio)
        stacks = [row["piece"] for row in record["fuses"]]
        self.views: dict[int, PieceView] = {
            one.piece.pk: one
            for one in view_pieces(pieces(studio).filter(pk__in=stacks))
        }
        self.layers: dict[int, Layer] = {
            one.pk: one
            for one in Layer.owned.for_studio(studio).select_related("glass", "piece")
        }
        self.curves: dict[tuple[int, int], list[list[float]]] = {}

    def name(self, row: Record) -> str:
        if row["kind"] != FiringKind.ENAMEL:
            return firing_name(
                row["kind"], stacks=[self.views[row["piece"]].piece.title]
            )
        layers = [self.layers[item["layer"]] for item in row["items"]]
        return firing_name(
            row["kind"], layers=[(one.piece.title, one.number) for one in layers]
        )

    def curve(self, row: Record, kiln: Kiln) -> list[list[float]]:
        """Return the planned curve; none where the kiln can no longer follow it."""
        try:
            if row["kind"] == FiringKind.ENAMEL:
                glasses = {self.layers[item["layer"]].glass for item in row["items"]}
                glass = max(glasses, key=lambda g: (g.enamel_c, -g.pk))
                key: tuple[int, int] = (kiln.pk, glass.pk)
                if key not in self.curves:
                    found = propose_enamel(glass=glass, kiln=kiln)
                    self.curves[key] = curve_points(found.run, load_s=found.load_s)
                return self.curves[key]
            view = self.views[row["piece"]]
            found = propose_stack(
                kind=row["kind"],
                rule=self.rule,
                thickness_mm=view.height_mm,
                glass=view.piece.glass,
                kiln=kiln,
            )
            return curve_points(found.run, load_s=found.load_s)
        except PhysicsProblem:
            return []


def _item(firing: PlannedFiring, item: Record) -> PlannedItem:
    return PlannedItem(
        studio=firing.studio,
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


def keep_fixed(standing: Plan, plan: Plan, *, at: datetime) -> None:
    """Hand firings that may not move, and the work before them, on to a newer plan."""
    confirmed = Confirmed(standing, at)
    PlannedFiring.across_studios.filter(
        Q(booking__is_provisional=False) | Q(pk__in=due_loads(plan.studio, at)),
        plan=standing,
    ).update(plan=plan)
    work = standing.planned_work.select_related("of_pass")
    due = [one.pk for one in work if confirmed.is_due(one)]
    PlannedWork.across_studios.filter(pk__in=due).update(plan=plan)
