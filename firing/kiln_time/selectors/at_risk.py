"""What is late or at risk: promised dates against what is booked and still to do,
firings waiting to be started, and kilns that will not be free for the next booking.

What is left is a lower bound, not a plan: it knows no hours of people and no queue.
"""

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence, Set
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import pairwise

from firing.kiln_time.selectors.booking_loads import EMPTY, BookingLoad, is_started
from firing.kiln_time.selectors.ruled_out import ruled_out
from firing.kiln_time.selectors.standing import StandingTime
from firing.kiln_time.selectors.unloading import Unloading
from firing.models import Booking, BookingKind, FiringKind
from firing.physics.schedule import PhysicsProblem
from firing.planning.problem import practice
from firing.schedules.selectors.fits import kilns, stack_problems
from firing.schedules.selectors.fuse_anneal import hours_rule
from firing.schedules.selectors.programmes import propose_enamel, propose_stack
from firing.schedules.selectors.stacks import allowed_kinds
from studio.models import Kiln, Piece
from studio.selectors.due_dates import due_dates
from studio.selectors.pieces import LayerView, PieceView, pieces_in_work, view_pieces
from studio.stages import Stage
from studio.viewer import Viewer

LATE, AT_RISK = "late", "at risk"


@dataclass(frozen=True, slots=True, kw_only=True)
class Risk:
    """Something that is or may be late, in words, and the bookings it is about.

    `kilns` are those of the bookings; a piece with nothing booked has none. `booking` is
    the one to move or cancel, if that is what to do.
    """

    flag: str
    words: str
    piece: Piece | None = None
    bookings: tuple[int, ...] = ()
    kilns: frozenset[int] = frozenset()
    booking: Booking | None = None

    @property
    def is_late(self) -> bool:
        return self.flag == LATE


def risks(
    viewer: Viewer,
    now: datetime,
    *,
    about: Callable[[Booking], bool] | None = None,
    standing: StandingTime | None = None,
) -> tuple[Risk, ...]:
    """Return what is late in a studio, then what is at risk.

    `about` chooses the bookings that are asked for: promises of pieces in no such
    booking are then not worked out. Pass in what stands in the kilns if it is read.
    """
    standing = standing or StandingTime(viewer.studio, now)
    bookings, unloading = standing.bookings, standing.unloading
    asked = None if about is None else {one.pk for one in bookings if about(one)}
    found = [
        *_promises(viewer, now, standing, asked),
        *_not_started(bookings, viewer, now),
        *_not_free(bookings, unloading, viewer, now),
        *_ruled_out(bookings, unloading, viewer, now),
    ]
    if asked is not None:
        found = [one for one in found if asked.intersection(one.bookings)]
    return tuple(sorted(found, key=lambda risk: not risk.is_late))


def _promises(
    viewer: Viewer,
    now: datetime,
    standing: StandingTime,
    asked: Set[int] | None,
) -> list[Risk]:
    due, loads = due_dates(viewer.studio), standing.loads
    if asked is not None:
        inside = (loads.get(pk, EMPTY) for pk in asked)
        concerned = {piece.pk for load in inside for piece in load.pieces}
        due = {pk: day for pk, day in due.items() if pk in concerned}
    if not due:
        return []
    of_piece: dict[int, list[Booking]] = defaultdict(list)
    for booking in standing.bookings:
        for piece in loads.get(booking.pk, EMPTY).pieces:
            of_piece[piece.pk].append(booking)
    in_work = pieces_in_work(viewer.studio).filter(pk__in=due)
    # A piece whose fuse is booked needs no look at its layers.
    booked_whole = [pk for pk in due if _has_fuse(of_piece[pk], loads)]
    views = {v.piece.pk: v for v in view_pieces(in_work.exclude(pk__in=booked_whole))}
    in_use, rule = list(kilns(viewer.studio)), hours_rule(viewer.studio)
    found = []
    for piece in in_work:
        booked = of_piece[piece.pk]
        if piece.pk in views:
            ready = ready_at(
                views[piece.pk],
                booked=booked,
                loads=loads,
                kilns=in_use,
                rule=rule,
                unloading=standing.unloading,
                viewer=viewer,
                now=now,
            )
        else:
            ready = Ready(at=max([now, *map(standing.unloading.free_at, booked)]))
        risk = _promise(piece, due[piece.pk], ready, booked, viewer)
        if risk is not None:
            found.append(risk)
    return found


def _has_fuse(booked: Sequence[Booking], loads: Mapping[int, BookingLoad]) -> bool:
    inside = (loads.get(b.pk, EMPTY) for b in booked)
    return any(thing.is_stack for load in inside for thing in load.things)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ready:
    """The earliest a piece can be out of its last firing, and what is not booked.

    `at` is none when no kiln takes what is left.
    """

    at: datetime | None
    unbooked: str = ""


def ready_at(
    view: PieceView,
    *,
    booked: Sequence[Booking],
    loads: Mapping[int, BookingLoad],
    kilns: Sequence[Kiln],
    rule: str,
    unloading: Unloading,
    viewer: Viewer,
    now: datetime,
    moved: Mapping[int, datetime] | None = None,
) -> Ready:
    """Return the earliest a piece can be out of its last firing.

    After everything booked for it comes what is not booked yet: one enamel firing for
    each pass of the layer with most still to do, and the fuse, each as long as in the
    fastest kiln that takes it and annealed by the rule. `moved` gives some bookings other ends.
    """
    moved = moved or {}
    ends = [moved.get(b.pk) or unloading.free_at(b) for b in booked]
    at = max([now, *ends])
    if _has_fuse(booked, loads) or view.stage in {
        Stage.IN_KILN,
        Stage.TO_INSPECT,
        Stage.CRACKED,
    }:
        return Ready(at=at)
    if view.is_fused and not allowed_kinds(view):
        return Ready(at=at)
    held = {one for b in booked for one in loads.get(b.pk, EMPTY).layer_passes}
    rounds = max((_passes_left(one, held) for one in view.layers), default=0)
    enamel = min(_enamels(view, kilns), default=None)
    fuse = min(_fuses(view, kilns, rule, viewer), default=None)
    if fuse is None or (rounds and enamel is None):
        return Ready(at=None)
    lasts = viewer.duration(round(fuse.total_seconds() / 3600) * 3600)
    words = f"the fuse ({lasts}) not booked yet"
    if enamel is not None and rounds:
        firings = "firing" if rounds == 1 else "firings"
        words = f"{rounds} more enamel {firings} and {words}"
        fuse += rounds * enamel
    return Ready(at=at + fuse, unbooked=words)


def _passes_left(one: LayerView, held: set[tuple[int, int]]) -> int:
    """Count the passes of a layer that are neither burnt on nor booked."""
    layer = one.layer
    numbers = [p.number for p in one.passes if not p.outcome]
    if one.sheet is None:
        numbers = list(range(1, layer.planned_passes + 1))
    return sum((layer.pk, number) not in held for number in numbers)


def _enamels(view: PieceView, kilns: Sequence[Kiln]) -> list[timedelta]:
    found = []
    for kiln in kilns:
        try:
            run = propose_enamel(glass=view.piece.glass, kiln=kiln)
        except PhysicsProblem:
            continue
        found.append(timedelta(seconds=run.booking_s))
    return found


def _fuses(
    view: PieceView, kilns: Sequence[Kiln], rule: str, viewer: Viewer
) -> list[timedelta]:
    kind = (allowed_kinds(view) or (FiringKind.FULL_FUSE,))[0]
    piece, found = view.piece, []
    for kiln in kilns:
        if stack_problems(
            kiln=kiln,
            kind=kind,
            width_mm=piece.width_mm,
            depth_mm=piece.height_mm,
            height_mm=view.height_mm,
            glass=piece.glass,
            is_dammed=piece.is_dammed,
            viewer=viewer,
        ):
            continue
        try:
            run = propose_stack(
                kind=kind,
                rule=rule,
                thickness_mm=view.height_mm,
                glass=piece.glass,
                kiln=kiln,
            )
        except PhysicsProblem:
            continue
        found.append(timedelta(seconds=run.booking_s))
    return found


def _promise(
    piece: Piece,
    due: date,
    ready: Ready,
    booked: Sequence[Booking],
    viewer: Viewer,
) -> Risk | None:
    flag, words = promise_words(piece.title, due, ready, viewer)
    if not flag:
        return None
    return Risk(
        flag=flag,
        words=words,
        piece=piece,
        bookings=tuple(b.pk for b in booked),
        kilns=frozenset(b.kiln_id for b in booked),
    )


def promise_words(
    title: str, due: date, ready: Ready, viewer: Viewer
) -> tuple[str, str]:
    """Return "late", "at risk" or nothing, and the sentence that says why."""
    promised = f"{title} is promised for {due:%a %-d %b}"
    if ready.at is None:
        return LATE, f"{promised}, and no kiln here takes it."
    day = ready.at.astimezone(viewer.zone).date()
    in_hand = (due - day).days
    because = f": {ready.unbooked}" if ready.unbooked else ""
    out = f"out of the kiln on {day:%a %-d %b} at the earliest{because}"
    if in_hand < 0:
        late = f"{-in_hand} day{'s' if in_hand < -1 else ''} late"
        return LATE, f"{promised} and {late}, {out}."
    if in_hand < practice.DAYS_IN_HAND:
        left = "no day" if not in_hand else "one day"
        return AT_RISK, f"{promised} with {left} in hand, {out}."
    return "", f"{promised}, {in_hand} days after it is {out}."


def _not_started(
    standing: Sequence[Booking], viewer: Viewer, now: datetime
) -> list[Risk]:
    latest = now - timedelta(seconds=practice.START_LATE_S)
    return [
        Risk(
            flag=LATE,
            words=(
                f"“{b.title}” was to be loaded {viewer.moment(b.starts_at, now)} in "
                f"{b.kiln} and is not started."
            ),
            bookings=(b.pk,),
            kilns=frozenset({b.kiln_id}),
        )
        for b in standing
        if b.kind == BookingKind.FIRING and b.starts_at < latest and not is_started(b)
    ]


def _ruled_out(
    standing: Sequence[Booking], unloading: Unloading, viewer: Viewer, now: datetime
) -> list[Risk]:
    return [
        Risk(
            flag=AT_RISK,
            words=one.words,
            bookings=(one.booking.pk,),
            kilns=frozenset({one.booking.kiln_id}),
            booking=one.booking,
        )
        for one in ruled_out(standing, unloading, viewer, now)
    ]


def _not_free(
    standing: Sequence[Booking], unloading: Unloading, viewer: Viewer, now: datetime
) -> list[Risk]:
    """Find bookings whose kiln is still taken by the one before when they begin."""
    by_kiln: dict[int, list[Booking]] = defaultdict(list)
    for booking in standing:
        by_kiln[booking.kiln_id].append(booking)
    found = []
    for row in by_kiln.values():
        for before, after in pairwise(row):
            free_at = unloading.free_at(before)
            if before.kind == BookingKind.FIRING and free_at > after.starts_at:
                found.append(
                    Risk(
                        flag=AT_RISK,
                        words=(
                            f"“{after.title}” begins {viewer.moment(after.starts_at, now)}, "
                            f"but {after.kiln} can be emptied of “{before.title}” only by "
                            f"{viewer.moment(free_at, now)}."
                        ),
                        bookings=(after.pk,),
                        kilns=frozenset({after.kiln_id}),
                    )
                )
    return found
