"""Today: what to do now, the next thing first."""

from dataclasses import replace

from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from studio.http import (
    StudioRequest,
    render_page,
    requires,
    viewer_for,
)
from studio.panels import (
    NOW,
    PanelRequest,
    TodayItem,
    inspection_warnings,
    paint_hours,
    today_items,
    today_panels,
)
from studio.roles import Can
from studio.selectors import kilns, stock
from studio.selectors.bench_times import tasks_of
from studio.selectors.pictures import looks_of_pieces
from studio.selectors.piece_times import likely_task, paint_task
from studio.selectors.pieces import PieceView
from studio.selectors.task_times import minutes_by_task
from studio.selectors.work import BenchWork, LayersOfPiece, work_of
from studio.viewer import Viewer

# What has no hour: what frees a piece for its next step first, then painting.
INSPECT, DECIDE, STACK, AGAIN, PAINT = 10, 12, 14, 16, 18


@require_safe
@requires(Can.SEE_WORK)
def today(request: StudioRequest) -> HttpResponse:
    """Show what to do now."""
    asked = PanelRequest(viewer=viewer_for(request), now=timezone.now())
    work = work_of(asked.open_pieces)
    items = [*today_items(asked), *_with_timers(bench_items(work, asked), work, asked)]
    found = looks_of_pieces(request.studio, [i.piece for i in items if i.piece])
    context = {
        "panels": today_panels(asked),
        "rows": [
            {
                "item": item,
                "by": _by(item, asked),
                "picture": found.get(item.piece or 0),
            }
            for item in sorted(items, key=_hour_then_rank)
        ],
        "first_step": None if items else first_step(asked.viewer),
    }
    return render_page(request, "studio/today.html", context)


def _by(item: TodayItem, asked: PanelRequest) -> str:
    """Say by when it must be done: "now", "by 19:30", "by tomorrow 08:00"."""
    if item.by is None:
        return ""
    if item.by <= asked.now:
        return "now"
    return f"by {asked.viewer.moment(item.by, asked.now).removeprefix('today ')}"


def _hour_then_rank(item: TodayItem) -> tuple[bool, float, int]:
    hour = 0.0 if item.by is None else item.by.timestamp()
    return item.by is None and item.rank > NOW, hour, item.rank


def first_step(viewer: Viewer) -> tuple[str, str, str] | None:
    """Return what a studio needs before any work: why, where, and the verb."""
    studio = viewer.studio
    if viewer.may_manage_kilns and not kilns.kilns(studio).exists():
        return (
            "Begin with a kiln: schedules, kiln time and quotes are worked out for it.",
            reverse("studio:kiln_new"),
            "Add a kiln",
        )
    if viewer.may_see_money and not stock.glasses(studio).exists():
        return (
            "Now the glass you fuse: layers are cut from it, and its data sheet gives "
            "the temperatures.",
            reverse("studio:glass_new"),
            "Add a glass",
        )
    return None


def bench_items(work: BenchWork, asked: PanelRequest) -> list[TodayItem]:
    """Return the bench's work, each with the step that this viewer may take."""
    viewer = asked.viewer
    told = inspection_warnings(asked, [view.piece for view in work.to_inspect])
    plans, records = viewer.may_plan_pieces, viewer.may_record_work
    items = [
        *(
            _step(view, "Inspect", "studio:piece_finish", may=plans, rank=INSPECT)
            for view in work.to_inspect
        ),
        *(
            _step(view, "Decide about", "studio:piece_detail", may=plans, rank=DECIDE)
            for view in work.to_decide
        ),
        *(
            _step(
                view, "Check the stack of", "studio:stack_check", may=plans, rank=STACK
            )
            for view in work.to_stack
        ),
    ]
    items = [replace(one, warning=told.get(one.piece or 0, "")) for one in items]
    hours = paint_hours(asked, [group.view.piece for group in work.to_paint])
    for group in work.to_paint:
        by, why = hours.get(group.view.piece.pk, (None, ""))
        item = _step(group.view, "Paint", "studio:piece_paint", may=records, rank=PAINT)
        words = group.passes_in_words
        note = f"{words}. {why}" if why else words
        items.append(replace(item, by=by, note=note, done=_painted(group, may=records)))
    return [*items, *_again(work)]


def _with_timers(
    items: list[TodayItem], work: BenchWork, asked: PanelRequest
) -> list[TodayItem]:
    """Let the time of each piece's likely task be taken from here."""
    if not asked.viewer.may_record_work:
        return items
    tasks = tasks_of(asked.viewer.studio)
    painted = {one.view.piece.pk: one.view for one in work.to_paint}
    others = {view.piece.pk: view for view in (*work.to_inspect, *work.to_stack)}
    taken = minutes_by_task(asked.viewer.studio, others)
    found = {pk: paint_task(view, tasks) for pk, view in painted.items()}
    found |= {
        pk: likely_task(view, tasks, taken.get(pk, {})) for pk, view in others.items()
    }
    timed = []
    for item in items:
        task = found.get(item.piece or 0) if item.rank != AGAIN else None
        if task is not None:
            url = reverse("studio:timer_start", args=[item.piece])
            item = replace(item, timer=(task.name, url, task.key))
        timed.append(item)
    return timed


def _step(view: PieceView, verb: str, name: str, *, may: bool, rank: int) -> TodayItem:
    """Return a step of a piece; whoever may not take it is led to the piece."""
    piece = view.piece
    return TodayItem(
        what=f"{verb} {piece.title}" if may else piece.title,
        href=reverse(name if may else "studio:piece_detail", args=[piece.pk]),
        verb=verb.split(" ")[0] if may else "",
        rank=rank,
        note=view.stage_words,
        piece=piece.pk,
    )


def _painted(
    group: LayersOfPiece, *, may: bool
) -> tuple[str, str, dict[str, str]] | None:
    """Return how the one layer that waits is marked as painted; more are ticked."""
    waiting = [one.pass_to_paint for one in group.layers if one.pass_to_paint]
    if not may or len(waiting) != 1:
        return None
    url = reverse("studio:piece_paint", args=[group.view.piece.pk])
    return "Painted", url, {"passes": str(waiting[0].pk), "next": "today"}


def _again(work: BenchWork) -> list[TodayItem]:
    return [
        TodayItem(
            what=f"Make layer {one.number} of {group.view.piece.title} again",
            href=reverse("studio:layer_detail", args=[group.view.piece.pk, one.number]),
            verb="See",
            rank=AGAIN,
            note="Cut a new sheet, then paint it"
            if one.sheet is None
            else f"New sheet {one.sheet.attempt}"
            + (
                f", waits for pass {one.pass_to_paint.number}"
                if one.pass_to_paint
                else ""
            ),
            piece=group.view.piece.pk,
        )
        for group in work.to_make_again
        for one in group.layers
    ]
