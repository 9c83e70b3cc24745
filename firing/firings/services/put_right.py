"""Puts right what was recorded of a firing: its start, its end, how things came out.

What follows from a fact, bookings and layers and pieces, follows its correction too.
"""

from datetime import datetime

from django.db import transaction

from firing.firings.services.running import (
    current_of,
    items_of,
    note_each,
    one_runs,
    passes_burnt_in,
    record_item,
    refuse_occupied,
    say_of_start,
)
from firing.firings.services.span import hold_true_span, moment
from firing.kiln_time.services.bookings import kiln_time_guarded
from firing.locks import lock_kiln
from firing.models import Booking, Firing, FiringKind, LoadItem
from firing.plans.services.replace_planned import make_way, put_back
from firing.readings.services.judging import ask_for_judgement
from firing.schedules.selectors.typed import typed_in
from studio.errors import Refused
from studio.models import Outcome, Person, PieceEventKind
from studio.services.put_right import erase_outcome, last_event, set_aside_event
from studio.services.stock_use import give_back_enamel_firing
from studio.undo import because, checked_reason


@transaction.atomic
def change_start(
    *,
    firing: Firing,
    started_at: datetime,
    reason: str,
    by: Person | None,
    at: datetime,
) -> None:
    """Correct when a firing was started.

    Raises
    ------
    Refused
        When it was not started, the time is to come or after its end, something was
        typed before it, the kiln was held for something else then, or it is late and
        no reason is given.
    """
    lock_kiln(firing.kiln)
    current = current_of(firing)
    given = _started(current, reason, at)
    if started_at > at:
        raise Refused("That time is still to come.")
    typed = typed_in(current)
    if typed and typed[0].at <= started_at:
        raise Refused(
            f"A programme was typed {moment(current, typed[0].at, at)}. Give a time "
            "before that."
        )
    booking: Booking = current.booking
    if current.finished_at is not None:
        if started_at >= current.finished_at:
            raise Refused("A firing ends after it was started.")
        with kiln_time_guarded(
            current.kiln, started_at, booking.ends_at, at, own=booking
        ):
            booking.starts_at = started_at
            booking.save(update_fields=["starts_at"])
    else:
        said = hold_true_span(
            current, _original(current), starts_at=started_at, by=by, at=at
        )
        say_of_start(current, said, started_at, at)
    before = moment(current, current.started_at or at, at)
    current.started_at = started_at
    current.save(update_fields=["started_at", "note", "before_start"])
    what = f"Started {moment(current, started_at, at)}, not {before}{because(given)}"
    note_each(current, items_of(current), what, by, at)
    ask_for_judgement(firing=current)


@transaction.atomic
def not_started(
    *, firing: Firing, reason: str, by: Person | None, at: datetime
) -> None:
    """Record that a firing was not started after all; its booking is as before.

    Raises
    ------
    Refused
        When it was not started, is unloaded, has readings or typed programmes, its
        time was booked for something else since, or it is late and no reason is given.
    """
    lock_kiln(firing.kiln)
    current = current_of(firing)
    given = _started(current, reason, at)
    if current.finished_at is not None:
        raise Refused("It is unloaded already. Take that back first.")
    if current.readings.exists():
        raise Refused("Its kiln was read since. Remove those readings first.")
    if typed_in(current):
        raise Refused("Something was typed since. Take that back first.")
    items = items_of(current)
    for item in items:
        if item.piece is not None:
            event = last_event(item.piece, PieceEventKind.INTO_KILN)
            set_aside_event(event=event, reason=given, by=by, at=at)
    give_back_enamel_firing(passes=passes_burnt_in(current, items), by=by, at=at)
    booking: Booking = current.booking
    before = current.before_start
    if before:
        booking.starts_at = datetime.fromisoformat(before["starts_at"])
        booking.ends_at = datetime.fromisoformat(before["ends_at"])
        booking.planned_curve = before["planned_curve"]
        starts_at, ends_at = booking.starts_at, booking.ends_at
        make_way(booking, starts_at=starts_at, ends_at=ends_at, by=by, at=at)
        with kiln_time_guarded(current.kiln, starts_at, ends_at, at, own=booking):
            booking.save(update_fields=["starts_at", "ends_at", "planned_curve"])
        put_back(booking, by=by, at=at)
        say_of_start(current, "", at, at)
    current.started_at = current.started_by = current.start_recorded_at = None
    current.before_start = {}
    current.save(
        update_fields=[
            "started_at",
            "started_by",
            "start_recorded_at",
            "before_start",
            "note",
        ]
    )
    note_each(current, items, f"Not started after all{because(given)}", by, at)


@transaction.atomic
def not_unloaded(
    *, firing: Firing, reason: str, by: Person | None, at: datetime
) -> None:
    """Record that a kiln was not unloaded after all: the firing runs on.

    Raises
    ------
    Refused
        When it is not unloaded, something else was started in the kiln since, something
        was built on an outcome, or it is late and no reason is given.
    """
    lock_kiln(firing.kiln)
    current = current_of(firing)
    given = _finished(current, reason, at)
    refuse_occupied(current)
    _refuse_started_since(current, at)
    items = items_of(current)
    for item in items:
        _erase(item, current, given, by, at)
    current.finished_at = current.finished_by = current.unloaded_at_c = None
    said = hold_true_span(
        current, _original(current), starts_at=current.booking.starts_at, by=by, at=at
    )
    say_of_start(current, said, current.started_at or at, at)
    with one_runs(current):
        current.save(
            update_fields=[
                "finished_at",
                "finished_by",
                "unloaded_at_c",
                "note",
                "before_start",
            ]
        )
    note_each(current, items, f"Not unloaded after all{because(given)}", by, at)
    ask_for_judgement(firing=current)


@transaction.atomic
def change_outcome(
    *,
    item: LoadItem,
    outcome: str,
    note: str,
    reason: str,
    by: Person | None,
    at: datetime,
) -> None:
    """Correct how one thing in an unloaded firing came out.

    Raises
    ------
    Refused
        When the firing is not unloaded, the outcome is none, something was built on the
        old one since, or it is late and no reason is given.
    """
    lock_kiln(item.firing.kiln)
    current = current_of(item.firing)
    given = _finished(current, reason, at)
    if outcome not in Outcome.values:
        raise Refused("Say how it came out: fine, fire again, or cracked.")
    held = next(one for one in items_of(current) if one.pk == item.pk)
    before = held.get_outcome_display().lower()
    _erase(held, current, given, by, at)
    record_item(held, current, outcome, note, by, current.finished_at or at)
    now = held.get_outcome_display().lower()
    note_each(current, [held], f"{held}: {now}, not {before}{because(given)}", by, at)


def _started(firing: Firing, reason: str, at: datetime) -> str:
    if firing.started_at is None:
        raise Refused("This firing was not started.")
    recorded_at = firing.start_recorded_at or firing.started_at
    return checked_reason(reason, recorded_at=recorded_at, now=at)


def _finished(firing: Firing, reason: str, at: datetime) -> str:
    if firing.finished_at is None:
        raise Refused("This firing is not unloaded.")
    return checked_reason(reason, recorded_at=firing.finished_at, now=at)


def _refuse_started_since(firing: Firing, at: datetime) -> None:
    since = Firing.owned.for_studio(firing.studio).filter(
        kiln=firing.kiln, started_at__gte=firing.finished_at
    )
    other = since.exclude(pk=firing.pk).select_related("booking").first()
    if other is not None:
        raise Refused(
            f"“{other.booking.title}” was started in {firing.kiln} "
            f"{moment(firing, other.started_at or at, at)}. Take that back first."
        )


def _refuse_booked_since(item: LoadItem, firing: Firing) -> None:
    booked = LoadItem.owned.for_studio(firing.studio).filter(
        piece=item.piece,
        firing__cancelled_at__isnull=True,
        firing__finished_at__isnull=True,
    )
    other = booked.exclude(firing=firing).select_related("firing__booking").first()
    if other is not None:
        raise Refused(
            f"“{other.firing.booking.title}” was booked since. Cancel that firing first."
        )


def _original(firing: Firing) -> list[list[float]]:
    """Return the planned curve as it was before anything was typed."""
    typed = typed_in(firing)
    curve: list[list[float]] = (
        typed[0].planned_before if typed else firing.booking.planned_curve
    )
    return curve


def _erase(
    item: LoadItem, firing: Firing, reason: str, by: Person | None, at: datetime
) -> None:
    """Take away how a thing came out."""
    if item.of_pass is not None and firing.kind == FiringKind.ENAMEL:
        item.of_pass = erase_outcome(of_pass=item.of_pass)
    elif item.piece is not None:
        _refuse_booked_since(item, firing)
        event = last_event(item.piece, PieceEventKind.OUT_OF_KILN)
        set_aside_event(event=event, reason=reason, by=by, at=at)
    item.outcome = item.outcome_note = ""
    item.save(update_fields=["outcome", "outcome_note"])
