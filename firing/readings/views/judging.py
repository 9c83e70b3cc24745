"""The judge's page: what a firing's readings say about the glass, and what to do next."""

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from firing.loads.selectors.firings import view_firing
from firing.loads.views.lookups import firing_or_404
from firing.readings.forms.typed import TypedForm, sealed
from firing.readings.selectors.type_now import type_now
from firing.readings.selectors.verdict_charts import judged_charts, re_anneal_links
from firing.readings.selectors.verdict_inputs import Judging, judging_of
from firing.readings.selectors.verdict_words import verdict_line, words_of
from firing.readings.services.judging import ask_what_next, judge_again
from firing.readings.services.re_anneals import keep_re_anneal
from firing.schedules.selectors.tables import SHEET_CAUTIONS
from studio.errors import StudioError
from studio.http import REFUSED, StudioRequest, render_page, requires, viewer_for
from studio.roles import Can
from studio.viewer import Viewer

if TYPE_CHECKING:
    from firing.models import Firing

JOB_TEXTS = {
    "making": "Working out the verdict from the readings.",
    "failed": "There is no verdict on these readings.",
    "none": "The verdict is not worked out yet.",
}
NONE_TEXT = "The verdict is not worked out yet."
NEXT_TEXT = "Working out the next steps."
NO_NEXT_TEXT = "The next steps are not worked out yet."


@require_http_methods(["GET", "HEAD", "POST"])
@requires(Can.SEE_WORK)
def firing_judgement(request: StudioRequest, pk: int) -> HttpResponse:
    """Show the verdict on a firing; while it is computed, the page asks again, and so
    does the line of it on the firing's page.

    What is not computed yet, or not since kiln or glass were changed, is computed by
    POST. The page presses that button itself; somebody who follows links does not.
    """
    firing = firing_or_404(request, pk)
    if request.method == "POST":
        ask_what_next(firing=firing)
        if not request.htmx:
            return redirect("firing:firing_judgement", pk)
    if request.htmx and "line" in request.GET:
        return _line(request, firing)
    return _page(request, firing)


def _line(request: StudioRequest, firing: "Firing") -> HttpResponse:
    verdict = verdict_of(judging_of(firing), viewer_for(request))
    response = render_page(
        request,
        "firing/readings/_verdict_line.html",
        {"firing": firing, "verdict": verdict},
    )
    if verdict is None or verdict["kind"] != "doing":
        # Headline, main button and chart follow the verdict.
        response["HX-Refresh"] = "true"
    return response


def _page(
    request: StudioRequest, firing: "Firing", *, status: int = 200
) -> HttpResponse:
    state = judging_of(firing)
    if request.htmx and status == 200:
        response = render_page(
            request, "firing/readings/_judging_job.html", {"job": job_of(firing, state)}
        )
        if state.state == "ready":
            # The verdict changes the whole page, not only the place that asked.
            response["HX-Refresh"] = "true"
        return response
    now, viewer = timezone.now(), viewer_for(request)
    context = {
        "firing": firing,
        "view": view_firing(firing, viewer=viewer, now=now),
        "state": state,
        "job": job_of(firing, state),
    }
    if state.judgement is not None:
        context |= {
            "words": words_of(state.judgement, viewer=viewer, now=now),
            "links": re_anneal_links(firing, state.judgement),
            "judged_at": state.judgement.made_at,
        } | judged_charts(
            firing,
            state.judgement,
            viewer=viewer,
            now=now,
            part=request.GET.get("part", ""),
        )
    return render_page(
        request, "firing/readings/judgement.html", context, status=status
    )


def job_of(firing: "Firing", state: Judging) -> dict[str, str]:
    """Return what `_job.html` needs while there is no verdict."""
    name = "none" if state.is_to_be_ordered else state.state
    text = NONE_TEXT if name == "none" else JOB_TEXTS.get(name, "")
    if state.judgement and state.judgement.lacks_options and name != "failed":
        text = NO_NEXT_TEXT if name == "none" else NEXT_TEXT
    if name in {"failed", "making"}:
        text = f"{text} {state.problem}".strip()
    return {
        "state": name,
        "text": text,
        "poll_url": reverse("firing:firing_judgement", args=[firing.pk]),
        "retry_url": reverse("firing:firing_judge_again", args=[firing.pk]),
    }


def verdict_of(state: Judging, viewer: Viewer) -> dict[str, str] | None:
    """Return the line that the firing's page shows; none without readings."""
    if not state.has_readings:
        return None
    if state.judgement is None:
        text = JOB_TEXTS[state.state]
        return {"text": text, "kind": "waiting" if state.state != "making" else "doing"}
    line, kind = verdict_line(state.judgement, viewer)
    return {"text": line, "kind": kind}


@require_POST
@requires(Can.RUN_FIRINGS)
def firing_judge_again(request: StudioRequest, pk: int) -> HttpResponse:
    """Have a firing's readings judged again."""
    firing = firing_or_404(request, pk)
    try:
        judge_again(firing=firing)
    except StudioError as problem:
        messages.error(request, str(problem))
        return _page(request, firing, status=REFUSED)
    return redirect("firing:firing_judgement", pk)


@require_POST
@requires(Can.BOOK_KILNS)
def firing_re_anneal(request: StudioRequest, pk: int) -> HttpResponse:
    """Save the judge's re-anneal for a piece as it is, and go on to book it."""
    firing = firing_or_404(request, pk)
    wanted = request.POST.get("piece", "")
    pieces = {str(item.piece_id): item.piece for item in firing.items.all()}
    piece = pieces.get(wanted)
    if piece is None:
        messages.error(
            request, "That piece was not in this firing. Choose one that was."
        )
        return _page(request, firing, status=REFUSED)
    try:
        schedule = keep_re_anneal(
            firing=firing, piece=piece, by=request.user, at=timezone.now()
        )
    except StudioError as problem:
        messages.error(request, str(problem))
        return _page(request, firing, status=REFUSED)
    book = reverse("firing:fuse_book", args=[piece.pk])
    return redirect(f"{book}?{urlencode({'schedule': schedule.pk})}")


@require_safe
@requires(Can.SEE_WORK)
def firing_type_now(request: StudioRequest, pk: int) -> HttpResponse:
    """Show what to type now into the controller of a running firing, to read or print."""
    return type_now_page(request, firing_or_404(request, pk), request.GET.get("do", ""))


def type_now_page(
    request: StudioRequest,
    firing: "Firing",
    action: str,
    *,
    form: TypedForm | None = None,
    status: int = 200,
) -> HttpResponse:
    """Show what to type now, or show it again with what is wrong with the form."""
    judgement = judging_of(firing).judgement
    viewer, now = viewer_for(request), timezone.now()
    shown = None
    if judgement is not None:
        shown = type_now(firing, judgement, action, viewer=viewer, now=now)
    if shown is None:
        for told in form.non_field_errors() if form is not None else ():
            messages.error(request, str(told))
        is_new = judgement is not None and judgement.lacks_options
        messages.warning(
            request,
            "There are other readings now. What can be done is computed anew."
            if is_new
            else "There is nothing to type for that now. See what can be done below.",
        )
        return redirect("firing:firing_judgement", firing.pk)
    context = {
        "firing": firing,
        "view": view_firing(firing, viewer=viewer, now=now),
        "sheet": shown,
        "form": form
        or TypedForm(firing=firing, initial={"what": sealed(firing, shown.chosen)}),
        "cautions": SHEET_CAUTIONS,
    }
    return render_page(request, "firing/readings/type_now.html", context, status=status)
