"""Time for tasks: a timer that is started and stopped, times that are typed or put right."""

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from studio.answers import FormPage, WayBack, answer_form, answer_undo
from studio.errors import StudioError
from studio.forms.task_times import MinutesForm, TaskTimeForm
from studio.http import (
    StudioRequest,
    piece_or_404,
    posted,
    render_page,
    requires,
    say_done,
    viewer_for,
)
from studio.roles import Can
from studio.selectors.bench_times import tasks_of
from studio.selectors.piece_times import piece_times
from studio.selectors.task_times import (
    as_running,
    local_day,
    running_row,
    task_times,
    times_of_piece,
)
from studio.services.task_times import (
    correct_time,
    put_back_time,
    record_time,
    resume_timer,
    start_timer,
    stop_timer,
    take_back_time,
)
from studio.undo import needs_reason

if TYPE_CHECKING:
    from studio.models import Piece, TaskTime


@require_POST
@requires(Can.RECORD_WORK)
def timer_start(request: StudioRequest, pk: int) -> HttpResponse:
    """Start the timer of whoever asks."""
    piece = piece_or_404(request, pk).piece
    before = running_row(request.studio, request.user.pk)
    try:
        time = start_timer(
            piece=piece,
            task=request.POST.get("task", ""),
            by=request.user,
            at=timezone.now(),
        )
    except StudioError as problem:
        messages.error(request, str(problem))
    else:
        told = f"{time.task_name}: the timer runs."
        if before is not None and before.pk != time.pk:
            before.refresh_from_db(fields=["minutes"])
            took = viewer_for(request).labour(before.minutes or 0)
            told += f" {before.task_name} stopped after {took}."
        undo = reverse("studio:time_take_back", args=[time.pk])
        say_done(request, told, undo_url=undo)
    return _on(request, piece)


@require_http_methods(["GET", "POST"])
@requires(Can.RECORD_WORK)
def timer_stop(request: StudioRequest, pk: int) -> HttpResponse:
    """Stop a timer with one tap; ask how long it took where that cannot be known."""
    time = _time_or_404(request, pk)
    now = timezone.now()
    if request.method == "POST" and "minutes" not in request.POST:
        if time.minutes is None and as_running(time, now).is_forgotten:
            return redirect("studio:timer_stop", pk)
        return _stopped(request, time)
    since = viewer_for(request).moment(time.started_at or time.recorded_at, now)
    form = MinutesForm(posted(request), viewer=viewer_for(request))
    page = FormPage(
        title="How long did it take?",
        submit="Save",
        facts=(time.task_name, time.piece.title, f"timer on since {since}"),
        **_back(time.piece),
    )
    return answer_form(
        request,
        page,
        form,
        lambda: stop_timer(
            time=time, minutes=form.cleaned_data["minutes"], by=request.user, at=now
        ),
        told=f"{time.task_name} is recorded.",
        undo_url=reverse("studio:time_take_back", args=[pk]),
    )


def _stopped(request: StudioRequest, time: "TaskTime") -> HttpResponse:
    try:
        stopped = stop_timer(time=time, by=request.user, at=timezone.now())
    except StudioError as problem:
        messages.error(request, str(problem))
    else:
        took = viewer_for(request).labour(stopped.minutes or 0)
        undo = reverse("studio:timer_resume", args=[time.pk])
        say_done(request, f"{time.task_name}: {took}.", undo_url=undo)
    return _on(request, time.piece)


@require_POST
@requires(Can.RECORD_WORK)
def timer_resume(request: StudioRequest, pk: int) -> HttpResponse:
    """Let a timer run on that was stopped a moment ago."""
    time = _time_or_404(request, pk)
    try:
        resume_timer(time=time, by=request.user, at=timezone.now())
    except StudioError as problem:
        messages.error(request, str(problem))
    else:
        messages.success(request, f"{time.task_name}: the timer runs on.")
    return redirect("studio:piece_detail", time.piece_id)


@require_safe
@requires(Can.SEE_WORK)
def time_list(request: StudioRequest, pk: int) -> HttpResponse:
    """Show every time recorded for a piece, those taken back struck out."""
    view = piece_or_404(request, pk)
    tasks = tasks_of(request.studio)
    context = {
        "view": view,
        "piece": view.piece,
        "times": times_of_piece(view.piece),
        "work": piece_times(view, tasks),
        "tasks": tasks,
        "place": "pieces",
    }
    return render_page(request, "studio/time_list.html", context)


@require_http_methods(["GET", "POST"])
@requires(Can.RECORD_WORK)
def time_new(request: StudioRequest, pk: int) -> HttpResponse:
    """Record the time of one's own work, typed."""
    view = piece_or_404(request, pk)
    now = timezone.now()
    tasks = tasks_of(request.studio)
    likely = piece_times(view, tasks).likely
    form = TaskTimeForm(
        posted(request),
        tasks=tasks,
        viewer=viewer_for(request),
        initial={
            "task": request.GET.get("task") or (likely.key if likely else ""),
            "day": local_day(request.studio, now),
        },
    )
    page = FormPage(
        title="Add time", submit="Save", facts=(view.piece.title,), **_back(view.piece)
    )
    made: list[TaskTime] = []
    return answer_form(
        request,
        page,
        form,
        lambda: made.append(
            record_time(piece=view.piece, by=request.user, at=now, **form.typed)
        ),
        told="The time is recorded.",
        undo_url=lambda: reverse("studio:time_take_back", args=[made[0].pk]),
    )


@require_http_methods(["GET", "POST"])
@requires(Can.RECORD_WORK)
def time_correct(request: StudioRequest, pk: int) -> HttpResponse:
    """Correct a recorded time."""
    time = _time_or_404(request, pk)
    now = timezone.now()
    form = TaskTimeForm(
        posted(request),
        tasks=tasks_of(request.studio),
        also=(time.task, time.task_name),
        needs_reason=needs_reason(time.recorded_at, now),
        viewer=viewer_for(request),
        initial={
            "task": time.task,
            "minutes": time.minutes,
            "day": time.day,
            "note": time.note,
        },
    )
    page = FormPage(
        title="Correct a time",
        submit="Save",
        facts=(time.piece.title, str(time.person or "Somebody")),
        **_back(time.piece),
    )
    return answer_form(
        request,
        page,
        form,
        lambda: correct_time(
            time=time,
            reason=form.cleaned_data.get("reason", ""),
            by=request.user,
            at=now,
            **form.typed,
        ),
        told="The time is corrected.",
    )


@require_http_methods(["GET", "POST"])
@requires(Can.RECORD_WORK)
def time_take_back(request: StudioRequest, pk: int) -> HttpResponse:
    """Let a time count no more; the row stays, struck out."""
    time = _time_or_404(request, pk)
    now = timezone.now()
    page = FormPage(
        title="Take back a time",
        submit="Take it back",
        is_danger=True,
        facts=_facts(request, time),
        **_back(time.piece),
    )
    return answer_undo(
        request,
        page,
        lambda reason: take_back_time(
            time=time, reason=reason, by=request.user, at=now
        ),
        recorded_at=now if time.minutes is None else time.recorded_at,
        now=now,
        told=f"{time.task_name}: taken back.",
        undo_url=reverse("studio:time_put_back", args=[pk]),
    )


@require_http_methods(["GET", "POST"])
@requires(Can.RECORD_WORK)
def time_put_back(request: StudioRequest, pk: int) -> HttpResponse:
    """Let a time count again that was taken back by mistake."""
    time = _time_or_404(request, pk)
    now = timezone.now()
    page = FormPage(
        title="Put a time back",
        submit="Put it back",
        facts=_facts(request, time),
        **_back(time.piece),
    )
    return answer_undo(
        request,
        page,
        lambda reason: put_back_time(time=time, reason=reason, by=request.user, at=now),
        recorded_at=time.taken_back_at or now,
        now=now,
        told=f"{time.task_name} counts again.",
        undo_url=reverse("studio:time_take_back", args=[pk]),
    )


def _facts(request: StudioRequest, time: "TaskTime") -> tuple[str, ...]:
    took = (
        "running" if time.minutes is None else viewer_for(request).labour(time.minutes)
    )
    return (time.task_name, took, time.piece.title)


def _time_or_404(request: StudioRequest, pk: int) -> "TaskTime":
    return get_object_or_404(task_times(request.studio).select_related("studio"), pk=pk)


def _on(request: StudioRequest, piece: "Piece") -> HttpResponse:
    """Go on where the button was, else to the piece."""
    asked = request.POST.get("next", "")
    is_ours = url_has_allowed_host_and_scheme(
        asked, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    )
    if asked.startswith("/") and is_ours:
        return redirect(asked)
    return redirect("studio:piece_detail", piece.pk)


def _back(piece: "Piece") -> WayBack:
    return {
        "back_url": reverse("studio:piece_detail", args=[piece.pk]),
        "back_label": piece.title,
        "place": "pieces",
    }
