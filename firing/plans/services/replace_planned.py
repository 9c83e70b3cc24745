"""Real work takes over what the standing plan has for it, and what the plan keeps for
nothing; no kiln is held twice for the same glass. Stopped work leaves the plan.

What gives way is set aside with a cancelled booking of its own, so that it can be put
back when the real booking is cancelled.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.db import transaction

from firing.kiln_time.selectors.access import closures_of
from firing.kiln_time.selectors.booking_loads import booking_name
from firing.kiln_time.selectors.possible import gives_way
from firing.kiln_time.services.bookings import book_kiln, cancel_booking
from firing.loads.selectors.firings import standing_items
from firing.loads.selectors.planned import (
    GRACE,
    pass_of,
    planned_firings,
    standing_plan,
)
from firing.locks import lock_all_kilns, lock_kiln
from firing.models import Booking, FiringKind, PlannedFiring, PlannedItem, PlannedWork
from firing.plans.selectors.places import (
    layers_by_piece,
    lost_subject,
    places_words,
)
from firing.plans.selectors.words import layer_words
from studio.models import Kiln, Pass, Person, Piece, Studio
from studio.services import history
from studio.viewer import Viewer

REASON = "A firing was made up for it"
STOPPED = "The work on it was stopped"
OTHER_WORK = "The kiln was needed for other work"
MADE_WITHOUT = "that firing was made up without {it}"
NOT_READY = "{it} could not be ready by then, and the kiln is booked for other work"


@dataclass(slots=True, kw_only=True)
class TakenOver:
    """What of the plan gave way: the booking to use, the rows, and who lost a place."""

    booking: Booking | None = None
    rows: list[int] = field(default_factory=list)
    lost: list[tuple[PlannedFiring, list[PlannedItem], str]] = field(
        default_factory=list
    )


def take_over(
    *,
    studio: Studio,
    kiln: Kiln,
    passes: Sequence[Pass] = (),
    piece: Piece | None = None,
    starts_at: datetime,
    ends_at: datetime,
    at: datetime,
) -> TakenOver:
    """Take these passes, or this piece's fuse, out of the standing plan.

    The planned booking in the same kiln that the firing overlaps is for the firing to
    use as its own; so is one for other layers that begins when this load does. Other
    planned firings keep what is left of their loads; those left empty are given back,
    and so is whatever provisional load in that span can no longer happen. Call
    `keep_way_back` once the booking is made.

    Parameters
    ----------
    starts_at, ends_at : datetime
        The span that the firing itself will hold.
    """
    found = TakenOver()
    plan = standing_plan(studio)
    if plan is None:
        return found
    items = _items(studio, passes, piece)
    taken = {item.pk for item in items}
    own = {item.firing_id for item in items}
    work = PlannedWork.owned.for_studio(studio).filter(plan=plan)
    if piece is not None:
        work.filter(piece=piece, task="assembly").delete()
    work.filter(of_pass__in=[one.pk for one in passes]).delete()
    rows = sorted(planned_firings(studio), key=lambda row: row.pk not in own)
    for row in rows:
        booking = row.booking
        is_own = row.pk in own
        is_there = (
            booking.kiln_id == kiln.pk
            and booking.starts_at < ends_at
            and starts_at < booking.ends_at
        )
        left = [item for item in row.items.all() if item.pk not in taken]
        is_for_then = (
            bool(passes)
            and row.kind == FiringKind.ENAMEL
            and booking.is_provisional
            and abs(booking.starts_at - starts_at) <= GRACE
        )
        if found.booking is None and is_there and (is_own or is_for_then):
            found.booking = booking
            _set_aside(found, row, at)
            _lose(found, row, left, MADE_WITHOUT)
        elif is_own and not left:
            _give_back(found, row, at, REASON)
        elif is_own and row.kind == FiringKind.ENAMEL:
            gone = [item for item in row.items.all() if item.pk in taken]
            _take_out(found, row, gone, at)
        elif is_there and gives_way(row, at):
            _give_back(found, row, at, OTHER_WORK)
            _lose(found, row, left, NOT_READY)
    return found


def keep_way_back(
    found: TakenOver, booking: Booking, *, by: Person | None, at: datetime
) -> None:
    """Record what a booking took over from the plan: whose place is lost, and how back.

    The history says it piece by piece, and so orders a look at the plan.
    """
    PlannedFiring.across_studios.filter(pk__in=found.rows).update(gave_way_to=booking)
    for row, items, why in found.lost:
        _note_lost(row, items, why, booking, by, at)


def make_way(
    booking: Booking,
    *,
    starts_at: datetime,
    ends_at: datetime,
    by: Person | None,
    at: datetime,
) -> None:
    """Have planned loads that cannot happen give way to a booking about to move."""
    found = take_over(
        studio=booking.studio,
        kiln=booking.kiln,
        starts_at=starts_at,
        ends_at=ends_at,
        at=at,
    )
    keep_way_back(found, booking, by=by, at=at)


@transaction.atomic
def book_over_plan(
    *,
    studio: Studio,
    kiln: Kiln,
    starts_at: datetime,
    ends_at: datetime,
    by: Person | None,
    at: datetime,
    **more: Any,
) -> Booking:
    """Book a kiln for other work; planned loads that cannot happen give way to it.

    Raises
    ------
    KilnTaken, Refused
        As `book_kiln` does.
    """
    lock_kiln(kiln)
    found = take_over(
        studio=studio, kiln=kiln, starts_at=starts_at, ends_at=ends_at, at=at
    )
    booking = book_kiln(
        studio=studio,
        kiln=kiln,
        starts_at=starts_at,
        ends_at=ends_at,
        by=by,
        at=at,
        **more,
    )
    keep_way_back(found, booking, by=by, at=at)
    return booking


def take_out(*, studio: Studio, pieces: Sequence[Piece], at: datetime) -> None:
    """Take stopped pieces out of the standing plan; what is left empty is given back.

    The caller holds every kiln.
    """
    found = PlannedItem.owned.for_studio(studio).filter(piece__in=pieces)
    touched = set(found.values_list("firing_id", flat=True))
    found.delete()
    PlannedWork.owned.for_studio(studio).filter(piece__in=pieces).delete()
    for row in planned_firings(studio).filter(pk__in=touched):
        left, booking = len(row.items.all()), row.booking
        if not left:
            booking.cancelled_at, booking.cancelled_reason = at, STOPPED
            booking.save(update_fields=["cancelled_at", "cancelled_reason"])
            row.delete()
        elif row.kind == FiringKind.ENAMEL:
            _name_anew(booking)


def _items(
    studio: Studio, passes: Sequence[Pass], piece: Piece | None
) -> list[PlannedItem]:
    """Return what the plan has for these passes or this stack."""
    found = PlannedItem.owned.for_studio(studio).filter(
        firing__in=planned_firings(studio).values("pk")
    )
    if piece is not None:
        return list(found.filter(piece=piece).exclude(firing__kind=FiringKind.ENAMEL))
    layers = {one.sheet.layer_id for one in passes}
    return [
        item
        for item in found.filter(layer__in=layers)
        if any(item.is_of(one) for one in passes)
    ]


def _set_aside(found: TakenOver, row: PlannedFiring, at: datetime) -> None:
    """Move a row to a cancelled copy of its booking; the booking is for real work."""
    row.booking = _cancelled_copy(row.booking, at)
    row.save(update_fields=["booking"])
    found.rows.append(row.pk)


def _give_back(found: TakenOver, row: PlannedFiring, at: datetime, reason: str) -> None:
    booking = row.booking
    booking.cancelled_at, booking.cancelled_reason = at, reason
    booking.save(update_fields=["cancelled_at", "cancelled_reason"])
    found.rows.append(row.pk)


def _take_out(
    found: TakenOver,
    row: PlannedFiring,
    gone: Sequence[PlannedItem],
    at: datetime,
) -> None:
    """Take a part out of a planned load; the rest stays."""
    part = PlannedFiring.across_studios.create(
        studio=row.studio,
        plan_id=row.plan_id,
        booking=_cancelled_copy(row.booking, at),
        kind=row.kind,
        unload_at=row.unload_at,
    )
    PlannedItem.across_studios.filter(pk__in=[one.pk for one in gone]).update(
        firing=part
    )
    _name_anew(row.booking)
    found.rows.append(part.pk)


def _name_anew(booking: Booking) -> None:
    booking.title = booking_name(booking)
    booking.save(update_fields=["title"])


def _cancelled_copy(booking: Booking, at: datetime) -> Booking:
    copy: Booking = Booking.across_studios.create(
        studio=booking.studio,
        kiln=booking.kiln,
        kind=booking.kind,
        title=booking.title,
        starts_at=booking.starts_at,
        ends_at=booking.ends_at,
        is_provisional=booking.is_provisional,
        planned_curve=booking.planned_curve,
        booked_at=booking.booked_at,
        booked_by=booking.booked_by,
        cancelled_at=at,
        cancelled_reason=REASON,
    )
    return copy


def _lose(
    found: TakenOver, row: PlannedFiring, items: list[PlannedItem], why: str
) -> None:
    if items:
        found.lost.append((row, items, why))


def _note_lost(
    row: PlannedFiring,
    items: Sequence[PlannedItem],
    why: str,
    booking: Booking,
    by: Person | None,
    at: datetime,
) -> None:
    """Record whose layers, or which stack, lose their place with a planned firing."""
    kept = row.booking
    when = Viewer.of_studio(row.studio).moment(kept.starts_at, at)
    if row.kind == FiringKind.ENAMEL:
        told = layers_by_piece(items)
    else:
        told = {item.piece: [] for item in items}
    for piece, numbers in told.items():
        words = layer_words(numbers) if numbers else "the stack"
        many = len(numbers) > 1
        lose, it = ("lose their", "they") if many else ("loses its", "it")
        if why == MADE_WITHOUT:
            it = "them" if many else "it"
        history.record(
            studio=row.studio,
            by=by,
            at=at,
            what=f"{words[:1].upper()}{words[1:]} {lose} planned place in "
            f"{kept.kiln}, {when}: {why.format(it=it)}",
            piece=piece,
            subject=lost_subject(booking),
        )


# --- the way back --------------------------------------------------------------------


@transaction.atomic
def cancel_and_put_back(
    *, booking: Booking, reason: str, by: Person | None, at: datetime
) -> list[str]:
    """Cancel kiln time, and put back into the plan what gave way to it.

    That happens while the same plan stands, where the kiln is still free, and for what
    is not in another load by now. Returns what was put back, one sentence each.

    Raises
    ------
    Refused
        As `cancel_booking` does.
    """
    lock_all_kilns(booking.studio)
    cancel_booking(booking=booking, reason=reason, by=by, at=at)
    return put_back(booking, by=by, at=at)


def put_back(booking: Booking, *, by: Person | None, at: datetime) -> list[str]:
    """Put back what gave way to a booking and is no longer in its way; say what."""
    plan = standing_plan(booking.studio)
    rows = PlannedFiring.across_studios.filter(gave_way_to=booking, plan=plan)
    rows = rows.select_related("booking__kiln", "studio").order_by("pk")
    told = [_put_back(row, by, at) for row in rows] if plan is not None else []
    return [words for words in told if words]


def _put_back(row: PlannedFiring, by: Person | None, at: datetime) -> str:
    kept = row.booking
    items = [item for item in row.items.select_related("of_pass") if _waits(item)]
    if not items or kept.starts_at <= at - GRACE:
        return ""
    there = Booking.across_studios.overlapping(
        kept.kiln_id, kept.starts_at, kept.ends_at
    )
    twin = (
        planned_firings(row.studio)
        .filter(
            kind=row.kind,
            booking__in=there.values("pk"),
            booking__starts_at=kept.starts_at,
        )
        .first()
    )
    if twin is not None:
        keys = [item.pk for item in items]
        PlannedItem.across_studios.filter(pk__in=keys).update(firing=twin)
        _name_anew(twin.booking)
        row.delete()
    elif (
        there.exists() or closures_of(kept.kiln, kept.starts_at, kept.ends_at).exists()
    ):
        return ""
    else:
        row.items.exclude(pk__in=[item.pk for item in items]).delete()
        kept.cancelled_at, kept.cancelled_reason = None, ""
        kept.save(update_fields=["cancelled_at", "cancelled_reason"])
        row.gave_way_to = None
        row.save(update_fields=["gave_way_to"])
    when = Viewer.of_studio(row.studio).moment(kept.starts_at, at)
    what = places_words(items) or str(items[0].piece)
    told = f"Planned in {kept.kiln}, {when}, again: {what}"
    history.record(
        studio=row.studio, by=by, at=at, what=told, subject=f"booking {kept.pk}"
    )
    return f"{told}."


def _waits(item: PlannedItem) -> bool:
    """Return whether a planned pass or stack is neither fired nor in another load."""
    loaded = standing_items(item.studio).filter(firing__finished_at__isnull=True)
    one = pass_of(item)
    if one is not None:
        return not (one.outcome or loaded.filter(of_pass=one).exists())
    return item.layer_id is not None or not loaded.filter(piece=item.piece).exists()
