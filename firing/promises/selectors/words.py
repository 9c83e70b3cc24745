"""A promise's chain of waits, its margin and what would help, in the trade's words."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby

from firing.planning.problem.cannot import (
    BeginsTooLate,
    Cannot,
    DoesNotFit,
    Door,
    DoorTooShort,
    LacksSkill,
    NoGapForFuse,
    NoRoomUnmoved,
    TooMuchLabour,
)
from firing.planning.problem.cannot_words import cannot_words, hours
from firing.planning.problem.problem import SLOTS_PER_DAY, SLOTS_PER_HOUR, Skill
from firing.planning.promises.explain import Cause, Change, Relief, Step, Why
from firing.planning.promises.promise import Guess, Margin, Record, WithMoves
from firing.plans.selectors.calendar import PlanCalendar
from firing.plans.selectors.problem import StudioProblem
from firing.promises.selectors.reserved_work import HeldWork
from studio.reader import Reader, day_words

KILN_CAUSES = frozenset({Cause.IN_THE_KILN, Cause.CLOSED, Cause.KILN_TAKEN})
DOORS = {Door.LOAD: "Loading", Door.UNLOAD: "Unloading"}
GUESSES = {
    Guess.LOSSES: "Few firings are on record: the share of losses is a guess.",
    Guess.OVERRUNS: "Too few finished works are on record to reckon with overruns.",
}
COUNTS = {2: "Two", 3: "Three", 4: "Four", 5: "Five", 6: "Six"}
# A wait shorter than this is not worth a sentence.
WORTH_SAYING_SLOTS = 6 * SLOTS_PER_HOUR


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """One link of the chain: until when, what, and what else held it up."""

    until: datetime
    what: str
    notes: tuple[str, ...] = ()


def reasons_of(
    steps: Sequence[Step], source: StudioProblem, reader: Reader
) -> Iterator[Reason]:
    """Yield the chain from now to the day, a link for each stretch of bench or kiln."""
    for is_kiln, group in groupby(steps, lambda step: step.cause in KILN_CAUSES):
        spans = list(group)
        if is_kiln:
            yield _kiln(spans, source, reader)
        elif spans[0].cause is not Cause.SHIPPING:
            yield _bench(spans, source)


def _bench(spans: Sequence[Step], source: StudioProblem) -> Reason:
    calendar = source.calendar
    own = [s.why for s in spans if s.why.task is not None]
    notes = []
    others = [s for s in spans if s.cause is Cause.OTHER_WORK]
    if others:
        whom = ", ".join(
            source.call(one) for one in sorted({s.why.piece for s in others})
        )
        notes.append(f"{_length(others)} of work on other pieces: {whom}")
    here = [s for s in spans if s.cause is Cause.WORK]
    if here:
        notes.append(f"{_length(here)} of work on this piece")
    if any(s.cause is Cause.WEEKLY_LIMIT for s in spans):
        notes.append("the week's hours at the bench are used up before its end")
    notes += _away(spans, source)
    return Reason(
        until=calendar.instant(spans[-1].end),
        what=_task_words(own[-1], source) if own else "Work at the bench",
        notes=tuple(notes),
    )


def _length(spans: Sequence[Step]) -> str:
    return hours(sum(s.end - s.start for s in spans))


def _task_words(why: Why, source: StudioProblem) -> str:
    what = {Skill.ASSEMBLE: "Assembly", Skill.COLDWORK: "Coldwork"}
    name = f"Painting of layer {1 + (why.layer or 0)}"
    if why.task is not None:
        name = what.get(why.task, name)
    return f"{name} by {source.call(why.person)}"


def _away(spans: Sequence[Step], source: StudioProblem) -> Iterator[str]:
    """Say who is away on days of a stretch at the bench, the last day of it named."""
    calendar = source.calendar
    for person, days in sorted(source.away_days.items()):
        met = {
            day
            for s in spans
            if s.cause is Cause.OFF_DUTY and s.why.person == person
            for day in range(s.start // SLOTS_PER_DAY, (s.end - 1) // SLOTS_PER_DAY + 1)
            if day in days
        }
        if met:
            last = max(met)
            while last + 1 in days:
                last += 1
            until = day_words(calendar.date_of(last))
            yield f"{source.call(person)} is away until {until}"


def _closed_kilns(step: Step, source: StudioProblem) -> list[tuple[str, int]]:
    """Return the kilns that are closed during a step, and until when."""
    found = []
    for kiln in source.problem.kilns:
        ends = [b for a, b in kiln.maintenance if a < step.end and step.start < b]
        if ends:
            found.append((source.call(kiln.id), max(ends)))
    return found


def _kiln(spans: Sequence[Step], source: StudioProblem, reader: Reader) -> Reason:
    calendar = source.calendar
    inside = [s for s in spans if s.cause is Cause.IN_THE_KILN]
    kiln = source.call(inside[0].why.kiln) if inside else "the kiln"
    notes: list[str] = []
    sooner: list[str] = []

    def when(slot: int) -> str:
        return reader.moment(calendar.instant(slot), calendar.now)

    for step in spans:
        is_long = step.end - step.start >= WORTH_SAYING_SLOTS
        if step.cause is Cause.KILN_TAKEN and is_long:
            notes.append(f"no kiln that takes it is free until {when(step.end)}")
            notes += [
                f"{name} is closed until {when(end)}"
                for name, end in _closed_kilns(step, source)
            ]
        elif step.cause is Cause.CLOSED and is_long:
            is_before = bool(inside) and step.start < inside[0].start
            if is_before and _is_open(step, calendar):
                sooner.append(
                    "loaded sooner, it would be opened no earlier than "
                    f"{when(inside[-1].start)}"
                )
            else:
                what = "load" if is_before else f"open {kiln}"
                notes.append(f"closed: nobody is in to {what} until {when(step.end)}")
    loaded = inside[0].start if inside else spans[0].start
    return Reason(
        until=calendar.instant(spans[-1].end),
        what=f"In {kiln} from {when(loaded)}",
        notes=tuple(notes or sooner),
    )


def _is_open(step: Step, calendar: PlanCalendar) -> bool:
    """Say whether anybody is in within a step of the chain."""
    return any(a < step.end and step.start < b for a, b in calendar.access)


RELIEFS = {
    Change.ARTIST_FREE: "{artist} had no other work",
    Change.NO_WEEKLY_LIMIT: "{artist} had no limit of hours in a week",
    Change.KILNS_FREE: "the kilns were empty of planned work",
    Change.COLDWORK_FREE: "those who do cold work had no other work",
    Change.HOUR_LONGER: "the studio were open an hour longer",
    Change.EVERY_DAY: "the studio were open on every day of the week",
    Change.KILNS_OPEN: "no kiln were closed",
    Change.NOBODY_AWAY: "nobody were away",
}


def relief_words(reliefs: Sequence[Relief], artist: str, calendar: PlanCalendar) -> str:
    """Say which one change would bring most; a pair only when none alone helps."""
    if not reliefs:
        return "No single change of hours or kilns would bring it forward."
    best = min(reliefs, key=lambda r: (len(r.changes), -r.days_gained))
    changes = " and ".join(RELIEFS[one].format(artist=artist) for one in best.changes)
    return (
        f"If {changes}, it could be ready {_days(best.days_gained)} earlier, on "
        f"{day_words(calendar.date_of(best.day))}."
    )


def moves_words(moves: WithMoves | None, piece: str, source: StudioProblem) -> str:
    """Say what putting it before unstarted work would give, and whom that touches."""
    if moves is None:
        return ""
    calendar = source.calendar
    touched = "; ".join(
        f"{source.call(one.piece)} would come on {day_words(calendar.date_of(one.day_after))} "
        f"instead of {day_words(calendar.date_of(one.day_before))}"
        for one in moves.moved
    )
    return (
        f"Put before work that is not begun, {source.call(piece)} could be ready "
        f"{_days(moves.days_gained)} earlier, on "
        f"{day_words(calendar.date_of(moves.day))}: {touched}."
    )


def held_words(works: Sequence[HeldWork]) -> str:
    """Say which open quotes are held room for, and until when."""
    if not works:
        return ""
    named = [
        f"{one.title}, promised for {day_words(one.due_date)}, "
        f"until {day_words(one.until_date)}"
        for one in works
    ]
    if len(named) == 1:
        return f"One open quote is held room for: {named[0]}."
    count = COUNTS.get(len(named), str(len(named)))
    return f"{count} open quotes are held room for: {'; '.join(named)}."


def margin_words(
    margin: Margin, record: Record, calendar: PlanCalendar
) -> tuple[str, ...]:
    """Say what the margin was reckoned from: the record, or a guess where it is thin."""
    words = [
        f"On record here: {record.passes_lost} of {record.passes_fired} passes and "
        f"{record.fuses_lost} of {record.fuses_fired} fuses lost. Reckoned with: "
        f"{margin.loss_share * 100:.0f} % of passes, "
        f"{margin.fuse_loss_share * 100:.0f} % of fuses "
        "(one in twenty is the guess that the record outweighs)."
    ]
    if record.labour_ratios:
        words.append(
            f"Painting took {margin.mean_labour_ratio * 100:.0f} % of the planned time in "
            f"{len(record.labour_ratios)} finished "
            + ("piece." if len(record.labour_ratios) == 1 else "pieces.")
        )
    words += [told for guess, told in GUESSES.items() if guess in margin.guesses]
    if margin.day_95 is None:
        words.append(f"95 in 100 lies beyond the next {calendar.weeks} weeks.")
    return tuple(words)


def no_promise_words(reason: Cannot, source: StudioProblem) -> str:
    """Say why no day can be given, and which is too little where something is."""
    weeks = source.calendar.weeks
    match reason:
        case TooMuchLabour():
            return (
                f"Painting and stacking need {hours(reason.needed)}, and "
                f"{source.call(reason.artist)} has {hours(reason.has)} at the bench in "
                f"the next {weeks} weeks. Look at their hours in the settings, or let "
                "somebody else make it."
            )
        case NoGapForFuse():
            return (
                f"Its fuse takes {hours(reason.needed)} and fits between the closures "
                f"and bookings of no kiln that takes it in the next {weeks} weeks. Look "
                "at the kilns' closures, and at kiln time that is held and not needed."
            )
        case BeginsTooLate() | DoesNotFit() | NoRoomUnmoved():
            return f"It does not fit into the next {weeks} weeks."
        case DoorTooShort():
            return f"{DOORS[reason.door]}: {cannot_words(reason, source.call)}"
    return no_plan_words(reason, source)


def no_plan_words(reason: Cannot, source: StudioProblem) -> str:
    """Say as a sentence of its own why something cannot be planned."""
    told = cannot_words(reason, source.call)
    if isinstance(reason, LacksSkill):
        return told  # It begins with a name.
    return told[:1].upper() + told[1:]


def _days(count: int) -> str:
    return f"{count} day" + ("" if count == 1 else "s")
