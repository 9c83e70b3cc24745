"""The schedule designer, which needs no piece, and the page on how it computes."""

from collections.abc import Mapping
from datetime import timedelta
from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from firing.schedules.forms.stress import DesignForm, first_values
from firing.schedules.selectors import design_charts, designer, method_page
from firing.schedules.selectors.designer import DesignerInput, Tried
from firing.schedules.selectors.fits import kilns
from firing.schedules.selectors.fuse_anneal import is_by_design
from firing.schedules.selectors.limits import limits_of
from firing.schedules.selectors.refusal_words import refusal_words
from firing.schedules.selectors.tables import CAUTIONS
from firing.schedules.views.within_budget import address_of, in_time
from studio.errors import StudioError
from studio.http import (
    FILLED_IN_WRONGLY,
    OK,
    REFUSED,
    HtmxRequest,
    StudioRequest,
    render_page,
    requires,
    viewer_for,
)
from studio.roles import Can

HOUR = timedelta(hours=1)
ONLY_THE_CUT = "cut"


@require_http_methods(["GET", "HEAD", "POST"])
@requires(Can.BOOK_KILNS)
def schedule_designer(request: StudioRequest) -> HttpResponse:
    """Design a schedule for any glass and height, and try what might go wrong.

    The address holds the whole request. POST to it orders what takes longer than a page
    may. While the power cut is dragged (`?only=cut`) only what it changes is sent.
    """
    asked: Mapping[str, object] = request.GET
    if set(asked) <= {"part"}:
        asked = first_values(
            glass=designer.glasses(request.studio).first(),
            kiln=kilns(request.studio).first(),
            limits=limits_of(request.studio),
        )
    form = DesignForm(asked, studio=request.studio, viewer=viewer_for(request))
    context: dict[str, Any] = {"form": form, "cautions": CAUTIONS, "place": "kilns"}
    status = OK
    if not form.is_valid():
        has_no_kiln = not kilns(request.studio).exists()
        has_no_glass = not designer.glasses(request.studio).exists()
        context |= {"has_no_kiln": has_no_kiln, "has_no_glass": has_no_glass}
        # If there is nothing to choose from yet, nothing was filled in wrongly.
        status = OK if has_no_kiln or has_no_glass else FILLED_IN_WRONGLY
    else:
        try:
            context |= _answer(request, form.request_parts())
        except StudioError as problem:
            form.add_error(None, refusal_words(problem, viewer_for(request)))
            status = REFUSED
    if request.method == "POST" and status == OK and not request.htmx:
        return redirect(address_of(request))
    is_cut = request.GET.get("only") == ONLY_THE_CUT
    return render_page(
        request,
        "firing/schedules/schedule_designer.html",
        context,
        fragment="cut_only" if is_cut and "found" in context else "answer",
        status=status,
    )


def _answer(request: StudioRequest, asked: DesignerInput) -> dict[str, Any]:
    """Return what the page shows of a design, or the progress of computing it.

    Raises
    ------
    StudioError
        When there is no such schedule.
    """
    viewer = viewer_for(request)
    found: Tried | None
    found, job = in_time(
        request, asked, lambda told: designer.tried(asked, viewer=viewer, told=told)
    )
    if found is None:
        return {"job": job}
    starts_at = timezone.now().replace(minute=0, second=0, microsecond=0) + HOUR
    charts = design_charts.charts_of_design(
        found.shown.design,
        glass=asked.glass,
        cut=found.cut,
        viewer=viewer,
        starts_at=starts_at,
        part=request.GET.get("part", ""),
        kept=_kept(request),
    )
    return {
        "found": found,
        "design": found.shown,
        "is_usual": is_by_design(request.studio),
        "is_range_stale": request.GET.get("last_h") != str(found.last_h),
        "charts": charts,
    }


def _kept(request: StudioRequest) -> str:
    """Return the rest of the address for the links to a part of the chart."""
    kept = request.GET.copy()
    for name in ("part", "only", "last_h"):
        kept.pop(name, None)
    return f"{kept.urlencode()}&" if kept else ""


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
