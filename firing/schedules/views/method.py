"""The page of how schedules are computed."""

from django.http import HttpResponse
from django.views.decorators.http import require_safe

from firing.schedules.selectors import method_page
from firing.schedules.selectors.tables import CAUTIONS
from studio.http import HtmxRequest, render_page, requires
from studio.roles import Can


@require_safe
@requires(Can.SEE_WORK)
def schedule_how(request: HtmxRequest) -> HttpResponse:
    """Show every equation, number, assumption and source behind a computed schedule."""
    context = {
        "families": method_page.families(),
        "equations": method_page.EQUATIONS,
        "assumptions": method_page.assumptions(),
        "not_covered": method_page.NOT_COVERED,
        "table": method_page.table_rows(),
        "marks": method_page.MARKS,
        "cautions": CAUTIONS,
        "place": "kilns",
    }
    return render_page(request, "firing/schedules/schedule_how.html", context)
