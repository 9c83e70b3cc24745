"""The kilns' part of Today: what to load, start, read, unload and book, by its hour."""

from collections.abc import Sequence
from datetime import datetime

from django.urls import reverse

from firing.firings.selectors.today import kilns_today
from firing.kiln_time.selectors.standing import StandingTime
from firing.loads.selectors.curve_marks import curve_marks
from firing.loads.selectors.firings import FiringView, with_curves
from firing.loads.selectors.planned import planned_firings
from firing.models import PlannedItem
from firing.plans.selectors.sheet import planned_today
from firing.readings.selectors.upkeep import upkeep_due
from firing.watch.selectors.events import open_faults
from firing.watch.selectors.words import event_words
from studio.models import Piece
from studio.panels import TodayItem
from studio.selectors.pieces import PieceView
from studio.viewer import Viewer, count_words

# Ranks, see TodayItem: what is hot or cold now, then what the kilns wait for.
FAULT, UNLOAD, READ, BOOK, LOAD, UPKEEP = -1, 0, 1, 20, 22, 30


def today_work(
    viewer: Viewer,
    now: datetime,
    in_work: Sequence[PieceView],
    standing: StandingTime,
) -> list[TodayItem]:
    """Return what to do at the kilns, each with the step that this viewer may take."""
    work = kilns_today(viewer, now, in_work, standing)
    runs = viewer.may_run_firings
    return [
        *_faults(viewer, now),
        *(
            _firing(
                view,
                f"Unload {view.firing.kiln}",
                "firing:firing_finish" if runs else "firing:firing_detail",
                verb="Unload" if runs else "",
                rank=UNLOAD,
            )
            for view in with_curves(work.to_unload, viewer.studio)
        ),
        *(
            _firing(view, f"Read {view.firing.kiln}", verb="Read", rank=READ)
            for view in with_curves(work.to_read, viewer.studio)
        ),
        *(
            _firing(
                view,
                f"Load and start {view.firing.kiln}",
                verb="Start",
                by=view.booking.starts_at,
            )
            for view in with_curves(work.to_start, viewer.studio)
        ),
        *_planned(viewer, now),
        *(
            TodayItem(
                what=f"Book a kiln for {view.piece.title}"
                if viewer.may_book_kilns
                else view.piece.title,
                href=reverse(
                    "firing:fuse_plan"
                    if viewer.may_book_kilns
                    else "studio:piece_detail",
                    args=[view.piece.pk],
                ),
                verb="Book" if viewer.may_book_kilns else "",
                rank=BOOK,
                note=f"{view.stage_words}, {viewer.length(view.height_mm)} thick",
                piece=view.piece.pk,
            )
            for view in work.to_book
        ),
        *_waiting(work.waiting_count, viewer),
        *_upkeep(viewer, now),
    ]


def _upkeep(viewer: Viewer, now: datetime) -> list[TodayItem]:
    """Return what is to be done to the kilns themselves, for those who manage them."""
    if not viewer.may_manage_kilns:
        return []
    return [
        TodayItem(
            what=f"{row.rule.what}: {row.rule.kiln}",
            href=f"{reverse('firing:kiln_detail', args=[row.rule.kiln_id])}#kiln-book",
            verb="See",
            rank=UPKEEP,
            note=row.words,
            done=("Done", reverse("firing:upkeep_done", args=[row.rule.pk]), {}),
        )
        for row in upkeep_due(viewer.studio, now)
    ]


def _faults(viewer: Viewer, now: datetime) -> list[TodayItem]:
    """Return what went wrong in running firings and nobody has seen to."""
    found = open_faults(viewer.studio)
    if not found:
        return []
    curves = curve_marks(viewer.studio, [one.firing for one in found])
    return [
        TodayItem(
            what=f"{words.title} in {words.event.firing.kiln}",
            href=reverse("firing:firing_detail", args=[words.event.firing_id]),
            verb="See" if viewer.may_run_firings else "",
            rank=FAULT,
            note=words.what,
            warning=words.look_at,
            curve=curves[words.event.firing_id],
        )
        for words in (event_words(one, viewer=viewer, now=now) for one in found)
    ]


def _firing(
    view: FiringView,
    what: str,
    name: str = "firing:firing_detail",
    *,
    verb: str,
    rank: int = 50,
    by: datetime | None = None,
) -> TodayItem:
    return TodayItem(
        what=what,
        href=reverse(name, args=[view.firing.pk]),
        verb=verb,
        by=by,
        rank=rank,
        note=view.title,
        state="" if by else view.state_words,
        kind=view.status_kind,
        warning=view.warning,
        curve=view.curve,
    )


def _planned(viewer: Viewer, now: datetime) -> list[TodayItem]:
    """Return the plan's loads of the day."""
    return [
        TodayItem(
            what=f"Load {line.kiln}",
            href=line.href,
            verb="Load" if viewer.may_book_kilns else "",
            by=line.starts_at,
            note=f"{line.name}. {line.unready}" if line.unready else line.name,
            state=line.state if viewer.may_book_kilns else "",
            kind=line.kind,
        )
        for line in planned_today(viewer, now)
    ]


def _waiting(count: int, viewer: Viewer) -> list[TodayItem]:
    if not count:
        return []
    may = viewer.may_book_kilns
    return [
        TodayItem(
            what="Load a kiln" if may else "Painted layers",
            href=reverse("firing:load_new" if may else "firing:kiln_list"),
            verb="Load" if may else "",
            rank=LOAD,
            note=f"{count_words(count, 'painted layer')} "
            f"{'waits' if count == 1 else 'wait'} for the kiln",
        )
    ]


def wanted_paint(
    viewer: Viewer, now: datetime, pieces: Sequence[Piece]
) -> dict[int, tuple[datetime, str]]:
    """Return when the plan fires each piece's next unpainted layer, and where."""
    coming = planned_firings(viewer.studio).filter(booking__starts_at__gt=now)
    unpainted = (
        PlannedItem.owned.for_studio(viewer.studio)
        .filter(firing__in=coming, piece__in=pieces, layer__isnull=False)
        .filter(of_pass__painted_at__isnull=True)
        .order_by("-firing__booking__starts_at", "-firing")
        .values_list(
            "piece", "firing__booking__starts_at", "firing__booking__kiln__name"
        )
    )
    # The earliest comes last, and stays.
    return {piece: (at, f"For the firing in {kiln}") for piece, at, kiln in unpainted}
