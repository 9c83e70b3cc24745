"""The facts that a plan is computed from, by name, and what changed between two states
of them in words.

Facts are rows of the studio: what stands in the kilns, passes of open pieces, people,
hours, closures, promised dates. Two plans from equal facts need not be compared further.
"""

import hashlib
import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import asdict
from datetime import date, datetime

from firing.models import BookingKind
from firing.selectors.bench_times import bench_times
from firing.selectors.bookings import bookings
from firing.selectors.due_dates import due_dates
from firing.selectors.firings import running_firings
from firing.selectors.plan_places import NOWHERE, PLANNED, Places
from studio.models import AccessHours, Closure, Kiln, Membership, Studio
from studio.reader import Reader
from studio.selectors.people import members
from studio.selectors.pieces import LayerView, open_pieces

# By name: how the thing stands, and what it is called.
Facts = dict[str, list[str]]
Stored = Mapping[str, list[str]]
LONGEST_LIST = 8
OF_A_LAYER = re.compile(r"Layer (\d+) of (.*)", re.DOTALL)


def plan_facts(studio: Studio, now: datetime) -> Facts:
    """Return the facts of a studio that a plan depends on."""
    return FactsRead(studio, now).facts()


class FactsRead:
    """What a plan depends on and does not itself write, read once: work, people, hours.

    `facts` adds the rest, as it is whenever it is asked.
    """

    def __init__(self, studio: Studio, now: datetime) -> None:
        self.studio, self.now = studio, now
        self.reader = Reader.of_studio(studio)
        self.views = list(open_pieces(studio))
        self.dates = due_dates(studio)
        self.still = self._still()

    def facts(self) -> Facts:
        """Return the facts as they are with the bookings and plans that stand now."""
        found = self._in_kilns()
        places = Places(self.studio)
        for view in self.views:
            piece = view.piece
            due = self.dates.get(piece.pk)
            state = [
                view.stage.value,
                f"{piece.width_mm}x{piece.height_mm}x{view.height_mm}",
                due.isoformat() if due else "",
                str(piece.maker_id or ""),
            ]
            found[f"piece:{piece.pk}"] = ["|".join(state), piece.title]
            for layer in view.layers:
                found |= _layer(layer, piece.title, places)
        return found | self.still

    def _in_kilns(self) -> Facts:
        found: Facts = {}
        standing = bookings(self.studio).filter(
            ends_at__gt=self.now, cancelled_at__isnull=True
        )
        for booking in standing.select_related("kiln", "firing", "planned_firing"):
            firing = getattr(booking, "firing", None)
            is_planned = getattr(booking, "planned_firing", None) is not None
            state = [
                str(booking.kiln),
                booking.starts_at.isoformat(),
                booking.ends_at.isoformat(),
                "provisional" if booking.is_provisional else "fixed",
                "running" if firing is not None and firing.started_at else "",
                "by the plan" if is_planned else "",
            ]
            when = _moment(booking.starts_at, self.reader)
            words = f"“{booking.title}” in {booking.kiln} ({when})"
            if booking.kind == BookingKind.MAINTENANCE:
                words = f"Maintenance {words}"
            found[f"booking:{booking.pk}"] = ["|".join(state), words]
        for firing in running_firings(self.studio):
            late = "late" if firing.booking.ends_at < self.now else ""
            words = f"“{firing.booking.title}” in {firing.kiln}"
            found[f"inside:{firing.pk}"] = [late or "inside", words]
        return found

    def _still(self) -> Facts:
        studio, reader, found = self.studio, self.reader, Facts()
        rows = members(studio).select_related("bench_terms")
        for member in rows.prefetch_related("bench_hours", "days_away"):
            found |= _person(member, self.now)
        for kiln in Kiln.owned.for_studio(studio):
            state = json.dumps(
                [getattr(kiln, f.attname) for f in kiln._meta.concrete_fields],
                default=str,
            )
            found[f"kiln:{kiln.pk}"] = [_digest(state), kiln.name]
        for closure in Closure.owned.for_studio(studio).filter(ends_at__gt=self.now):
            where = str(closure.kiln) if closure.kiln_id else "The studio"
            span = (
                f"{_moment(closure.starts_at, reader)} to "
                f"{_moment(closure.ends_at, reader)}"
            )
            state = f"{closure.starts_at.isoformat()}|{closure.ends_at.isoformat()}"
            found[f"closure:{closure.pk}"] = [
                state,
                f"{where} is closed from {span}: {closure.reason}",
            ]
        hours = AccessHours.owned.for_studio(studio).order_by("pk")
        words = "The hours in which somebody is in"
        found["hours:0"] = [_digest("|".join(str(one) for one in hours)), words]
        times = json.dumps(asdict(bench_times(studio)))
        found["bench:0"] = [times, "The minutes reckoned for work by hand"]
        return found


def _moment(at: datetime, reader: Reader) -> str:
    """Return an instant in words that stay true: facts are read on later days."""
    return f"{at.astimezone(reader.zone):%a %-d %b %H:%M}"


def _person(member: Membership, now: datetime) -> Facts:
    """Return a person's role, hours and skills, and each of their times away."""
    name = str(member.person)
    terms = getattr(member, "bench_terms", None)
    own = [str(one) for one in member.bench_hours.all()]
    if terms is not None:
        own += [
            str(getattr(terms, field.attname)) for field in terms._meta.concrete_fields
        ]
    state = "active" if member.is_active else "away"
    found = {
        f"person:{member.person_id}": [
            f"{member.role}|{_digest('|'.join(own))}|{state}",
            name,
        ]
    }
    for away in member.days_away.all():
        if away.ends_date >= now.date():
            span = f"{away.starts_date.isoformat()}|{away.ends_date.isoformat()}"
            found[f"away:{away.pk}"] = [span, f"{name} is away {away}"]
    return found


def _layer(view: LayerView, title: str, places: Places) -> Facts:
    name = f"Layer {view.number} of {title}"
    found: Facts = {}
    for sheet in view.earlier_sheets:
        if sheet.set_aside_at is not None:
            words = f"{name}: set aside and made again"
            if sheet.set_aside_reason:
                words += f" ({sheet.set_aside_reason})"
            found[f"sheet:{sheet.pk}"] = ["aside", words]
    layer = view.layer.pk
    if view.sheet is None:
        found[f"uncut:{layer}"] = [f"uncut|{places.of_uncut(layer)}", name]
        return found
    for one in view.passes:
        state = one.outcome or ("painted" if one.painted_at else "planned")
        if not one.outcome:
            state += f"|{places.of(one, layer=layer, attempt=view.sheet.attempt)}"
        again = ", again" if one.is_repeat else ""
        found[f"pass:{one.pk}"] = [state, f"{name}, pass {one.number}{again}"]
    return found


def fingerprint(facts: Facts) -> str:
    """Return the same text for the same facts."""
    states = {name: state for name, (state, _) in facts.items()}
    return _digest(json.dumps(states, sort_keys=True))


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def changes_between(before: Stored, after: Stored, *, now: datetime) -> list[str]:
    """Return what changed, a sentence each, the weightier first."""
    return _joined(words for _, words in _changes(before, after, now))


def events_between(before: Stored, after: Stored, *, now: datetime) -> list[str]:
    """Return what happened that a plan may break on; progress as planned is left away."""
    return _joined(
        words for is_event, words in _changes(before, after, now) if is_event
    )


def _joined(sentences: Iterable[str]) -> list[str]:
    """Say of several layers at once what is the same of each."""
    numbers: dict[str, list[str]] = {}
    for sentence in sentences:
        found = OF_A_LAYER.match(sentence)
        number, rest = found.groups() if found else ("", sentence)
        numbers.setdefault(rest, []).append(number)
    told = []
    for rest, layers in numbers.items():
        if not layers[0]:
            told.append(rest)
        else:
            word = "Layer" if len(layers) == 1 else "Layers"
            told.append(f"{word} {', '.join(layers)} of {rest}")
    return told


def _changes(before: Stored, after: Stored, now: datetime) -> list[tuple[bool, str]]:
    found = []
    for key in sorted(before.keys() | after.keys(), key=_in_order):
        old, new = before.get(key), after.get(key)
        if new is None and old is not None and _is_over(key, old, now):
            continue
        if old is None or new is None or old[0] != new[0]:
            told = _told(key.partition(":")[0], old, new)
            if told is not None:
                found.append(told)
    return sorted(found, key=lambda row: not row[0])


def _is_over(key: str, old: list[str], now: datetime) -> bool:
    """Say whether a booking or closure is gone because its time has passed."""
    parts = old[0].split("|")
    if key.startswith("away:"):
        return date.fromisoformat(parts[1]) < now.date()
    at = {"booking": 2, "closure": 1}.get(key.partition(":")[0])
    return at is not None and datetime.fromisoformat(parts[at]) <= now


def _in_order(key: str) -> tuple[str, int]:
    kind, _, number = key.partition(":")
    return kind, int(number)


def _told(
    kind: str, old: list[str] | None, new: list[str] | None
) -> tuple[bool, str] | None:
    """Return one change as (whether a plan may break on it, sentence)."""
    name = (new or old or ["", ""])[1]
    if kind == "sheet":
        return None if new is None else (True, f"{name}.")
    if kind in {"pass", "uncut"}:
        return _told_pass(kind, name, old, new)
    if kind == "booking":
        return _told_booking(name, old, new)
    if kind == "inside":
        if new is None:
            return (False, f"{name} was unloaded.")
        if new[0] == "late":
            return (True, f"{name} holds its kiln longer than planned.")
        return None if old is not None else (False, f"{name} was started.")
    if kind == "piece":
        return _told_piece(name, old, new)
    if kind == "person":
        return _told_person(name, old, new)
    if kind == "kiln":
        if old is None:
            return (True, f"{name} is a new kiln.")
        return (True, f"{name} was changed.")
    if kind in {"closure", "away"}:
        return (True, f"{name}{'' if new else ': that was lifted'}.")
    return (kind == "hours", f"{name} were changed.")


def _told_pass(
    kind: str, name: str, old: list[str] | None, new: list[str] | None
) -> tuple[bool, str] | None:
    if new is None:
        return None
    if old is None:
        if kind == "uncut":
            return None  # the sheet that was set aside tells of it
        if ", again" in name:
            return (True, f"{name}: to be painted and fired once more.")
        return (False, f"{name} is new.")
    was, _, had = old[0].partition("|")
    state, _, has = new[0].partition("|")
    if state in {"planned", "painted", "uncut"} and (had, has) == (PLANNED, NOWHERE):
        return (True, f"{name}: no place in the plan any more.")
    if state == was:
        return None
    words = {
        "painted": "painted",
        "planned": "not painted after all",
        "fine": "burnt on",
        "redo": "to be fired again",
        "cracked": "cracked",
    }.get(state, state)
    return (state in {"redo", "cracked"}, f"{name}: {words}.")


def _told_booking(
    name: str, old: list[str] | None, new: list[str] | None
) -> tuple[bool, str] | None:
    if old is None and new is not None:
        return (not new[0].endswith("by the plan"), f"{name} was booked.")
    if new is None and old is not None:
        return (True, f"{name} no longer stands.")
    if old is None or new is None:
        return None
    before, after = old[0].split("|"), new[0].split("|")
    if before[:3] != after[:3]:
        return (True, f"{name} has other times than before.")
    if before[4] != after[4]:
        return (False, f"{name} was started.")
    if before[3] != after[3]:
        return (False, f"{name} was confirmed.")
    return (False, f"{name} was made up.")


def _told_piece(
    name: str, old: list[str] | None, new: list[str] | None
) -> tuple[bool, str]:
    if old is None:
        return (True, f"{name} is a new piece.")
    if new is None:
        return (False, f"{name} is no longer in work.")
    before, after = old[0].split("|"), new[0].split("|")
    if before[2] != after[2]:
        return (True, f"{name} has another promised date.")
    if before[1] != after[1] or before[3] != after[3]:
        return (True, f"{name} was changed.")
    is_broken = after[0] in {"cracked", "fire again", "lost"}
    return (is_broken, f"{name} is {after[0]} now.")


def _told_person(
    name: str, old: list[str] | None, new: list[str] | None
) -> tuple[bool, str]:
    if old is None:
        return (True, f"{name} works here now.")
    if new is None or new[0].endswith("away"):
        return (True, f"{name} no longer works here.")
    return (True, f"{name}’s hours or role were changed.")


def in_short(sentences: Iterable[str]) -> list[str]:
    """Return a list that can be read: the first ones, and how many there are more."""
    found = list(sentences)
    if len(found) <= LONGEST_LIST:
        return found
    more = len(found) - LONGEST_LIST + 1
    return [*found[: LONGEST_LIST - 1], f"And {more} more changes."]
