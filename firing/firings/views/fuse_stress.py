"""The computed schedule of a piece beside the table's rules, each with its stress."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.http import urlencode
from django.views.decorators.http import require_http_methods

from firing.firings.forms.loads import KilnChoiceForm
from firing.kiln_time.selectors.bookings import next_booking_of
from firing.schedules.forms.stress import LimitsForm, limits_values
from firing.schedules.selectors import designs
from firing.schedules.selectors.fuse_anneal import is_by_design
from firing.schedules.selectors.limits import limits_of
from firing.schedules.selectors.refusal_words import refusal_words
from firing.schedules.selectors.stacks import table_kinds
from firing.schedules.selectors.tables import CAUTIONS
from firing.schedules.views.within_budget import address_of, in_time
from studio.errors import StudioError
from studio.http import (
    FILLED_IN_WRONGLY,
    OK,
    REFUSED,
    StudioRequest,
    piece_or_404,
    render_page,
    requires,
    viewer_for,
)
from studio.roles import Can


def designer_address(values: dict[str, str | int]) -> str:
    """Return the designer's address, filled in."""
    return f"{reverse('firing:schedule_designer')}?{urlencode(values)}"


@require_http_methods(["GET", "HEAD", "POST"])
@requires(Can.BOOK_KILNS)
def fuse_stress(request: StudioRequest, pk: int) -> HttpResponse:
    """Design a piece's schedule in one kiln and compare it with the table's.

    POST to the same address orders what takes longer than a page may.
    """
    view = piece_or_404(request, pk)
    kinds = table_kinds(view)
    if not kinds or next_booking_of(view.piece) is not None:
        return redirect("firing:fuse_plan", pk)
    kind = request.GET.get("kind", "")
    kiln = KilnChoiceForm(request.GET, studio=request.studio).chosen
    if kiln is None:
        return redirect("firing:fuse_plan", pk)
    kind = kind if kind in kinds else kinds[0]
    limits = limits_of(request.studio)
    asked = {
        name: request.GET.get(name, usual)
        for name, usual in limits_values(limits).items()
    }
    form = LimitsForm(asked, limits=limits)
    context: dict[str, Any] = {
        "view": view,
        "piece": view.piece,
        "kiln": kiln,
        "kind": kind,
        "form": form,
        "is_usual": is_by_design(request.studio),
        "designer_url": designer_address(
            {
                **asked,
                "kind": kind,
                "glass": view.piece.glass_id,
                "kiln": kiln.pk,
                "height": f"{view.height_mm:g} mm",
                "longest_side": f"{view.piece.longest_mm:g} mm",
                **({"is_dammed": "on"} if view.piece.is_dammed else {}),
            }
        ),
        "cautions": CAUTIONS,
        "place": "pieces",
    }
    status = OK
    if not form.is_valid():
        status = FILLED_IN_WRONGLY
    else:
        asked_for = designs.asked_for_piece(
            view, kiln=kiln, kind=kind, limits=form.limits
        )
        viewer = viewer_for(request)
        try:
            context["design"], context["job"] = in_time(
                request,
                asked_for,
                lambda told: designs.shown_design(
                    asked_for, viewer=viewer, told=told, is_loaded=True
                ),
            )
        except StudioError as problem:
            form.add_error(None, refusal_words(problem, viewer_for(request)))
            status = REFUSED
    if request.method == "POST" and status == OK and not request.htmx:
        return redirect(address_of(request))
    answer = render_page(
        request,
        "firing/firings/fuse_stress.html",
        context,
        fragment="stress",
        status=status,
    )
    if context.get("design"):
        # The rules above name a design's hours once there is one.
        answer["HX-Trigger"] = "designed"
    return answer
