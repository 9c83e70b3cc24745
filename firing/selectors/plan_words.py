"""Plans in the reader's words: how good one is, what it has fired when, who does what,
what comes when, and what another plan would change.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import groupby
from typing import Any

from django.urls import reverse

from firing.models import Booking, FiringKind
from firing.models import Plan as PlanRow
from firing.planning.progress import Progress
from firing.selectors.due_dates import due_dates
from firing.selectors.firings import FiringState, firings, load_words, state_of
from firing.selectors.kiln_time import booking_href
from firing.selectors.plan_record import Record
from firing.selectors.planned import planned_firings, planned_work
from firing.selectors.promise_words import day_words
from studio.models import Kiln, Layer, Person, Piece, Studio
from studio.reader import Reader

TASKS = {"paint": "Paint", "assembly": "Stack", "coldwork": "Cold work on"}
OPTION_TITLES = {
    "whole": "The whole plan",
    "wider": "Less late, moves more",
    "least": "Moves the least",
}


def count_words(count: int, one: str, many: str = "") -> str:
    """Return "1 firing", "3 firings"."""
    return f"{count} {one if count == 1 else many or one + 's'}"


def late_words(days: int) -> str:
    """Say how late a plan is in all."""
    return "nothing late" if not days else f"{count_words(days, 'day')} late in all"


def progress_words(progress: Progress) -> str:
    """Say in at most 200 characters how a search stands."""
    if progress.undelivered:
        best = f"{count_words(progress.undelivered, 'piece')} without a place so far"
    else:
        best = f"{late_words(progress.weighted_days_late)}, {progress.kwh:.0f} kWh"
    bound = (
        f"at least {count_words(progress.least_days_late, 'day')} late"
        if progress.least_days_late
        else "nothing late"
    )
    return (
        f"Best so far: {best}. No plan can be better than {bound}, "
        f"{progress.least_kwh:.0f} kWh. {progress.tries} tries, "
        f"{progress.share * 100:.0f} % of the search."
    )


def quality_words(plan: PlanRow, option: Mapping[str, Any]) -> list[str]:
    """Say honestly how far an option is from the best that could be."""
    verdict = option["verdict"]
    days, kwh = verdict["days_late"], verdict["kwh"]
    told = [f"{late_words(days)[:1].upper()}{late_words(days)[1:]}, {kwh:.0f} kWh."]
    if plan.is_proved_best and option is plan.options[0]:
        told.append("No plan can be better than this one.")
    elif days > plan.least_days_late:
        least = (
            "No plan can be less than "
            f"{count_words(plan.least_days_late, 'day')} late in all"
            if plan.least_days_late
            else "That nothing is late has not been ruled out"
        )
        told.append(f"{least}; whether one between exists is not known.")
    else:
        told.append("No plan can be less late.")
        told.append(
            f"None can need less than {plan.least_kwh:.0f} kWh; whether "
            f"{kwh:.0f} kWh can be bettered is not known."
        )
    if plan.was_stopped:
        told.append("The search was stopped; a longer one may find a better plan.")
    return told


@dataclass(frozen=True, slots=True, kw_only=True)
class FiringLine:
    """One firing of a plan, in words."""

    starts_at: datetime
    at: str
    until: str
    kiln: str
    title: str
    load: str
    fill: str
    state: str
    kind: str
    booking: int | None = None
    href: str = ""
    may_confirm: bool = False
    make_up_href: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DeliveryLine:
    """When a piece is ready, and whether that is late."""

    piece: int
    title: str
    ready: str
    words: str
    is_late: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A plan as its page shows it."""

    days: tuple[tuple[str, tuple[FiringLine, ...]], ...]
    people: tuple[tuple[str, tuple[tuple[str, tuple[str, ...]], ...]], ...]
    deliveries: tuple[DeliveryLine, ...]
    firing_count: int
    provisional_count: int


class Names:
    """What kilns, people, pieces and layers are called, read once for a page."""

    def __init__(self, studio: Studio) -> None:
        self.kilns = {kiln.pk: kiln for kiln in Kiln.owned.for_studio(studio)}
        self.pieces = {one.pk: one for one in Piece.owned.for_studio(studio)}
        self.people: dict[int, str] = {
            person.pk: str(person)
            for person in Person.objects.filter(memberships__studio=studio)
        }
        self.layers = dict(
            Layer.owned.for_studio(studio).values_list("pk", "number").order_by("pk")
        )

    def piece(self, pk: int) -> str:
        found = self.pieces.get(pk)
        return str(found) if found is not None else "A piece that is gone"

    def kiln(self, pk: int) -> str:
        found = self.kilns.get(pk)
        return str(found) if found is not None else "a kiln that is gone"

    def load(self, items: Iterable[Record]) -> str:
        """Say which layers of which pieces are in a firing."""
        rows: dict[int, list[int]] = defaultdict(list)
        for item in items:
            rows[item["piece"]].append(self.layers.get(item["layer"], 0))
        return "; ".join(
            f"{self.piece(pk)}: {layer_words(numbers)}" for pk, numbers in rows.items()
        )

    def fill(self, items: Sequence[Record], kiln: int) -> str:
        """Say how much of the shelf a load covers."""
        shelf = self.kilns.get(kiln)
        if shelf is None:
            return ""
        area = sum(
            one.width_mm * one.height_mm
            for item in items
            if (one := self.pieces.get(item["piece"])) is not None
        )
        share = area / (shelf.shelf_width_mm * shelf.shelf_depth_mm)
        return f"{count_words(len(items), 'layer')}, {share * 100:.0f} % of the shelf"


def layer_words(numbers: Iterable[int]) -> str:
    """Return "layer 3" or "layers 3, 4, 7"."""
    found = sorted(set(numbers))
    return ("layer " if len(found) == 1 else "layers ") + ", ".join(map(str, found))


def option_sheet(record: Record, *, reader: Reader, now: datetime) -> Sheet:
    """Return a plan that was not taken as its page shows it."""
    names = Names(reader.studio)
    lines = [
        _line(row, names, reader, now) for row in [*record["firings"], *record["fuses"]]
    ]
    work = [
        (
            names.people.get(row["person"], "Somebody"),
            row["task"],
            row["piece"],
            row.get("layer"),
            row["segments"],
        )
        for row in record["work"]
    ]
    return _sheet(lines, work, record["deliveries"], names, reader)


def standing_sheet(
    plan: PlanRow, deliveries: Mapping[str, str], *, reader: Reader, now: datetime
) -> Sheet:
    """Return the standing plan, with what was made up for it and what runs."""
    names = Names(reader.studio)
    lines = [_planned_line(row, names, reader, now) for row in _planned(plan)]
    lines += [
        _real_line(firing, reader, now)
        for firing in firings(plan.studio).filter(
            cancelled_at__isnull=True, finished_at__isnull=True
        )
    ]
    work = [
        (str(row.person), row.task, row.piece_id, row.layer_id, row.segments)
        for row in planned_work(plan.studio)
        if row.ends_at > now and not (row.of_pass and row.of_pass.painted_at)
    ]
    return _sheet(lines, work, deliveries, names, reader)


def planned_today(reader: Reader, now: datetime) -> list[FiringLine]:
    """Return the planned firings that are to be loaded until the end of the day."""
    midnight = (now.astimezone(reader.zone) + timedelta(days=1)).replace(
        hour=0, minute=0, second=0, microsecond=0
    )
    rows = list(
        planned_firings(reader.studio).filter(
            booking__starts_at__gte=now, booking__starts_at__lt=midnight
        )
    )
    if not rows:
        return []
    names = Names(reader.studio)
    return [_planned_line(row, names, reader, now) for row in rows]


def planned_of(booking: Booking, *, reader: Reader, now: datetime) -> FiringLine | None:
    """Return what the standing plan wants a booking for; none for any other booking."""
    row = planned_firings(reader.studio).filter(booking=booking).first()
    if row is None:
        return None
    return _planned_line(row, Names(reader.studio), reader, now)


def _planned(plan: PlanRow) -> Any:
    return planned_firings(plan.studio)


def _line(row: Record, names: Names, reader: Reader, now: datetime) -> FiringLine:
    starts_at = datetime.fromisoformat(row["starts_at"])
    opens_at = datetime.fromisoformat(row["opens_at"])
    items = row.get("items")
    return FiringLine(
        starts_at=starts_at,
        at=reader.clock(starts_at),
        until=reader.moment(opens_at, now),
        kiln=names.kiln(row["kiln"]),
        title=FiringKind(row["kind"]).label,
        load=names.load(items) if items else names.piece(row["piece"]),
        fill=names.fill(items, row["kiln"]) if items else "",
        state="Planned",
        kind="planned",
    )


def _planned_line(row: Any, names: Names, reader: Reader, now: datetime) -> FiringLine:
    booking = row.booking
    items = [
        {"piece": item.piece_id, "layer": item.layer_id} for item in row.items.all()
    ]
    is_enamel = row.kind == FiringKind.ENAMEL
    is_late = booking.starts_at < now
    state, kind = ("Provisional", "planned")
    if not booking.is_provisional:
        state, kind = ("Confirmed", "done")
    if is_late:
        state, kind = (f"{state}, not loaded in time", "problem")
    return FiringLine(
        starts_at=booking.starts_at,
        at=reader.clock(booking.starts_at),
        until=reader.moment(row.unload_at, now),
        kiln=str(booking.kiln),
        title=row.get_kind_display(),
        load=names.load(items)
        if is_enamel
        else ", ".join(names.piece(item["piece"]) for item in items),
        fill=names.fill(items, booking.kiln_id) if is_enamel else "",
        state=state,
        kind=kind,
        booking=booking.pk,
        href=booking_href(booking),
        may_confirm=booking.is_provisional and not is_late,
        make_up_href=f"{reverse('firing:load_new')}?kiln={booking.kiln_id}"
        if is_enamel
        else reverse("firing:fuse_plan", args=[items[0]["piece"]]),
    )


def _real_line(firing: Any, reader: Reader, now: datetime) -> FiringLine:
    state = state_of(firing, now)
    words, kind = {
        FiringState.PLANNED: ("Made up", "waiting"),
        FiringState.RUNNING: ("Running", "hot"),
    }.get(state, ("May be opened", "waiting"))
    booking = firing.booking
    return FiringLine(
        starts_at=booking.starts_at,
        at=reader.clock(booking.starts_at),
        until=reader.moment(booking.opens_at, now),
        kiln=str(firing.kiln),
        title=firing.get_kind_display(),
        load=load_words(firing),
        fill="",
        state=words,
        kind=kind,
        booking=booking.pk,
        href=booking_href(booking),
    )


Work = tuple[str, str, int, int | None, list[list[str]]]


def _sheet(
    lines: Sequence[FiringLine],
    work: Sequence[Work],
    deliveries: Mapping[str, str],
    names: Names,
    reader: Reader,
) -> Sheet:
    in_order = sorted(lines, key=lambda one: (one.starts_at, one.kiln))
    days = [
        (day, tuple(group))
        for day, group in groupby(in_order, lambda one: reader.day(one.starts_at))
    ]
    return Sheet(
        days=tuple(days),
        people=tuple(_people(work, names, reader)),
        deliveries=tuple(_deliveries(deliveries, names, reader.studio)),
        firing_count=len(lines),
        provisional_count=sum(one.may_confirm for one in lines),
    )


def _people(work: Sequence[Work], names: Names, reader: Reader) -> Iterable[Any]:
    """Yield per person the days of work, and on each what is done."""
    by_person: dict[str, dict[date, list[tuple[datetime, datetime, str]]]] = (
        defaultdict(lambda: defaultdict(list))
    )
    for person, task, piece, layer, segments in work:
        what = f"{TASKS[task]} {names.piece(piece)}"
        if layer is not None:
            number = names.layers.get(layer, 0)
            what = f"{TASKS[task]} layer {number} of {names.piece(piece)}"
        for start, end in segments:
            begins = datetime.fromisoformat(start).astimezone(reader.zone)
            ends = datetime.fromisoformat(end).astimezone(reader.zone)
            by_person[person][begins.date()].append((begins, ends, what))
    for person in sorted(by_person):
        rows = []
        for day in sorted(by_person[person]):
            lines = tuple(
                f"{begins:%H:%M}–{ends:%H:%M} {what}"
                for begins, ends, what in sorted(by_person[person][day])
            )
            rows.append((day_words(day), lines))
        yield person, tuple(rows)


def _deliveries(
    deliveries: Mapping[str, str], names: Names, studio: Studio
) -> Iterable[DeliveryLine]:
    dates = due_dates(studio)
    rows = sorted(deliveries.items(), key=lambda row: (row[1], int(row[0])))
    for key, text in rows:
        pk, ready = int(key), date.fromisoformat(text)
        if pk not in names.pieces:
            continue
        words, is_late = due_words(ready, dates.get(pk))
        yield DeliveryLine(
            piece=pk,
            title=names.piece(pk),
            ready=day_words(ready),
            words=words,
            is_late=is_late,
        )


def due_words(ready: date, due: date | None) -> tuple[str, bool]:
    """Say how a day of delivery stands to the promised one, and whether it is late."""
    if due is None:
        return "no date promised", False
    days = (ready - due).days
    promised = f"promised for {day_words(due)}"
    if days > 0:
        return f"{promised}: {count_words(days, 'day')} late", True
    if days == 0:
        return f"{promised}: just in time", False
    return f"{promised}: {count_words(-days, 'day')} in hand", False


# --- changes ------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceChanges:
    """What another plan changes for one piece, a sentence each."""

    piece: int
    title: str
    lines: tuple[str, ...]
    delivery: str
    is_late: bool


def changes_words(
    option: Mapping[str, Any], *, reader: Reader, now: datetime
) -> list[PieceChanges]:
    """Return what an option changes, piece by piece, in the reader's time."""
    names = Names(reader.studio)
    dates = due_dates(reader.studio)
    found = []
    rows = sorted(option["changes"], key=lambda one: one["piece"])
    for piece, group in groupby(rows, lambda one: one["piece"]):
        changes = list(group)
        delivery, is_late = "", False
        for one in changes:
            if one["what"] == "delivery":
                delivery, is_late = _delivery_change(one, dates.get(piece))
        found.append(
            PieceChanges(
                piece=piece,
                title=names.piece(piece),
                lines=tuple(_lines(changes, names, reader, now)),
                delivery=delivery,
                is_late=is_late,
            )
        )
    return found


def _delivery_change(one: Record, due: date | None) -> tuple[str, bool]:
    if one["after"] is None:
        return "No longer in the plan.", False
    ready = date.fromisoformat(one["after"])
    words, is_late = due_words(ready, due)
    if one["before"] is None:
        return f"Ready {day_words(ready)}, {words}.", is_late
    before = date.fromisoformat(one["before"])
    return f"Ready {day_words(ready)} instead of {day_words(before)}, {words}.", is_late


def _lines(
    changes: Sequence[Record], names: Names, reader: Reader, now: datetime
) -> Iterable[str]:
    spots: dict[tuple[Any, ...], list[int]] = defaultdict(list)
    for one in changes:
        if one["what"] == "firing":
            key = (tuple(one["before"] or ()), tuple(one["after"] or ()))
            spots[key].append(names.layers.get(one["layer"], 0))
    fuse = "The firing of the stack"

    def where(spot: Sequence[Any]) -> str:
        at = datetime.fromisoformat(spot[1])
        return f"{names.kiln(spot[0])}, {reader.moment(at, now)}"

    for (before, after), numbers in sorted(spots.items(), key=str):
        words = layer_words(numbers)
        yield f"{words[:1].upper()}{words[1:]}: {_from_to(before, after, where)}."
    for one in changes:
        if one["what"] == "fuse":
            moved = _from_to(one["before"] or (), one["after"] or (), where)
            yield f"{fuse}: {moved}."
    yield from _work_lines(changes, names, reader, now)


def _from_to(before: Sequence[Any], after: Sequence[Any], where: Any) -> str:
    if not before:
        return f"new, in {where(after)}"
    if not after:
        return f"no longer in {where(before)}"
    return f"from {where(before)} to {where(after)}"


def _work_lines(
    changes: Sequence[Record], names: Names, reader: Reader, now: datetime
) -> Iterable[str]:
    by_person: dict[int, list[str]] = defaultdict(list)
    for one in changes:
        if one["what"] == "work" and one["after"] and one["after"][1]:
            by_person[one["after"][0]].append(one["after"][1])
    for person, starts in sorted(by_person.items()):
        first = datetime.fromisoformat(min(starts))
        yield (
            f"{names.people.get(person, 'Somebody')}: "
            f"{count_words(len(starts), 'task')} at other hours, the first now "
            f"{reader.moment(first, now)}."
        )
