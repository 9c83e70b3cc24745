"""What there is to do today, from every app: for the page, and for the morning's message."""

from dataclasses import replace
from datetime import datetime

from django.urls import reverse

from studio.letters import Letter
from studio.models import Whereabouts
from studio.panels import (
    NOW,
    PanelRequest,
    TodayItem,
    inspection_warnings,
    paint_hours,
    today_items,
)
from studio.selectors.bench_times import tasks_of
from studio.selectors.piece_times import likely_task, paint_task
from studio.selectors.pieces import PieceView
from studio.selectors.task_times import local_day, minutes_by_task
from studio.selectors.whereabouts import back_due, whereabouts_words
from studio.selectors.work import BenchWork, LayersOfPiece, work_of
from studio.viewer import Viewer

# What has no hour: what frees a piece for its next step first, then painting.
INSPECT, DECIDE, STACK, AGAIN, PAINT, BACK = 10, 12, 14, 16, 18, 40
# A message is no list of everything.
MOST_TOLD = 12


def things_to_do(asked: PanelRequest) -> list[TodayItem]:
    """Return what there is to do, what has an hour first."""
    work = work_of(asked.open_pieces)
    items = [
        *today_items(asked),
        *_with_timers(bench_items(work, asked), work, asked),
        *_coming_back(asked),
    ]
    return sorted(items, key=_hour_then_rank)


def morning_letter(viewer: Viewer, now: datetime) -> Letter | None:
    """Return the morning's message; none where nothing is to be done."""
    asked = PanelRequest(viewer=viewer, now=now)
    items = things_to_do(asked)
    if not items:
        return None
    lines = [
        ". ".join(part for part in (_with_hour(one, asked), one.note) if part)
        for one in items[:MOST_TOLD]
    ]
    if len(items) > MOST_TOLD:
        lines.append(f"And {len(items) - MOST_TOLD} more.")
    return Letter(title=f"Today: {items[0].what}", text="\n".join(lines))


def _with_hour(item: TodayItem, asked: PanelRequest) -> str:
    by = words_of_hour(item, asked)
    return f"{item.what}, {by}" if by else item.what


def words_of_hour(item: TodayItem, asked: PanelRequest) -> str:
    """Say by when it must be done: "now", "by 19:30", "by tomorrow 08:00"."""
    if item.by is None:
        return ""
    if item.by <= asked.now:
        return "now"
    return f"by {asked.viewer.moment(item.by, asked.now).removeprefix('today ')}"


def _hour_then_rank(item: TodayItem) -> tuple[bool, float, int]:
    hour = 0.0 if item.by is None else item.by.timestamp()
    return item.by is None and item.rank > NOW, hour, item.rank


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


def _coming_back(asked: PanelRequest) -> list[TodayItem]:
    """Return the works that a show or a gallery is to give back by today."""
    viewer, today = asked.viewer, local_day(asked.viewer.studio, asked.now)
    found = []
    for move in back_due(viewer.studio, today):
        href = reverse("studio:piece_moves", args=[move.piece_id])
        there = {
            "pieces": str(move.piece_id),
            "kind": Whereabouts.STUDIO.value,
            "day": today.isoformat(),
        }
        found.append(
            TodayItem(
                what=f"Get {move.piece.title} back",
                href=href,
                verb="See" if viewer.may_plan_pieces else "",
                rank=BACK,
                note=whereabouts_words(move),
                piece=move.piece_id,
                done=("It is back", reverse("studio:work_move"), there)
                if viewer.may_plan_pieces
                else None,
            )
        )
    return found


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
