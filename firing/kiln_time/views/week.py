"""The kilns' week for the wall: sent if it is made already; POST orders it."""

from datetime import date

from django.http import FileResponse, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from firing.kiln_time import week_sheet as paper
from firing.kiln_time.selectors.ribbons import EARLIEST_DAY, LATEST_DAY
from firing.kiln_time.selectors.week import monday_of
from firing.kiln_time.services.papers import ask_for_week
from studio.documents import PaperState, state_of
from studio.http import (
    StudioRequest,
    render_page,
    requires,
    send_document,
    viewer_for,
)
from studio.roles import Can

TEXTS = {
    "none": "The week's sheet is not made yet.",
    "ready": "The week's sheet is ready.",
    "making": "The week's sheet is being made.",
    "failed": "The week's sheet could not be made.",
}


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_WORK)
def week_sheet(request: StudioRequest) -> HttpResponse | FileResponse:
    """Send the PDF of a week, this one without `?from=`. POST has it made."""
    first_day = monday_of(_day(request))
    sheet = paper.week_sheet(request.studio, first_day, timezone.now())
    key = paper.sheet_key(request.studio, sheet, first_day)
    state = state_of(key)
    if request.method == "POST":
        if state.is_to_be_made:
            ask_for_week(studio=request.studio, sheet=sheet, first_day=first_day)
        return redirect(_url(first_day))
    if state.document is not None and not request.htmx:
        return send_document(state.document, name=f"kilns-{first_day}.pdf")
    context = {"title": sheet.title, "job": _job(first_day, state)}
    if request.htmx:
        return render_page(request, "firing/_sheet_job.html", context)
    return render_page(request, "firing/kiln_time/week_sheet.html", context)


def _day(request: StudioRequest) -> date:
    """Return the day in the address, or today if there is none."""
    today = timezone.now().astimezone(viewer_for(request).zone).date()
    try:
        day = date.fromisoformat(request.GET.get("from", ""))
    except ValueError:
        return today
    return day if EARLIEST_DAY <= day <= LATEST_DAY else today


def _job(first_day: date, state: PaperState) -> dict[str, str]:
    text = f"{TEXTS[state.name]} {state.problem}".strip()
    return {"state": state.name, "text": text, "url": _url(first_day)}


def _url(first_day: date) -> str:
    return f"{reverse('firing:week_sheet')}?from={first_day}"
