"""What changed between two states of the facts behind a plan, in words."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from firing.loads.selectors.planned import GRACE
from firing.models import Firing
from firing.plans.selectors.fact_kinds import (
    AnnealFact,
    AwayFact,
    BenchFact,
    BookingFact,
    ClosureFact,
    Fact,
    FactKey,
    Facts,
    HoursFact,
    InsideFact,
    KilnFact,
    OfLayer,
    PassFact,
    PersonFact,
    PieceFact,
    SheetFact,
    UncutFact,
)
from firing.plans.selectors.places import NOWHERE, PLANNED
from studio.stages import Stage
from studio.viewer import Viewer, day_words

LONGEST_LIST = 8
# For facts that were stored in a form no longer read.
NOT_KNOWN = "What happened before Slowcool was last updated is not known."
BROKEN_STAGES = frozenset({Stage.CRACKED, Stage.FIRE_AGAIN, Stage.LOST})
OUTCOMES = {"fine": "burnt on", "redo": "to be fired again", "cracked": "cracked"}
BROKEN_OUTCOMES = frozenset({"redo", "cracked"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One change: whether it may break a plan, and a sentence that says it.

    For a layer the sentence is what follows "Layer 3 of Low water".
    """

    is_event: bool
    words: str
    of_layer: OfLayer | None = None


def changes_between(
    before: Facts, after: Facts, *, viewer: Viewer, now: datetime
) -> list[str]:
    """Return what changed, one sentence each, the most important first."""
    return _joined(_changes(before, after, viewer, now))


def events_between(
    before: Facts, after: Facts, *, viewer: Viewer, now: datetime
) -> list[str]:
    """Return what happened that may break a plan. Progress as planned is left out."""
    found = _changes(before, after, viewer, now)
    return _joined(change for change in found if change.is_event)


def in_short(sentences: Iterable[str]) -> list[str]:
    """Return a list short enough to read: the first ones, and how many more there are."""
    found = list(sentences)
    if len(found) <= LONGEST_LIST:
        return found
    more = len(found) - LONGEST_LIST + 1
    return [*found[: LONGEST_LIST - 1], f"And {more} more changes."]


def _joined(changes: Iterable[Change]) -> list[str]:
    """Put the same change to several layers of a piece into one sentence."""
    groups: dict[tuple[int, str] | int, list[Change]] = {}
    for at, one in enumerate(changes):
        key = at if one.of_layer is None else (one.of_layer.piece, one.words)
        groups.setdefault(key, []).append(one)
    return [_sentence(group) for group in groups.values()]


def _sentence(group: list[Change]) -> str:
    first = group[0]
    if first.of_layer is None:
        return first.words
    numbers = sorted(one.of_layer.layer for one in group if one.of_layer is not None)
    word = "Layer" if len(numbers) == 1 else "Layers"
    return (
        f"{word} {', '.join(map(str, numbers))} of {first.of_layer.title}{first.words}"
    )


def _changes(
    before: Facts, after: Facts, viewer: Viewer, now: datetime
) -> list[Change]:
    found: list[Change] = []
    done = _unloaded(before, after, viewer)
    for key in sorted(before.keys() | after.keys()):
        old, new = before.get(key), after.get(key)
        if old == new or (new is None and (key in done or _is_over(old, now))):
            continue
        told = _told(old, new, viewer)
        if told is not None:
            found.append(told)
    return sorted(found, key=lambda one: not one.is_event)


def _unloaded(before: Facts, after: Facts, viewer: Viewer) -> set[FactKey]:
    """Return bookings that are gone because their firing was unloaded early."""
    kind = BookingFact.kind
    gone = [key for key in before if key[0] == kind and key not in after]
    finished = Firing.owned.for_studio(viewer.studio).filter(
        booking__in=[pk for _, pk in gone], finished_at__isnull=False
    )
    if not gone:
        return set()
    return {(kind, pk) for pk in finished.values_list("booking", flat=True)}


def _is_over(old: Fact | None, now: datetime) -> bool:
    """Return whether a booking or closure is gone because its time has passed."""
    match old:
        case BookingFact() | ClosureFact():
            return old.ends_at <= now
        case AwayFact():
            return old.ends_date < now.date()
    return False


def _told(old: Fact | None, new: Fact | None, viewer: Viewer) -> Change | None:
    """Return what to say about one fact that changed, if anything."""
    match old, new:
        case _, SheetFact():
            because = f" ({new.reason})" if new.reason else ""
            words = f": set aside and made again{because}."
            return Change(is_event=True, words=words, of_layer=new)
        case UncutFact(), UncutFact():
            return _lost_place(new, "") if _loses_place(old, new) else None
        case _, PassFact():
            return _told_pass(old if isinstance(old, PassFact) else None, new)
        case (_, BookingFact()) | (BookingFact(), _):
            return _told_booking(old, new, viewer)
        case (_, InsideFact()) | (InsideFact(), _):
            return _told_inside(old, new)
        case (_, PieceFact()) | (PieceFact(), _):
            return _told_piece(old, new)
        case (_, PersonFact()) | (PersonFact(), _):
            return _told_person(old, new)
    return _told_hours(old, new, viewer)


def _told_hours(old: Fact | None, new: Fact | None, viewer: Viewer) -> Change | None:
    """Return a change to kilns or to the hours when somebody is there."""
    lifted = ": that was lifted" if new is None else ""
    match new or old:
        case KilnFact(name=name):
            what = "is a new kiln" if old is None else "was changed"
            return Change(is_event=True, words=f"{name} {what}.")
        case ClosureFact() as shut:
            where = "The studio" if shut.kiln is None else shut.kiln_name
            span = (
                f"{_moment(shut.starts_at, viewer)} to {_moment(shut.ends_at, viewer)}"
            )
            words = f"{where} is closed from {span}: {shut.reason}{lifted}."
            return Change(is_event=True, words=words)
        case AwayFact() as away:
            span = day_words(away.starts_date)
            if away.ends_date != away.starts_date:
                span += f" to {day_words(away.ends_date)}"
            words = f"{away.name} is away {span}{lifted}."
            return Change(is_event=True, words=words)
        case HoursFact():
            words = "The hours in which somebody is in were changed."
            return Change(is_event=True, words=words)
        case AnnealFact() if old is not None:
            return Change(is_event=True, words="The anneal for a fuse was changed.")
        case BenchFact():
            words = "The minutes reckoned for work by hand were changed."
            return Change(is_event=False, words=words)
    # A sheet or pass that is gone. For a layer to be cut, its sheet says so.
    return None


def _moment(at: datetime, viewer: Viewer) -> str:
    """Return an instant in words that stay true when they are read days later."""
    return f"{at.astimezone(viewer.zone):%a %-d %b %H:%M}"


def _loses_place(old: UncutFact | PassFact, new: UncutFact | PassFact) -> bool:
    return (old.place, new.place) == (PLANNED, NOWHERE)


def _lost_place(new: OfLayer, name: str) -> Change:
    words = f"{name}: no place in the plan any more."
    return Change(is_event=True, words=words, of_layer=new)


def _told_pass(old: PassFact | None, new: PassFact) -> Change | None:
    name = f", pass {new.number}{', again' if new.is_repeat else ''}"
    if old is None and new.is_repeat:
        words = f"{name}: to be painted and fired once more."
        return Change(is_event=True, words=words, of_layer=new)
    if old is None:
        return Change(is_event=False, words=f"{name} is new.", of_layer=new)
    if not new.outcome and _loses_place(old, new):
        return _lost_place(new, name)
    if (old.outcome, old.is_painted) == (new.outcome, new.is_painted):
        return None
    words = "painted" if new.is_painted else "not painted after all"
    if new.outcome:
        words = OUTCOMES.get(new.outcome, new.outcome)
    return Change(
        is_event=new.outcome in BROKEN_OUTCOMES,
        words=f"{name}: {words}.",
        of_layer=new,
    )


def _told_booking(old: Fact | None, new: Fact | None, viewer: Viewer) -> Change | None:
    one = new or old
    if not isinstance(one, BookingFact):
        return None
    kind = "Maintenance " if one.is_maintenance else ""
    when = _moment(one.starts_at, viewer)
    name = f"{kind}“{one.title}” in {one.kiln_name} ({when})"
    if not isinstance(old, BookingFact):
        return Change(is_event=not one.is_planned, words=f"{name} was booked.")
    if new is None:
        return Change(is_event=True, words=f"{name} no longer stands.")
    moved = old.kiln != one.kiln or _shift(old, one) > GRACE
    if moved and (told := _moved(old, one, viewer)):
        return Change(is_event=True, words=told)
    what = ""
    if old.is_running != one.is_running:
        what = "started"
    elif old.is_planned != one.is_planned:
        what = "made up"
    elif old.is_provisional != one.is_provisional:
        what = "confirmed"
    if what:
        return Change(is_event=False, words=f"{name} was {what}.")
    told = _moved(old, one, viewer)
    return Change(is_event=False, words=told) if told else None


def _shift(old: BookingFact, new: BookingFact) -> timedelta:
    """Return by how much a booking begins or ends at another time than before."""
    starts, ends = new.starts_at - old.starts_at, new.ends_at - old.ends_at
    return max(abs(starts), abs(ends))


def _moved(old: BookingFact, new: BookingFact, viewer: Viewer) -> str:
    """Say where a booking is now and where it was; nothing if that reads the same."""
    was, there = _place(old, viewer), _place(new, viewer)
    if was != there:
        return f"“{new.title}” is in {there} instead of {was}."
    ended, ends = _moment(old.ends_at, viewer), _moment(new.ends_at, viewer)
    if ended != ends:
        return f"“{new.title}” in {there} ends {ends} instead of {ended}."
    return ""


def _place(booking: BookingFact, viewer: Viewer) -> str:
    return f"{booking.kiln_name}, {_moment(booking.starts_at, viewer)}"


def _told_inside(old: Fact | None, new: Fact | None) -> Change | None:
    one = new or old
    if not isinstance(one, InsideFact):
        return None
    name = f"“{one.title}” in {one.kiln_name}"
    if new is None:
        return Change(is_event=False, words=f"{name} was unloaded.")
    if one.is_late:
        words = f"{name} holds its kiln longer than planned."
        return Change(is_event=True, words=words)
    return None if old else Change(is_event=False, words=f"{name} was started.")


def _told_piece(old: Fact | None, new: Fact | None) -> Change | None:
    one = new or old
    if not isinstance(one, PieceFact):
        return None
    if not isinstance(old, PieceFact):
        return Change(is_event=True, words=f"{one.title} is a new piece.")
    if new is None:
        return Change(is_event=False, words=f"{one.title} is no longer in work.")
    if old.due_date != one.due_date:
        words = f"{one.title} has another promised date."
        return Change(is_event=True, words=words)
    if old.maker != one.maker or _size(old) != _size(one):
        return Change(is_event=True, words=f"{one.title} was changed.")
    return Change(
        is_event=one.stage in BROKEN_STAGES, words=f"{one.title} is {one.stage} now."
    )


def _size(piece: PieceFact) -> tuple[float, float, float]:
    return (piece.width_mm, piece.height_mm, piece.thickness_mm)


def _told_person(old: Fact | None, new: Fact | None) -> Change | None:
    one = new or old
    if not isinstance(one, PersonFact):
        return None
    what = "’s hours or role were changed"
    if old is None:
        what = " works here now"
    elif new is None or not one.is_active:
        what = " no longer works here"
    return Change(is_event=True, words=f"{one.name}{what}.")
