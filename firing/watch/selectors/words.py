"""Events of firings in words: on the page, and in the message that calls somebody."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from firing.loads.selectors.known import Known, known_words
from firing.models import MAY_BE_OPENED, Firing, FiringEvent, Judgement
from firing.physics.judging.watching import EventKind
from firing.readings.selectors.verdict_words import words_of
from firing.schedules.selectors.stress_words import whole_minutes
from firing.schedules.selectors.tables import SegmentRow
from studio.letters import Letter
from studio.viewer import Viewer

TITLES: dict[str, str] = {
    EventKind.CUT: "Power cut",
    EventKind.SILENT: "No readings",
    EventKind.THERMOCOUPLE: "Thermocouple broken",
    EventKind.STALLED: "Stalled",
    EventKind.BEHIND: "Behind its schedule",
    EventKind.AHEAD: "Heating too fast",
    EventKind.TOO_HOT: "Too hot",
    EventKind.NOT_REACHED: "Did not get hot enough",
    EventKind.SHORT_HOLD: "Hold too short",
    EventKind.TOO_FAST: "Cooling too fast",
    EventKind.UNUSABLE: "Readings cannot be used",
    MAY_BE_OPENED: "May be opened",
}
# What to look at before anything is typed; common practice, no source.
LOOK_AT: dict[str, str] = {
    EventKind.CUT: (
        "Keep the kiln closed. If only the kiln is off, look at its breaker once; if it "
        "trips again, leave it to a licensed electrician."
    ),
    EventKind.SILENT: (
        "Look at the kiln: the logger, its connection or the power may be off."
    ),
    EventKind.THERMOCOUPLE: (
        "Look at the thermocouple and its wire from outside. The controller may be "
        "blind too: switch it off if it heats without knowing how hot it is."
    ),
    EventKind.STALLED: (
        "Look at the kiln: an element, a relay or the door. Switch it off before you "
        "touch anything but the controller."
    ),
    EventKind.TOO_HOT: (
        "Go to the kiln now. If it heats on against its controller, a relay is stuck: "
        "switch it off at the wall."
    ),
    EventKind.UNUSABLE: "Look at the thermocouple, and at the unit that is sent.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class EventWords:
    """An event as its firing's page shows it."""

    event: FiringEvent
    title: str
    what: str
    look_at: str
    seen_to: str

    @property
    def is_open(self) -> bool:
        """Return whether nobody has seen to it."""
        return self.event.acknowledged_at is None


def event_words(
    event: FiringEvent, *, viewer: Viewer, now: datetime, is_over: bool = False
) -> EventWords:
    """Return an event's words; nothing goes on in a firing that is over."""
    seen_to = ""
    if event.acknowledged_at is not None:
        who = event.acknowledged_by or "Somebody"
        seen_to = f"{who} saw to it {viewer.moment(event.acknowledged_at, now)}."
    return EventWords(
        event=event,
        title=TITLES[event.kind],
        what=what_happened(event, viewer, lambda at: viewer.moment(at, now)),
        look_at="" if event.ended_at or is_over else LOOK_AT.get(event.kind, ""),
        seen_to=seen_to,
    )


def what_happened(
    event: FiringEvent, viewer: Viewer, when: Callable[[datetime], str]
) -> str:
    """Say in one sentence what happened, from when to when, and how bad it was."""
    span = _capital(_span(event, when))
    lasts = viewer.duration(whole_minutes(event.amount))
    begins, worst = (
        viewer.temperature(event.begins_c),
        viewer.temperature(event.worst_c),
    )
    is_over = event.ended_at is not None
    match event.kind:
        case EventKind.CUT:
            so_far = "" if is_over else " so far"
            return f"{span}: the kiln fell from {begins} to {worst}{so_far}."
        case EventKind.SILENT:
            return f"{span}: the last reading was {begins}."
        case EventKind.THERMOCOUPLE:
            return f"{span}: impossible readings; the last good one was {begins}."
        case EventKind.STALLED:
            return f"{span}: the kiln stood at about {worst}."
        case EventKind.BEHIND:
            return f"{span}: {lasts} late, at {worst}."
        case EventKind.AHEAD | EventKind.TOO_FAST:
            fastest = viewer.rate(event.amount)
            return f"{span}: up to {fastest}, in {event.segment}."
        case EventKind.TOO_HOT:
            over = viewer.temperature_difference(event.amount)
            return f"{span}: up to {worst}, {over} too hot."
        case EventKind.NOT_REACHED:
            under = viewer.temperature_difference(event.amount)
            at = _capital(when(event.begins_at))
            return f"{at}: it turned back at {worst}, {under} short."
        case EventKind.SHORT_HOLD:
            return f"{span}: {lasts} short, in {event.segment}."
        case EventKind.UNUSABLE:
            return f"{span}: the readings make no sense; the last was {worst}."
    return f"{_capital(when(event.begins_at))}: at {begins}."


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _span(event: FiringEvent, when: Callable[[datetime], str]) -> str:
    begins = when(event.begins_at)
    if event.ended_at is None:
        return f"Since {begins}"
    day, _, ends = when(event.ended_at).rpartition(" ")
    return f"{begins} to {ends if begins.startswith(day) else f'{day} {ends}'}"


def letter_of(
    event: FiringEvent,
    *,
    judgement: Judgement | None,
    known: Known | None,
    now: datetime,
) -> Callable[[Viewer], Letter]:
    """Return what writes the message on an event in its reader's units.

    It says what happened, what that did to the glass, what to do, and when the kiln may
    be opened. `judgement` is none where it does not know of the event.
    """
    firing = event.firing

    def write(viewer: Viewer) -> Letter:
        lines = [what_happened(event, viewer, lambda at: clock(at, viewer))]
        if look_at := "" if event.ended_at else LOOK_AT.get(event.kind, ""):
            lines.append(look_at)
        if judgement is not None:
            lines += advice_lines(judgement, viewer, now)
        if known is not None:
            lines.append(f"{known_words(known, viewer, now)}.")
        return Letter(
            title=f"{firing.kiln}: {TITLES[event.kind].lower()}",
            text="\n".join(lines),
        )

    return write


def opening_letter(
    event: FiringEvent, *, known: Known, now: datetime
) -> Callable[[Viewer], Letter]:
    """Return what writes that a kiln may be opened."""
    firing = event.firing

    def write(viewer: Viewer) -> Letter:
        lines = [f"{firing.booking.title}.", f"{known_words(known, viewer, now)}."]
        if event.segment:
            lines.append("Read the kiln before you open it.")
        return Letter(title=f"{firing.kiln}: ready to unload", text="\n".join(lines))

    return write


def advice_lines(judgement: Judgement, viewer: Viewer, now: datetime) -> list[str]:
    """Return what a judgement says of the glass, and what to type if anything."""
    words = words_of(judgement, viewer=viewer, now=now)
    lines = [f"The glass: {words.title[:1].lower()}{words.title[1:]}."]
    option = next((one for one in words.options if one.is_recommended), None)
    if option is None:
        return [*lines, words.next_words] if words.next_words else lines
    if option.types_nothing or not option.rows:
        return [*lines, f"{option.title}. {option.outcome}"]
    typed = [_typed(row) for row in option.rows]
    return [*lines, f"{option.title}. Type:", *typed, option.outcome]


def _typed(row: SegmentRow) -> str:
    """Return a segment as it is typed: "2. 27 °F/h to 900 °F, hold 0:40"."""
    hold = "" if row.hold == "none" else f", hold {row.typed_hold}"
    return f"{row.number}. {row.typed_rate} to {row.typed_target}{hold}"


def clock(at: datetime, viewer: Viewer) -> str:
    """Show an instant for whoever reads it whenever: "Fri 02:10"."""
    return f"{at.astimezone(viewer.zone):%a %H:%M}"


def history_words(event: FiringEvent, firing: Firing) -> str:
    """Return what the studio's history says of an event."""
    if event.kind == MAY_BE_OPENED:
        return f"{firing.kiln} may be opened: “{firing.booking.title}”"
    over = " is over" if event.ended_at is not None else ""
    return f"{TITLES[event.kind]}{over} in {firing.kiln}: “{firing.booking.title}”"
