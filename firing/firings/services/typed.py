"""Records what was typed into a running firing's controller, and takes it back.

The booking and its curve follow at once.
"""

from datetime import datetime, timedelta

from django.db import transaction

from firing.firings.services.span import hold_true_span, moment, note_line
from firing.locks import lock_kiln, lock_pieces
from firing.models import Booking, Firing, Reading, TypedProgramme
from firing.physics.formats.design_format import schedule_as_mapping
from firing.physics.judging.what_next import Action
from firing.physics.schedule import PhysicsProblem, Programme
from firing.readings.selectors.verdict_words import ACTION_WORDS
from firing.readings.services.judging import ask_for_judgement
from firing.schedules.selectors.programmes import curve_points, run_in, slab_in
from firing.schedules.selectors.typed import Points, curve_with_typed, typed_in
from studio.errors import Refused
from studio.models import Person, Piece
from studio.services import history
from studio.services.locks import held
from studio.undo import because, checked_reason

# A reading this near tells where the kiln was when the programme began.
NEAR = timedelta(minutes=30)


@transaction.atomic
def record_typed(
    *,
    firing: Firing,
    action: str,
    programme: Programme,
    typed_at: datetime,
    by: Person | None,
    at: datetime,
) -> TypedProgramme:
    """Record that a programme runs instead of the rest of the schedule.

    If the kiln is needed for longer than it is free, it is held until the next booking,
    and the firing's note says so.

    Raises
    ------
    Refused
        When the firing does not run, the time is not one of its own, something was
        typed at that time or later, or the kiln cannot do the programme.
    """
    lock_kiln(firing.kiln)
    current = _current(firing)
    standing = typed_in(current)
    _refuse_time(current, standing, typed_at, at)
    original: Points = (
        standing[0].planned_before if standing else current.booking.planned_curve
    )
    programme = Programme(
        start_c=_kiln_at(current, typed_at, programme.start_c),
        segments=programme.segments,
    )
    try:
        run = run_in(current.kiln, programme, slab_in(current.schedule))
    except PhysicsProblem as problem:
        raise Refused(f"{current.kiln} cannot do that programme: {problem}") from None
    typed: TypedProgramme = TypedProgramme.across_studios.create(
        studio=current.studio,
        firing=current,
        at=typed_at,
        action=Action(action).value,
        programme=schedule_as_mapping(programme),
        curve=curve_points(run, load_s=0),
        planned_before=[list(point) for point in original],
        made_at=at,
        made_by=by,
    )
    said = hold_true_span(
        current, original, starts_at=current.booking.starts_at, by=by, at=at
    )
    if said:
        when = moment(current, typed_at, at)
        typed.said = f"With what was typed {when}, {said}"
        typed.save(update_fields=["said"])
        note_line(current, typed.said)
        current.save(update_fields=["note"])
    _note(
        current,
        f"Typed into {current.kiln} at {moment(current, typed_at, at)}: "
        f"{ACTION_WORDS[Action(action)].lower()}",
        by,
        at,
    )
    ask_for_judgement(firing=current)
    return typed


@transaction.atomic
def take_back_typed(
    *, typed: TypedProgramme, reason: str, by: Person | None, at: datetime
) -> None:
    """Record that a programme was not typed after all; what it changed returns.

    Raises
    ------
    Refused
        When it was taken back already, another one was typed since, or it is late and
        no reason is given.
    """
    lock_kiln(typed.firing.kiln)
    current = _current(typed.firing)
    standing = typed_in(current)
    row = next((one for one in standing if one.pk == typed.pk), None)
    if row is None:
        raise Refused("That was taken back already.")
    if row is not standing[-1]:
        raise Refused("Something else was typed since. Take that back first.")
    row.taken_back_reason = checked_reason(reason, recorded_at=row.made_at, now=at)
    row.taken_back_at, row.taken_back_by = at, by
    row.save(update_fields=["taken_back_at", "taken_back_by", "taken_back_reason"])
    booking: Booking = current.booking
    original = row.planned_before
    if current.finished_at is None:
        if row.said:
            kept = [line for line in current.note.split("\n") if line != row.said]
            current.note = "\n".join(kept)
        # Whatever is booked since, the kiln is held as far as it is free.
        hold_true_span(current, original, starts_at=booking.starts_at, by=by, at=at)
        current.save(update_fields=["note"])
    else:
        # The kiln was given back: only the plan is drawn as it was.
        booking.planned_curve = curve_with_typed(
            original, typed_in(current), booking.starts_at
        )
        booking.save(update_fields=["planned_curve"])
    _note(
        current,
        f"Took back what was typed at {moment(current, row.at, at)}"
        f"{because(row.taken_back_reason)}",
        by,
        at,
    )
    ask_for_judgement(firing=current)


def _refuse_time(
    firing: Firing, standing: list[TypedProgramme], typed_at: datetime, at: datetime
) -> None:
    if firing.started_at is None:
        raise Refused("This firing was not started, so nothing runs in its kiln.")
    if firing.finished_at is not None:
        raise Refused("This firing is unloaded, so nothing runs in its kiln any more.")
    if typed_at > at:
        raise Refused("That time is still to come. Give the time when it was typed.")
    if typed_at <= firing.started_at:
        raise Refused(
            f"This firing was started {moment(firing, firing.started_at, at)}. Give a "
            "time after that."
        )
    if standing and typed_at <= standing[-1].at:
        raise Refused(
            f"A programme typed {moment(firing, standing[-1].at, at)} is recorded "
            "already. Give a later time, or take that one back first."
        )


def _kiln_at(firing: Firing, at: datetime, otherwise_c: float) -> float:
    """Return what the kiln showed then, as near as it was read."""
    near = (
        Reading.owned.for_studio(firing.studio)
        .filter(firing=firing, at__gt=at - NEAR, at__lte=at)
        .order_by("-at", "-pk")
        .first()
    )
    return otherwise_c if near is None else near.temperature_c


def _current(firing: Firing) -> Firing:
    """Return the firing as it is now, held."""
    found: Firing = (
        held(Firing.across_studios)
        .select_related("studio", "kiln__studio", "booking", "schedule__glass")
        .get(pk=firing.pk)
    )
    return found


def _pieces(firing: Firing) -> list[Piece]:
    """Return the pieces that lie in the kiln, locked."""
    found = [
        item.piece
        for item in firing.items.select_related("piece__studio")
        if item.piece is not None
    ]
    lock_pieces(found)
    return found


def _note(firing: Firing, what: str, by: Person | None, at: datetime) -> None:
    found: list[Piece | None] = [*_pieces(firing)]
    for piece in found or [None]:
        history.record(
            studio=firing.studio,
            by=by,
            at=at,
            what=what if piece is not None else f"{firing.booking.title}: {what}",
            piece=piece,
            subject=f"firing {firing.pk}",
        )
