"""What the standing plan has planned: its rows, and which of them may still move.

A planned firing with a provisional booking may move. Once the booking is confirmed, it
is as fixed as any other, and so is the work that must be done before it. So is a load
that is ready and whose time has come: somebody is laying it out.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Prefetch, Q

from firing.models import FiringKind, Plan, PlannedFiring, PlannedItem, PlannedWork
from firing.models import PlanState as State
from firing.planning.problem import practice
from firing.schedules.selectors.stacks import allowed_kinds
from studio.models import Kiln, Pass, Piece, Studio
from studio.selectors.pieces import fresh
from studio.tenancy import StudioQuerySet

# A planned load that begins within this time is as good as on time, and its place is
# kept for it; after that it is missed.
GRACE = timedelta(seconds=practice.START_LATE_S)


@dataclass(frozen=True, slots=True)
class PassRef:
    """A pass by its layer, sheet and number; it has a key once its sheet is cut."""

    layer: int
    attempt: int
    number: int
    of_pass: int | None = None


def standing_plan(studio: Studio) -> Plan | None:
    """Return the plan that was accepted last and still stands, if any."""
    found: Plan | None = (
        Plan.owned.for_studio(studio)
        .filter(state=State.ACCEPTED)
        .select_related("closed_by", "asked_by", "job")
        .defer("facts")
        .first()
    )
    return found


def planned_firings(studio: Studio) -> StudioQuerySet[PlannedFiring]:
    """Return the planned firings with bookings that stand, by time, with their loads."""
    items = PlannedItem.across_studios.select_related(
        "piece", "layer", "of_pass__sheet"
    )
    return (
        PlannedFiring.owned.for_studio(studio)
        .filter(booking__cancelled_at__isnull=True, plan__state=State.ACCEPTED)
        .select_related("booking__kiln", "booking__firing")
        .prefetch_related(Prefetch("items", queryset=items))
        .order_by("booking__starts_at", "pk")
    )


def unready_items(row: PlannedFiring) -> list[PlannedItem]:
    """Return what of a planned load cannot go into the kiln as it is now."""
    return [item for item in row.items.all() if not _is_ready(item, row)]


def _is_ready(item: PlannedItem, row: PlannedFiring) -> bool:
    if row.kind != FiringKind.ENAMEL:
        return row.kind in allowed_kinds(fresh(item.piece))
    one = pass_of(item)
    return (
        one is not None
        and one.painted_at is not None
        and not one.outcome
        and one.sheet.set_aside_at is None
    )


def pass_of(item: PlannedItem) -> Pass | None:
    """Return the pass that a planned item is; none until its sheet is cut."""
    if item.of_pass is not None or item.layer_id is None:
        return item.of_pass
    named = Pass.owned.for_studio(item.studio).filter(
        sheet__layer=item.layer_id, sheet__attempt=item.attempt, number=item.number
    )
    found: Pass | None = named.select_related("sheet").first()
    return found


def due_loads(studio: Studio, now: datetime) -> list[int]:
    """Return the keys of provisional loads that are ready and whose time has come."""
    begun = planned_firings(studio).filter(
        booking__is_provisional=True,
        booking__starts_at__gt=now - GRACE,
        booking__starts_at__lte=now,
    )
    return [row.pk for row in begun if not unready_items(row)]


def movable_firings(studio: Studio, now: datetime) -> StudioQuerySet[PlannedFiring]:
    """Return the planned firings that another plan may move."""
    provisional = planned_firings(studio).filter(booking__is_provisional=True)
    return provisional.exclude(pk__in=due_loads(studio, now))


def planned_work(studio: Studio) -> StudioQuerySet[PlannedWork]:
    """Return the work in the standing plan, by time."""
    return (
        PlannedWork.owned.for_studio(studio)
        .filter(plan__state=State.ACCEPTED)
        .select_related("layer", "of_pass")
        .prefetch_related("person", "piece")
        .order_by("starts_at", "pk")
    )


def planned_load(
    studio: Studio, passes: Iterable[Pass], *, kiln: Kiln | None, after: datetime
) -> PlannedFiring | None:
    """Return the next planned enamel firing for any of these passes, if not missed."""
    wanted = list(passes)
    layers = {one.sheet.layer_id for one in wanted}
    found = planned_firings(studio).filter(
        pk__in=PlannedItem.owned.for_studio(studio)
        .filter(layer__in=layers)
        .values("firing"),
        kind=FiringKind.ENAMEL,
        booking__starts_at__gt=after - GRACE,
    )
    if kiln is not None:
        found = found.filter(booking__kiln=kiln)
    for row in found:
        if any(item.is_of(one) for item in row.items.all() for one in wanted):
            one: PlannedFiring = row
            return one
    return None


def planned_stack(piece: Piece, *, after: datetime) -> PlannedFiring | None:
    """Return a piece's planned fuse or re-anneal that is not missed."""
    found: PlannedFiring | None = (
        planned_firings(piece.studio)
        .filter(items__piece=piece, booking__starts_at__gt=after - GRACE)
        .exclude(kind=FiringKind.ENAMEL)
        .first()
    )
    return found


class Confirmed:
    """What fixed planned firings hold, until when, and the work that is due first.

    Fixed are the confirmed ones, and loads that are ready and whose time has come.

    Attributes
    ----------
    pass_until, ref_until, stack_until : dict
        Booking by pass, by layer, sheet and number, and by piece.
    booked : dict
        Assigned work by person, as [from, until].
    artist_of : dict
        Who the standing plan has paint and stack each piece.
    """

    def __init__(self, plan: Plan | None, now: datetime) -> None:
        self.pass_until: dict[int, int] = {}
        self.ref_until: dict[tuple[int, int, int], int] = {}
        self.stack_until: dict[int, int] = {}
        self.booked: dict[int, list[tuple[datetime, datetime]]] = defaultdict(list)
        self.artist_of: dict[int, int] = {}
        if plan is None:
            return
        confirmed = PlannedFiring.owned.for_studio(plan.studio).filter(
            Q(booking__is_provisional=False) | Q(pk__in=due_loads(plan.studio, now)),
            booking__cancelled_at__isnull=True,
        )
        for firing in confirmed.prefetch_related("items").order_by("pk"):
            for item in firing.items.all():
                if firing.kind != FiringKind.ENAMEL:
                    self.stack_until[item.piece_id] = firing.booking_id
                elif item.of_pass_id is not None:
                    self.pass_until[item.of_pass_id] = firing.booking_id
                elif item.layer_id is not None:
                    key = (item.layer_id, item.attempt, item.number)
                    self.ref_until[key] = firing.booking_id
        for work in plan.planned_work.select_related("of_pass"):
            if work.task != "coldwork":
                self.artist_of[work.piece_id] = work.person_id
            if self.is_due(work):
                self.booked[work.person_id] += [
                    (datetime.fromisoformat(a), datetime.fromisoformat(b))
                    for a, b in work.segments
                ]

    def booking_of(self, ref: PassRef) -> int | None:
        """Return the confirmed booking that will fire a pass, if any."""
        if ref.of_pass is not None and ref.of_pass in self.pass_until:
            return self.pass_until[ref.of_pass]
        return self.ref_until.get((ref.layer, ref.attempt, ref.number))

    def is_due(self, work: PlannedWork) -> bool:
        """Return whether work is still to be done before a confirmed firing."""
        if work.task == "assembly":
            return work.piece_id in self.stack_until
        if work.task != "paint" or work.layer_id is None:
            return False
        if work.of_pass is not None and work.of_pass.painted_at is not None:
            return False
        ref = PassRef(work.layer_id, work.attempt, work.number, work.of_pass_id)
        return self.booking_of(ref) is not None
