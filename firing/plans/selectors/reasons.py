"""Why a piece cannot be ready sooner, what would help, and why there is no plan."""

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
    NobodyForColdwork,
    NoGapForFuse,
    NoRoomUnmoved,
    TooMuchLabour,
)
from firing.planning.problem.cannot_words import cannot_words, hours
from firing.planning.problem.problem import SLOTS_PER_DAY, SLOTS_PER_HOUR, Skill
from firing.planning.promises.explain import Cause, Change, Relief, Step, Why
from firing.plans.selectors.calendar import PlanCalendar
from firing.plans.selectors.problem import StudioProblem
from studio.viewer import Viewer, count_words, day_words

KILN_CAUSES = frozenset({Cause.IN_THE_KILN, Cause.CLOSED, Cause.KILN_TAKEN})
DOORS = {Door.LOAD: "Loading", Door.UNLOAD: "Unloading"}
# A wait shorter than this does not need a sentence.
WORTH_SAYING_SLOTS = 6 * SLOTS_PER_HOUR


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """One link of the chain: until when, what, and what else delayed it."""

    until: datetime
    what: str
    notes: tuple[str, ...] = ()


def reasons_of(
    steps: Sequence[Step], source: StudioProblem, viewer: Viewer
) -> Iterator[Reason]:
    """Yield the chain from now to the day, one link per stretch at bench or kiln."""
    for is_kiln, group in groupby(steps, lambda step: step.cause in KILN_CAUSES):
        spans = list(group)
        if is_kiln:
            yield _kiln(spans, source, viewer)
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
    """Say who is away on the days of a stretch at the bench, up to the last such day."""
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


def _kiln(spans: Sequence[Step], source: StudioProblem, viewer: Viewer) -> Reason:
    calendar = source.calendar
    inside = [s for s in spans if s.cause is Cause.IN_THE_KILN]
    kiln = source.call(inside[0].why.kiln) if inside else "the kiln"
    notes: list[str] = []
    sooner: list[str] = []

    def when(slot: int) -> str:
        return viewer.moment(calendar.instant(slot), calendar.now)

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
    """Return whether anybody is in during a step of the chain."""
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
    """Say which one change would help most; a pair only when no single one helps."""
    if not reliefs:
        return "No single change of hours or kilns would bring it forward."
    best = min(reliefs, key=lambda r: (len(r.changes), -r.days_gained))
    changes = " and ".join(RELIEFS[one].format(artist=artist) for one in best.changes)
    return (
        f"If {changes}, it could be ready {count_words(best.days_gained, 'day')} earlier, on "
        f"{day_words(calendar.date_of(best.day))}."
    )


def no_plan_words(reason: Cannot, source: StudioProblem) -> str:
    """Say in full sentences why a piece cannot be planned, and what to do."""
    told, weeks = cannot_words(reason, source.call), source.calendar.weeks
    match reason:
        case LacksSkill():
            # It begins with a name, so its first letter stays as it is.
            return f"{told} Let somebody else make it."
        case NobodyForColdwork():
            told = f"{told} Look at the skills and hours in the settings."
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
            return (
                f"It does not fit into the next {weeks} weeks. Look for kiln time that "
                "is held and not needed, or for more hours."
            )
        case DoorTooShort():
            return f"{DOORS[reason.door]}: {told} Look at the access hours in the settings."
    return told[:1].upper() + told[1:]


def left_out_words(piece: str, reason: Cannot, source: StudioProblem) -> str:
    """Say that a plan goes on without a piece, why, and what to do."""
    return f"{source.call(piece)} is not reckoned with. {no_plan_words(reason, source)}"
