"""The kilns' week for the wall: sent if it is made already; POST orders it."""

from datetime import date

from django.http import FileResponse, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from firing.kiln_time import week_sheet as paper
from firing.kiln_time.selectors.ribbons import EARLIEST_DAY, LATEST_DAY
from firing.kiln_time.selectors.week import monday_of
from studio.answers import PaperPage, answer_paper
from studio.http import StudioRequest, requires, viewer_for
from studio.roles import Can


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_WORK)
def week_sheet(request: StudioRequest) -> HttpResponse | FileResponse:
    """Send the PDF of a week, this one without `?from=`. POST has it made."""
    first_day = monday_of(_day(request))
    sheet = paper.week_sheet(request.studio, first_day, timezone.now())
    key = paper.sheet_key(request.studio, sheet, first_day)
    page = PaperPage(
        title=sheet.title,
        file_name=f"kilns-{first_day}.pdf",
        key=key,
        job_name=paper.RENDER_JOB,
        arguments={"first_day": first_day.isoformat()},
        url=f"{reverse('firing:week_sheet')}?from={first_day}",
        back_url=reverse("firing:kiln_list"),
        back_label="Kilns",
        place="kilns",
    )
    return answer_paper(request, page)


def _day(request: StudioRequest) -> date:
    """Return the day in the address, or today if there is none."""
    today = timezone.now().astimezone(viewer_for(request).zone).date()
    try:
        day = date.fromisoformat(request.GET.get("from", ""))
    except ValueError:
        return today
    return day if EARLIEST_DAY <= day <= LATEST_DAY else today
