"""Free spans of kiln time that are long enough, kiln by kiln, earliest first."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum

from firing.kiln_time.selectors.bookings import HORIZON, STEP
from firing.kiln_time.selectors.fuses import problems_of
from firing.kiln_time.selectors.occupancy import LOOK_AHEAD, taken_in
from firing.kiln_time.selectors.unloading import Unloading
from firing.models import FiringKind
from firing.physics.schedule import PhysicsProblem
from firing.planning.problem import practice
from firing.planning.spans.free_time import Span, without
from firing.planning.spans.moving import Task, first_start, permitted_starts
from firing.schedules.selectors.fuse_anneal import hours_rule
from firing.schedules.selectors.programmes import propose_stack
from firing.schedules.selectors.stacks import allowed_kinds
from studio.errors import Refused
from studio.models import Kiln
from studio.selectors.pieces import PieceView
from studio.viewer import Viewer

MOST_SHOWN = 24


class Size(StrEnum):
    """Which kilns are meant, by shelf size."""

    ANY = "any"
    LARGE = "large"
    SMALL = "small"


@dataclass(frozen=True, slots=True, kw_only=True)
class Search:
    """What to look for.

    `lasts_s` is none for the length of the piece's own fuse; `before` is a day that is
    too late. With `only_in_hours` somebody must be in to load.
    """

    lasts_s: float | None
    kiln: Kiln | None
    size: Size
    view: PieceView | None
    not_before: date | None
    before: date | None
    only_in_hours: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class FreeRow:
    """A free span of one kiln with its first start; no end when nothing follows."""

    kiln: Kiln
    starts_at: datetime
    ends_at: datetime
    free_until: datetime | None
    next_title: str

    @property
    def lasts_s(self) -> float:
        return (self.ends_at - self.starts_at).total_seconds()


@dataclass(frozen=True, slots=True, kw_only=True)
class FreeSpans:
    """Free spans, and why some requested kilns have none."""

    rows: tuple[FreeRow, ...]
    reasons: tuple[str, ...]


def kilns_meant(kilns: Sequence[Kiln], size: Size) -> list[Kiln]:
    """Return the kilns with exactly this shelf size."""
    if size is Size.ANY or not kilns:
        return list(kilns)
    pick = max if size is Size.LARGE else min
    wanted = pick(_shelf(kiln) for kiln in kilns)
    return [kiln for kiln in kilns if _shelf(kiln) == wanted]


def _shelf(kiln: Kiln) -> float:
    return float(kiln.shelf_width_mm * kiln.shelf_depth_mm)


def find_free(
    kilns: Sequence[Kiln], search: Search, *, viewer: Viewer, now: datetime
) -> FreeSpans:
    """Return the free spans within half a year, or in the requested days.

    Raises
    ------
    Refused
        When neither a length nor a piece says how long, or the days are past.
    """
    if search.lasts_s is None and search.view is None:
        raise Refused("Say how long, such as 5 days, or choose a piece.")
    first, last = _bounds(search, viewer, now)
    if last <= now:
        raise Refused("Those days are past. Choose days that are to come.")
    if last <= first:
        raise Refused("The first day must come before the last.")
    meant = [search.kiln] if search.kiln else kilns_meant(kilns, search.size)
    unloading, rule = Unloading(viewer.studio, now), hours_rule(viewer.studio)
    rows: list[FreeRow] = []
    reasons: list[str] = []
    for kiln in meant:
        try:
            task = _task(kiln, search, rule, viewer)
        except Refused as problem:
            reasons.append(f"{kiln}: {problem}")
            continue
        found = _in_kiln(kiln, task, unloading, first, last)
        if not found:
            lasts = viewer.duration(task.lasts.total_seconds())
            reasons.append(f"{kiln} is not free for {lasts} in that time.")
        rows += found
    rows.sort(key=lambda row: (row.starts_at, row.kiln.name))
    return FreeSpans(rows=tuple(rows[:MOST_SHOWN]), reasons=tuple(reasons))


def _bounds(search: Search, viewer: Viewer, now: datetime) -> tuple[datetime, datetime]:
    def midnight(day: date) -> datetime:
        return datetime.combine(day, time(), tzinfo=viewer.zone).astimezone(UTC)

    at = now.astimezone(UTC)
    first = at if search.not_before is None else max(at, midnight(search.not_before))
    last = at + HORIZON
    farthest = at + LOOK_AHEAD
    if first > farthest:
        raise Refused("Kiln time is looked for within a year. Choose earlier days.")
    if search.before is not None:
        last = min(farthest, midnight(search.before))
    elif last <= first:
        last = farthest
    return first, last


def _task(kiln: Kiln, search: Search, rule: str, viewer: Viewer) -> Task:
    view = search.view
    load_s = practice.LOAD_SHEETS_S if view is None else practice.LOAD_STACK_S
    lasts_s = search.lasts_s
    if view is not None:
        kind = (allowed_kinds(view) or (FiringKind.FULL_FUSE,))[0]
        problems = problems_of(kiln, view, kind, viewer)
        if problems:
            raise Refused(" ".join(problems))
        if lasts_s is None:
            try:
                proposal = propose_stack(
                    kind=kind,
                    rule=rule,
                    thickness_mm=view.height_mm,
                    glass=view.piece.glass,
                    kiln=kiln,
                )
            except PhysicsProblem as problem:
                raise Refused(str(problem)) from problem
            lasts_s = proposal.booking_s
    lasts = timedelta(seconds=lasts_s or 0.0)
    load = min(lasts, timedelta(seconds=load_s))
    return Task(lasts=lasts, load=load if search.only_in_hours else timedelta())


def _in_kiln(
    kiln: Kiln, task: Task, unloading: Unloading, first: datetime, last: datetime
) -> list[FreeRow]:
    taken = taken_in(kiln, unloading)
    ranges = permitted_starts(
        task,
        taken=[one.span for one in taken],
        access=unloading.hours,
        not_before=first,
        until=last - task.lasts,
    )
    found = []
    window = [Span(starts_at=first, ends_at=last)] if first < last else []
    for gap in without(window, [one.span for one in taken]):
        inside = [
            Span(
                starts_at=max(one.starts_at, gap.starts_at),
                ends_at=min(one.ends_at, gap.ends_at - task.lasts),
            )
            for one in ranges
            if one.starts_at <= gap.ends_at - task.lasts
            and one.ends_at >= gap.starts_at
        ]
        start = first_start(inside, STEP)
        if start is None:
            continue
        after = next((one for one in taken if one.span.starts_at >= gap.ends_at), None)
        found.append(
            FreeRow(
                kiln=kiln,
                starts_at=start,
                ends_at=start + task.lasts,
                free_until=after.span.starts_at if after else None,
                next_title=_title(after.what) if after else "",
            )
        )
    return found


def _title(what: object) -> str:
    reason = getattr(what, "reason", "")
    return f"Closed: {reason}" if reason else str(what)
