"""Looks at running firings, keeps what happens in them, and calls people once."""

import time
from collections.abc import Callable
from datetime import datetime, timedelta

from django.db import transaction

from firing.kiln_time.selectors.access import access_spans
from firing.loads.selectors.known import Known, known_of
from firing.models import MAY_BE_OPENED, Firing, FiringEvent, FiringWatch, Judgement
from firing.physics.judging.verdict import Verdict
from firing.physics.judging.watching import APART_S, EventKind
from firing.readings.selectors.verdict_inputs import judging_of, last_judgement
from firing.readings.services.judging import judge_again
from firing.watch.selectors.events import (
    Seen,
    events_of,
    matched,
    opening_of,
    seen_in,
)
from firing.watch.selectors.words import history_words, letter_of, opening_letter
from studio.letters import Letter
from studio.models import Person
from studio.services import history
from studio.services.locks import held
from studio.services.messages import tell
from studio.undo import because, checked_reason
from studio.viewer import Viewer

FIRINGS, UNLOADING = "firings", "unloading"
# How often a running firing is looked at, and at most this share of the time is spent
# on it, however many readings there are.
EVERY = timedelta(seconds=20)
REST_TIMES = 20.0
# A cut that goes on so long after it was seen calls somebody before it is over: perhaps
# only the kiln's own breaker fell.
GOES_ON = timedelta(minutes=10)
# The consequence is told with the event, unless its computation takes longer than this.
WAIT_FOR_VERDICT = timedelta(minutes=5)
# What these did to the glass is computed before anybody is told.
HARMFUL = (
    EventKind.CUT,
    EventKind.TOO_HOT,
    EventKind.NOT_REACHED,
    EventKind.SHORT_HOLD,
    EventKind.TOO_FAST,
    EventKind.AHEAD,
)
WELL = (Verdict.WITHIN, Verdict.STILL_HOT)


def watch_all(*, clock: Callable[[], datetime]) -> int:
    """Look at every running firing whose time it is; return how many.

    A conditional update decides who looks, so two workers never both do.
    """
    running = Firing.across_studios.filter(
        started_at__isnull=False, finished_at__isnull=True
    )
    count = 0
    for pk in list(running.order_by("pk").values_list("pk", flat=True)):
        if _claim(pk, clock()):
            look(firing_id=pk, clock=clock)
            count += 1
    return count


def _claim(firing_id: int, now: datetime) -> bool:
    firing = Firing.across_studios.get(pk=firing_id)
    _, is_new = FiringWatch.across_studios.get_or_create(
        firing=firing, defaults={"studio": firing.studio, "next_at": now + EVERY}
    )
    due = FiringWatch.across_studios.filter(firing=firing, next_at__lte=now)
    return is_new or bool(due.update(next_at=now + EVERY))


def look(*, firing_id: int, clock: Callable[[], datetime]) -> None:
    """Look at one running firing: what happens in it, and who is to know."""
    firing = (
        Firing.across_studios.select_related(
            "studio", "kiln", "booking", "schedule__glass", "schedule__kiln"
        )
        .filter(pk=firing_id, started_at__isnull=False, finished_at__isnull=True)
        .first()
    )
    if firing is None:
        return
    began, now = time.monotonic(), clock()
    known = known_of(firing.studio, [firing], now=now).get(firing.pk)
    seen = seen_in(firing, known, now=now)
    if (opening := opening_of(known)) is not None:
        seen.append(opening)
    keep_events(firing=firing, seen=seen, at=now)
    call_people(firing=firing, known=known, at=now)
    rest = timedelta(seconds=REST_TIMES * (time.monotonic() - began))
    if rest > EVERY:
        FiringWatch.across_studios.filter(firing=firing).update(next_at=now + rest)


@transaction.atomic
def keep_events(*, firing: Firing, seen: list[Seen], at: datetime) -> None:
    """Keep what happens now as rows: new ones, changed ones, and none that is not true.

    Keeping the same again changes nothing, and neither does another order of readings:
    in the end the rows are what all the readings say.
    """
    held(Firing.across_studios).get(pk=firing.pk)
    standing = list(events_of(firing))
    found = matched(seen, standing, apart=timedelta(seconds=APART_S))
    for one, row in found:
        if row is None:
            made = FiringEvent.across_studios.create(
                studio=firing.studio,
                firing=firing,
                seen_at=at,
                changed_at=at,
                **_values(one),
            )
            _record(made, firing, at)
            continue
        is_turned = (row.ended_at is None) != (one.ended_at is None)
        values = _values(one)
        if all(getattr(row, name) == value for name, value in values.items()):
            continue
        for name, value in values.items():
            setattr(row, name, value)
        if is_turned:
            row.changed_at = at
        row.save()
        if is_turned:
            _record(row, firing, at)
    kept = {row.pk for _, row in found if row is not None}
    for row in standing:
        if row.pk not in kept:
            _withdraw(row, at)


def _values(one: Seen) -> dict[str, object]:
    return {
        "kind": one.kind,
        "segment": one.segment[:80],
        "begins_at": one.begins_at,
        "ended_at": one.ended_at,
        "begins_c": one.begins_c,
        "worst_c": one.worst_c,
        "amount": one.amount,
    }


def _record(event: FiringEvent, firing: Firing, at: datetime) -> None:
    """Tell the history, and by it whoever keeps plan and promises true."""
    history.record(
        studio=firing.studio,
        by=None,
        at=at,
        what=history_words(event, firing),
        subject=f"firing {firing.pk}",
    )


def _withdraw(event: FiringEvent, at: datetime) -> None:
    was_told = event.told_at or event.alarm_at or event.acknowledged_at
    if was_told is None:
        event.delete()
        return
    event.withdrawn_at = at
    event.save(update_fields=["withdrawn_at"])


def call_people(*, firing: Firing, known: Known | None, at: datetime) -> None:
    """Call whoever wants to know, once for each event, with what to do.

    What did harm waits for its consequence to be computed, and has that ordered.
    """
    for event in events_of(firing).filter(told_at__isnull=True):
        event.firing = firing
        if event.kind == MAY_BE_OPENED:
            _call_to_unload(event, known, at)
        elif event.kind not in HARMFUL:
            _call(event, None, known, at)
        elif event.kind == EventKind.CUT and event.ended_at is None:
            if event.alarm_at is None and at - event.seen_at >= GOES_ON:
                _alarm(event, known, at)
        else:
            judgement, is_late = _judged(event, at)
            if judgement is not None or is_late:
                _call(event, judgement, known, at)


def _judged(event: FiringEvent, at: datetime) -> tuple[Judgement | None, bool]:
    """Return the judgement that knows of an event with its options, ordered if there is
    none, and whether that has taken too long.
    """
    last = last_judgement(event.firing)
    if last is not None and last.made_at >= event.changed_at and not last.lacks_options:
        return last, False
    if judging_of(event.firing).state != "making":
        judge_again(firing=event.firing)
    return None, at - event.changed_at >= WAIT_FOR_VERDICT


@transaction.atomic
def _call(
    event: FiringEvent,
    judgement: Judgement | None,
    known: Known | None,
    at: datetime,
) -> None:
    firing = event.firing
    event.told_at = at
    event.save(update_fields=["told_at"])
    if not _is_worth_a_call(event, judgement):
        return
    _tell(
        event,
        FIRINGS,
        f"firing {firing.pk} event {event.pk}",
        letter_of(event, judgement=judgement, known=known, now=at),
        at,
    )


def _is_worth_a_call(event: FiringEvent, judgement: Judgement | None) -> bool:
    """Return whether somebody must know: not of what is over and did nothing."""
    if event.kind == EventKind.SILENT:
        return event.ended_at is None
    if event.kind == EventKind.TOO_FAST and judgement is not None:
        return judgement.verdict not in WELL
    return True


@transaction.atomic
def _alarm(event: FiringEvent, known: Known | None, at: datetime) -> None:
    event.alarm_at = at
    event.save(update_fields=["alarm_at"])
    _tell(
        event,
        FIRINGS,
        f"firing {event.firing_id} event {event.pk} goes on",
        letter_of(event, judgement=None, known=known, now=at),
        at,
    )


@transaction.atomic
def _call_to_unload(event: FiringEvent, known: Known | None, at: datetime) -> None:
    """Call once somebody may be in to open the kiln."""
    if known is None or not access_spans(
        event.firing.studio, at, at + timedelta(minutes=1)
    ):
        return
    event.told_at = at
    event.save(update_fields=["told_at"])
    _tell(
        event,
        UNLOADING,
        f"firing {event.firing_id} event {event.pk}",
        opening_letter(event, known=known, now=at),
        at,
    )


def _tell(
    event: FiringEvent,
    topic: str,
    key: str,
    write: Callable[[Viewer], Letter],
    at: datetime,
) -> None:
    tell(
        studio=event.firing.studio,
        topic=topic,
        key=key,
        write=write,
        path=f"/firings/{event.firing_id}/",
        at=at,
        is_urgent=event.kind in HARMFUL,
    )


@transaction.atomic
def see_to_event(
    *, event: FiringEvent, note: str, by: Person | None, at: datetime
) -> None:
    """Record that somebody saw to an event, and what they wrote; again corrects it."""
    event.acknowledged_at, event.acknowledged_by = at, by
    event.note = note.strip()
    event.save(update_fields=["acknowledged_at", "acknowledged_by", "note"])
    history.record(
        studio=event.studio,
        by=by,
        at=at,
        what=f"Saw to: {history_words(event, event.firing)}",
        subject=f"firing {event.firing_id}",
    )


@transaction.atomic
def take_back_seen_to(
    *, event: FiringEvent, reason: str, by: Person | None, at: datetime
) -> None:
    """Take back that somebody saw to an event; what they wrote stays for the form.

    Raises
    ------
    Refused
        When it is late and no reason is given.
    """
    if event.acknowledged_at is None:
        return
    given = checked_reason(reason, recorded_at=event.acknowledged_at, now=at)
    event.acknowledged_at = event.acknowledged_by = None
    event.save(update_fields=["acknowledged_at", "acknowledged_by"])
    history.record(
        studio=event.studio,
        by=by,
        at=at,
        what=f"Not seen to after all: {history_words(event, event.firing)}"
        f"{because(given)}",
        subject=f"firing {event.firing_id}",
    )
