"""The facts that a plan is computed from, by name; `events` says what changed.

Facts are rows of the studio: what stands in the kilns, passes of open pieces, people,
hours, closures, promised dates. Two plans from equal facts need not be compared further.
"""

import hashlib
import json
from dataclasses import asdict
from datetime import datetime

from firing.kiln_time.selectors.bookings import bookings
from firing.kiln_time.selectors.due_dates import due_dates
from firing.loads.selectors.firings import running_firings
from firing.models import BookingKind
from firing.plans.selectors.bench_times import bench_times
from firing.plans.selectors.places import Places
from studio.models import AccessHours, Closure, Kiln, Membership, Studio
from studio.reader import Reader
from studio.selectors.people import members
from studio.selectors.pieces import LayerView, open_pieces

# By name: how the thing stands, and what it is called.
Facts = dict[str, list[str]]


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
