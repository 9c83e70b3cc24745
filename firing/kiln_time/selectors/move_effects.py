"""What moving a booking does to the later firings and work of its pieces."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q

from firing.kiln_time.selectors.at_risk import promise_words, ready_at
from firing.kiln_time.selectors.booking_loads import EMPTY, BookingLoad, booking_loads
from firing.kiln_time.selectors.bookings import bookings
from firing.kiln_time.selectors.unloading import Unloading
from firing.models import Booking, PlannedWork
from firing.schedules.selectors.fits import kilns
from firing.schedules.selectors.fuse_anneal import hours_rule
from studio.models import Piece
from studio.selectors.due_dates import due_dates
from studio.selectors.pieces import pieces, view_pieces
from studio.viewer import Viewer

WORTH_SAYING_S = 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Moved:
    """A booking with its load and the span for which it would hold its kiln."""

    booking: Booking
    load: BookingLoad
    starts_at: datetime
    free_at: datetime


def effects(
    booking: Booking,
    load: BookingLoad,
    *,
    starts_at: datetime,
    free_at: datetime,
    unloading: Unloading,
    viewer: Viewer,
    now: datetime,
) -> tuple[str, ...]:
    """Return a sentence for everything that a move changes for its pieces."""
    if not load.things:
        return ()
    moved = _Moved(booking=booking, load=load, starts_at=starts_at, free_at=free_at)
    others = _of_pieces(viewer, now, booking, load.pieces)
    loads = dict(booking_loads(viewer.studio, others))
    told = [*_later(moved, unloading, viewer, now)]
    told += _out_of_order(moved, others, loads, unloading, viewer, now)
    told += _not_done(moved, viewer, now)
    told += _promises(moved, others, loads, unloading, viewer, now)
    return tuple(told)


def _of_pieces(
    viewer: Viewer, now: datetime, own: Booking, found: Sequence[Piece]
) -> list[Booking]:
    """Return the other bookings of these pieces, still to come or running."""
    is_inside = Q(firing__started_at__isnull=False, firing__finished_at__isnull=True)
    of_them = (
        Q(firing__items__piece__in=found)
        | Q(firing__items__of_pass__sheet__layer__piece__in=found)
        | Q(planned_firing__items__piece__in=found)
    )
    return list(
        bookings(viewer.studio)
        .select_related("planned_firing")
        .filter(of_them, Q(ends_at__gt=now) | is_inside, cancelled_at__isnull=True)
        .exclude(pk=own.pk)
        .distinct()
    )


def _later(
    moved: _Moved, unloading: Unloading, viewer: Viewer, now: datetime
) -> Iterator[str]:
    """Say when it is unloaded, and how much later or sooner than now."""
    before = unloading.free_at(moved.booking)
    shift_s = (moved.free_at - before).total_seconds()
    if abs(shift_s) < WORTH_SAYING_S:
        return
    far = viewer.duration(round(abs(shift_s) / 3600) * 3600)
    which = "later" if shift_s > 0 else "sooner"
    out = viewer.moment(moved.free_at, now)
    if any(thing.is_stack for thing in moved.load.things):
        yield f"The kiln is empty again by {out}, {far} {which} than now."
    else:
        titles = _and([one.title for one in moved.load.pieces])
        yield (
            f"Its layers of {titles} are out by {out}, {far} {which} than now; their next "
            "pass or the fuse waits for that."
        )


def _out_of_order(
    moved: _Moved,
    others: Sequence[Booking],
    loads: Mapping[int, BookingLoad],
    unloading: Unloading,
    viewer: Viewer,
    now: datetime,
) -> Iterator[str]:
    """Name what would come before something it depends on."""

    def when(at: datetime) -> str:
        return viewer.moment(at, now)

    for other in others:
        load = loads.get(other.pk, EMPTY)
        free = unloading.free_at(other)
        for title in _fused_by(load, moved.load):
            if other.starts_at < moved.free_at:
                yield (
                    f"The fuse of {title} is booked for {when(other.starts_at)}, before "
                    "these layers are burnt on. Move it as well."
                )
        for title in _fused_by(moved.load, load):
            if moved.starts_at < free:
                yield (
                    f"Layers of {title} are burnt on in “{load.name}” only by "
                    f"{when(free)}; its fuse would begin before that."
                )
        later = _later_passes(moved.load, load)
        if later and other.starts_at < moved.free_at:
            yield (
                f"{_layers(later)} lie in “{load.name}” for their next pass "
                f"{when(other.starts_at)}, before this one is out. Move that as well."
            )
        earlier = _later_passes(load, moved.load)
        if earlier and moved.starts_at < free:
            yield (
                f"{_layers(earlier)} are out of “{load.name}” only by {when(free)}; this "
                "pass would begin before that."
            )


def _fused_by(stack: BookingLoad, sheets: BookingLoad) -> list[str]:
    """Return the titles of pieces with their stack in one load, sheets in the other."""
    fused = {thing.piece.pk for thing in stack.things if thing.is_stack}
    found = {
        thing.piece.pk: thing.piece.title
        for thing in sheets.things
        if not thing.is_stack and thing.piece.pk in fused
    }
    return list(found.values())


def _later_passes(first: BookingLoad, second: BookingLoad) -> list[int]:
    """Return the layers with a later pass in the second load than in the first."""
    number_of = {
        thing.layer_pk: thing.pass_number for thing in first.things if thing.layer_pk
    }
    return sorted(
        {
            thing.layer_number
            for thing in second.things
            if thing.layer_pk in number_of
            and thing.pass_number > number_of[thing.layer_pk]
        }
    )


def _not_done(moved: _Moved, viewer: Viewer, now: datetime) -> Iterator[str]:
    """Name planned work by hand that ends only after the new start."""
    wanted = moved.load.layer_passes
    stacked = {t.piece.pk for t in moved.load.things if t.is_stack}
    rows = (
        PlannedWork.owned.for_studio(viewer.studio)
        .filter(
            piece__in=moved.load.pieces,
            ends_at__gt=moved.starts_at,
            starts_at__lt=moved.free_at,
        )
        .select_related("person", "piece", "layer")
        .order_by("ends_at", "pk")
    )
    for row in rows:
        until = viewer.moment(row.ends_at, now)
        if row.layer is not None and (row.layer_id, row.number) in wanted:
            yield (
                f"Layer {row.layer.number} of {row.piece} is {row.person}'s work until "
                f"{until}: it would not be ready."
            )
        elif (
            row.layer_id is None and row.piece_id in stacked and row.task != "coldwork"
        ):
            yield (
                f"{row.person} works on the stack of {row.piece} until {until}: it would "
                "not be ready."
            )


def _promises(
    moved: _Moved,
    others: Sequence[Booking],
    loads: Mapping[int, BookingLoad],
    unloading: Unloading,
    viewer: Viewer,
    now: datetime,
) -> Iterator[str]:
    due = due_dates(viewer.studio)
    keys = [one.pk for one in moved.load.pieces if one.pk in due]
    if not keys:
        return
    every = {**loads, moved.booking.pk: moved.load}
    in_use, rule = list(kilns(viewer.studio)), hours_rule(viewer.studio)
    for view in view_pieces(pieces(viewer.studio).filter(pk__in=keys)):
        piece = view.piece
        booked = [
            moved.booking,
            *(b for b in others if piece.pk in {p.pk for p in every[b.pk].pieces}),
        ]
        ready = ready_at(
            view,
            booked=booked,
            loads=every,
            kilns=in_use,
            rule=rule,
            unloading=unloading,
            viewer=viewer,
            now=now,
            moved={moved.booking.pk: moved.free_at},
        )
        yield promise_words(piece.title, due[piece.pk], ready, viewer)[1]


def _layers(numbers: Sequence[int]) -> str:
    if len(numbers) == 1:
        return f"Layer {numbers[0]}"
    return f"Layers {_and([str(n) for n in numbers])}"


def _and(words: Sequence[str]) -> str:
    *first, last = words
    return f"{', '.join(first)} and {last}" if first else last
