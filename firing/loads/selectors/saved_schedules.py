"""Saved schedules that belong to no piece: by glass, kiln and kind, and what changed."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, F, OuterRef, Subquery

from firing.loads.selectors.firings import standing_items
from firing.loads.selectors.loads import glass_of, share_programme
from firing.models import FiringKind, Schedule, ScheduleRule, ScheduleSegment
from firing.schedules.selectors.schedules import schedules, versions_of
from firing.schedules.selectors.stacks import allowed_kinds
from firing.schedules.selectors.tables import basis_facts
from studio.models import Kiln, Pass, Piece, Studio
from studio.selectors.pieces import PieceView, open_pieces
from studio.tenancy import StudioQuerySet
from studio.viewer import Viewer


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One thing that differs between two versions, in the reader's words."""

    what: str
    before: str
    after: str


def kept_schedules(studio: Studio) -> StudioQuerySet[Schedule]:
    """Return the newest version of each schedule that belongs to no piece.

    Each row has the number of its versions as `version_count`.
    """
    same = Schedule.across_studios.filter(
        studio=OuterRef("studio"),
        piece__isnull=True,
        glass=OuterRef("glass"),
        kiln=OuterRef("kiln"),
        kind=OuterRef("kind"),
    )
    newest = same.order_by("-version").values("pk")[:1]
    count = same.order_by().values("kind").annotate(n=Count("pk")).values("n")
    return (
        Schedule.owned.for_studio(studio)
        .filter(piece__isnull=True)
        .annotate(newest=Subquery(newest), version_count=Subquery(count))
        .filter(pk=F("newest"))
        .select_related("kiln", "glass", "made_by")
        .order_by("kind", "glass__name", "kiln__name", "pk")
    )


def is_enamel(schedule: Schedule) -> bool:
    """Return whether a schedule is for single sheets, which are loaded pass by pass."""
    return bool(schedule.kind == FiringKind.ENAMEL)


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptRow:
    """A saved schedule in the list."""

    schedule: Schedule
    title: str
    note: str
    versions: str


def kept_rows(page: Iterable[Any], viewer: Viewer) -> list[KeptRow]:
    """Return saved schedules as rows; each has its number of versions."""
    return [
        KeptRow(
            schedule=one,
            title=f"{FiringKind(one.kind).label}: {one.glass} in {one.kiln}",
            note=", ".join(
                [
                    viewer.length(one.thickness_mm),
                    _faces(one),
                    ScheduleRule(one.rule).label.lower(),
                    f"saved {viewer.day(one.made_at)}"
                    + (f" by {one.made_by}" if one.made_by else ""),
                ]
            ),
            versions=f"Version {one.version}"
            if one.version_count == 1
            else f"Version {one.version} of {one.version_count}",
        )
        for one in page
    ]


def _faces(schedule: Schedule) -> str:
    faces = schedule.basis.get("faces")
    return f"heat through {faces}" if faces else "single sheets"


def version_before(schedule: Schedule) -> Schedule | None:
    """Return the version that this one replaced, if any."""
    found: Schedule | None = (
        versions_of(schedule).filter(version__lt=schedule.version).first()
    )
    return found


def version_of(schedule: Schedule, text: str) -> Schedule | None:
    """Return another version of the same schedule by its typed number, if any."""
    if not text.isdecimal() or len(text) > 9:
        return None
    found: Schedule | None = versions_of(schedule).filter(version=int(text)).first()
    return None if found == schedule else found


def changes_between(
    before: Schedule, after: Schedule, viewer: Viewer
) -> tuple[Change, ...]:
    """Return what differs between two versions: segments, then what they are based on."""
    segments = _both(_segment_words(before, viewer), _segment_words(after, viewer))
    facts = _both(
        [(words, value) for words, value in _facts(before, viewer)],
        [(words, value) for words, value in _facts(after, viewer)],
    )
    return tuple(
        Change(what=what, before=old, after=new)
        for what, old, new in (*segments, *facts)
        if old != new
    )


def _facts(schedule: Schedule, viewer: Viewer) -> Sequence[tuple[str, str]]:
    own = [
        ("Where it comes from", ScheduleRule(schedule.rule).label),
        ("Kiln", str(schedule.kiln or "no kiln")),
    ]
    return [*own, *basis_facts(schedule, viewer)]


def _segment_words(schedule: Schedule, viewer: Viewer) -> list[tuple[str, str]]:
    return [
        (segment.label.capitalize(), _words(segment, viewer))
        for segment in schedule.segments.all()
    ]


def _words(segment: ScheduleSegment, viewer: Viewer) -> str:
    rate = (
        "as fast as it can"
        if segment.rate_c_per_h is None
        else viewer.rate(segment.rate_c_per_h)
    )
    hold = f", held {viewer.duration(segment.hold_s)}" if segment.hold_s else ""
    return f"{rate} to {viewer.temperature(segment.target_c)}{hold}"


def _both(
    before: Sequence[tuple[str, str]], after: Sequence[tuple[str, str]]
) -> list[tuple[str, str, str]]:
    """Put two lists of named values side by side, in the order of the later one."""
    old, new = dict(before), dict(after)
    names = [*new, *(name for name in old if name not in new)]
    return [(name, old.get(name, "none"), new.get(name, "none")) for name in names]


def pieces_for(schedule: Schedule) -> list[PieceView]:
    """Return the pieces that a saved schedule could be booked for now."""
    if schedule.piece_id is not None or schedule.kind == FiringKind.ENAMEL:
        return []
    booked = set(
        standing_items(schedule.studio)
        .filter(piece__isnull=False, firing__finished_at__isnull=True)
        .values_list("piece_id", flat=True)
    )
    return [
        view
        for view in open_pieces(schedule.studio)
        if view.piece.pk not in booked
        and view.piece.glass_id == schedule.glass_id
        and schedule.kind in allowed_kinds(view)
        and view.height_mm <= schedule.thickness_mm
    ]


def piece_choices(schedule: Schedule) -> list[tuple[Piece, str]]:
    """Return the same pieces with their words for a list to choose from."""
    return [
        (view.piece, f"{view.piece.title}: {view.stage_words.lower()}")
        for view in pieces_for(schedule)
    ]


def enamel_schedules(studio: Studio, kiln: Kiln) -> StudioQuerySet[Schedule]:
    """Return the computed enamel schedules saved for a kiln, newest first."""
    return (
        schedules(studio)
        .filter(
            kind=FiringKind.ENAMEL,
            kiln=kiln,
            piece__isnull=True,
            rule=ScheduleRule.COMPUTED,
        )
        .order_by("glass__name", "-version")
    )


def why_not_for(schedule: Schedule, *, kiln: Kiln, passes: Sequence[Pass]) -> str:
    """Say why an enamel schedule does not suit a load; empty when it does."""
    if schedule.kind != FiringKind.ENAMEL or schedule.piece_id is not None:
        return f"{schedule} is no enamel schedule. Choose another."
    if schedule.kiln_id != kiln.pk:
        return (
            f"{schedule} was fitted to {schedule.kiln}, not to {kiln}. Choose another."
        )
    for of_pass in passes:
        own = glass_of(of_pass)
        if not share_programme(own, schedule.glass) or own.family != (
            schedule.glass.family
        ):
            return (
                f"{schedule} is for {schedule.glass}; {own} needs other temperatures. "
                "Choose another schedule."
            )
        if own.sheet_thickness_mm > schedule.thickness_mm:
            return (
                f"{schedule} was designed for thinner sheets than {own}. Choose another, "
                "or design one for these."
            )
    return ""
