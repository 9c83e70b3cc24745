"""A plan as its page shows it: what is fired when, who does what, what is ready when."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from itertools import groupby

from django.urls import reverse

from firing.drawings.curve_mark import CurveMark, build_curve_mark
from firing.kiln_time.selectors.kiln_time import booking_href
from firing.loads.selectors.firings import (
    FiringView,
    firings,
    view_firings,
    with_curves,
)
from firing.loads.selectors.names import name_of_planned
from firing.loads.selectors.planned import (
    GRACE,
    planned_firings,
    planned_work,
    unready_items,
)
from firing.models import Booking, FiringKind, Plan, PlannedFiring
from firing.plans.selectors.names import Names, fill_words
from firing.plans.selectors.places import places_words
from firing.plans.selectors.record import Record
from firing.plans.selectors.words import due_words
from studio.models import Studio
from studio.selectors.due_dates import due_dates
from studio.selectors.pictures import looks_of_pieces
from studio.viewer import Viewer, day_words

TASKS = {"paint": "Paint", "assembly": "Stack", "coldwork": "Cold work on"}


@dataclass(frozen=True, slots=True, kw_only=True)
class FiringLine:
    """One firing of a plan, in words."""

    starts_at: datetime
    at: str
    until: str
    kiln: str
    name: str
    fill: str
    state: str
    kind: str
    booking: int | None = None
    href: str = ""
    may_confirm: bool = False
    make_up_href: str = ""
    is_due: bool = False
    unready: str = ""
    curve: CurveMark | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DeliveryLine:
    """When a piece is ready, and whether that is late."""

    piece: int
    title: str
    ready: str
    words: str
    is_late: bool
    src: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A plan as its page shows it."""

    days: tuple[tuple[str, tuple[FiringLine, ...]], ...]
    people: tuple[tuple[str, tuple[tuple[str, tuple[str, ...]], ...]], ...]
    deliveries: tuple[DeliveryLine, ...]
    firing_count: int
    provisional_count: int


def option_sheet(record: Record, *, viewer: Viewer, now: datetime) -> Sheet:
    """Return a plan that was not accepted as its page shows it."""
    named = [
        *(item["piece"] for row in record["firings"] for item in row["items"]),
        *(row["piece"] for row in [*record["fuses"], *record["work"]]),
        *map(int, record["deliveries"]),
    ]
    names = Names(viewer.studio, named)
    lines = [
        _line(row, names, viewer, now) for row in [*record["firings"], *record["fuses"]]
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
    return _sheet(lines, work, record["deliveries"], names, viewer)


def standing_sheet(
    plan: Plan, deliveries: Mapping[str, str], *, viewer: Viewer, now: datetime
) -> Sheet:
    """Return the standing plan, with the firings made up for it and those running."""
    planned = list(planned_firings(plan.studio))
    to_do = [
        row
        for row in planned_work(plan.studio).filter(ends_at__gt=now)
        if not (row.of_pass and row.of_pass.painted_at)
    ]
    in_it = {*_pieces_in(planned), *map(int, deliveries)}
    names = Names(viewer.studio, in_it | {row.piece_id for row in to_do})
    lines = [_planned_line(row, viewer, now) for row in planned]
    made_up = firings(plan.studio).filter(
        cancelled_at__isnull=True, finished_at__isnull=True
    )
    lines += [
        _real_line(view, viewer, now)
        for view in with_curves(
            view_firings(made_up, viewer=viewer, now=now), plan.studio
        )
    ]
    work = [
        (str(row.person), row.task, row.piece_id, row.layer_id, row.segments)
        for row in to_do
    ]
    return _sheet(lines, work, deliveries, names, viewer)


def planned_today(viewer: Viewer, now: datetime) -> list[FiringLine]:
    """Return the planned firings to load by the end of the day, but none missed."""
    midnight = (now.astimezone(viewer.zone) + timedelta(days=1)).replace(
        hour=0, minute=0, second=0, microsecond=0
    )
    rows = list(
        planned_firings(viewer.studio).filter(
            booking__starts_at__gt=now - GRACE, booking__starts_at__lt=midnight
        )
    )
    return [
        replace(
            _planned_line(row, viewer, now),
            is_due=row.booking.starts_at <= now,
            unready=_unready_words(row),
        )
        for row in rows
    ]


def planned_of(booking: Booking, *, viewer: Viewer, now: datetime) -> FiringLine | None:
    """Return what the standing plan wants a booking for; none for any other booking."""
    row = planned_firings(viewer.studio).filter(booking=booking).first()
    if row is None:
        return None
    return _planned_line(row, viewer, now)


def _pieces_in(rows: Iterable[PlannedFiring]) -> set[int]:
    return {item.piece_id for row in rows for item in row.items.all()}


def _line(row: Record, names: Names, viewer: Viewer, now: datetime) -> FiringLine:
    starts_at = datetime.fromisoformat(row["starts_at"])
    opens_at = datetime.fromisoformat(row["opens_at"])
    items = row.get("items")
    return FiringLine(
        starts_at=starts_at,
        at=viewer.clock(starts_at),
        until=viewer.moment(opens_at, now),
        kiln=names.kiln(row["kiln"]),
        name=names.firing(row["kind"], items or [row]),
        fill=names.fill(items, row["kiln"]) if items else "",
        state="Planned",
        kind="planned",
    )


def _planned_line(row: PlannedFiring, viewer: Viewer, now: datetime) -> FiringLine:
    booking, pieces = row.booking, [item.piece for item in row.items.all()]
    is_enamel = row.kind == FiringKind.ENAMEL
    is_late = booking.starts_at <= now - GRACE
    state, kind = ("Provisional", "planned")
    if not booking.is_provisional:
        state, kind = ("Confirmed", "done")
    if is_late:
        state, kind = (f"{state}, not loaded in time", "problem")
    return FiringLine(
        starts_at=booking.starts_at,
        at=viewer.clock(booking.starts_at),
        until=viewer.moment(row.unload_at, now),
        kiln=str(booking.kiln),
        name=name_of_planned(row),
        fill=fill_words(pieces, booking.kiln) if is_enamel else "",
        state=state,
        kind=kind,
        booking=booking.pk,
        href=booking_href(booking),
        may_confirm=booking.is_provisional and not is_late,
        make_up_href=f"{reverse('firing:load_new')}?kiln={booking.kiln_id}"
        if is_enamel
        else reverse("firing:fuse_plan", args=[pieces[0].pk]),
        curve=build_curve_mark(planned=booking.planned_curve, recorded=()),
    )


def _unready_words(row: PlannedFiring) -> str:
    """Say what of a planned load is not ready for the kiln yet."""
    left = unready_items(row)
    if not left:
        return ""
    if row.kind != FiringKind.ENAMEL:
        return f"{left[0].piece} is not stacked yet."
    return f"Not painted yet: {places_words(left)}."


def _real_line(view: FiringView, viewer: Viewer, now: datetime) -> FiringLine:
    booking, known = view.booking, view.known
    until = viewer.moment(known.about if known else booking.opens_at, now)
    return FiringLine(
        starts_at=booking.starts_at,
        at=viewer.clock(booking.starts_at),
        until="once it is cold" if known and known.is_due else until,
        kiln=str(view.firing.kiln),
        name=view.title,
        fill="",
        state=view.state_words if view.is_running else "Made up",
        kind=view.status_kind if view.is_running else "waiting",
        booking=booking.pk,
        href=booking_href(booking),
        curve=view.curve,
    )


# Somebody, and day by day what they do.
PersonDays = tuple[str, tuple[tuple[str, tuple[str, ...]], ...]]
WorkRow = tuple[str, str, int, int | None, list[list[str]]]


def _sheet(
    lines: Sequence[FiringLine],
    work: Sequence[WorkRow],
    deliveries: Mapping[str, str],
    names: Names,
    viewer: Viewer,
) -> Sheet:
    in_order = sorted(lines, key=lambda one: (one.starts_at, one.kiln))
    days = [
        (day, tuple(group))
        for day, group in groupby(in_order, lambda one: viewer.day(one.starts_at))
    ]
    return Sheet(
        days=tuple(days),
        people=tuple(_people(work, names, viewer)),
        deliveries=tuple(_deliveries(deliveries, names, viewer.studio)),
        firing_count=len(lines),
        provisional_count=sum(one.may_confirm for one in lines),
    )


def _people(
    work: Sequence[WorkRow], names: Names, viewer: Viewer
) -> Iterable[PersonDays]:
    """Yield each person's days of work, with what is done on each."""
    by_person: dict[str, dict[date, list[tuple[datetime, datetime, str]]]] = (
        defaultdict(lambda: defaultdict(list))
    )
    for person, task, piece, layer, segments in work:
        what = f"{TASKS[task]} {names.piece(piece)}"
        if layer is not None:
            number = names.layers.get(layer, 0)
            what = f"{TASKS[task]} layer {number} of {names.piece(piece)}"
        for start, end in segments:
            begins = datetime.fromisoformat(start).astimezone(viewer.zone)
            ends = datetime.fromisoformat(end).astimezone(viewer.zone)
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
    dates, looks = due_dates(studio), looks_of_pieces(studio, map(int, deliveries))
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
            src=looks.get(pk, ""),
        )
