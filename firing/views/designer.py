"""The schedule designer, which needs no piece, and the page of what it computes."""

from datetime import timedelta
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from firing.forms.stress import DesignForm, first_values
from firing.selectors import design_charts, designer, how
from firing.selectors.fits import kilns
from firing.selectors.limits import limits_of
from firing.selectors.tables import CAUTIONS
from studio.errors import StudioError
from studio.http import (
    FILLED_IN_WRONGLY,
    OK,
    REFUSED,
    StudioRequest,
    reader_for,
    render_page,
    requires,
)
from studio.roles import Can

HOUR = timedelta(hours=1)


@require_safe
@requires(Can.BOOK_KILNS)
def schedule_designer(request: StudioRequest) -> HttpResponse:
    """Design a schedule for any glass and height, and try what might go wrong."""
    reader = reader_for(request)
    asked: Any = request.GET
    if not asked:
        asked = first_values(
            glass=designer.glasses(request.studio).first(),
            kiln=kilns(request.studio).first(),
            limits=limits_of(request.studio),
        )
    form = DesignForm(asked, studio=request.studio, reader=reader)
    context: dict[str, Any] = {"form": form, "cautions": CAUTIONS, "place": "kilns"}
    status = OK
    if not form.is_valid():
        status = FILLED_IN_WRONGLY
    else:
        try:
            found = designer.tried(form.request_parts(), reader=reader)
            starts_at = timezone.now().replace(minute=0, second=0, microsecond=0) + HOUR
            context |= {
                "found": found,
                "design": found.shown,
                "is_range_stale": request.GET.get("last_h") != str(found.last_h),
                "charts": design_charts.charts_of_design(
                    found.shown.design,
                    glass=form.cleaned_data["glass"],
                    cut=found.cut,
                    reader=reader,
                    starts_at=starts_at,
                ),
            }
        except StudioError as problem:
            form.add_error(None, str(problem))
            status = REFUSED
    return render_page(
        request,
        "firing/schedule_designer.html",
        context,
        fragment="answer",
        status=status,
    )


@require_safe
@requires(Can.SEE_WORK)
def schedule_how(request: HttpRequest) -> HttpResponse:
    """Show every equation, number, assumption and source behind a computed schedule."""
    context = {
        "families": how.families(),
        "equations": how.EQUATIONS,
        "assumptions": how.assumptions(),
        "not_covered": how.NOT_COVERED,
        "table": how.table_rows(),
        "marks": how.MARKS,
        "cautions": CAUTIONS,
        "place": "kilns",
    }
    return render_page(request, "firing/schedule_how.html", context)
