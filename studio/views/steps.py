"""A piece's steps as a whole: stack checked, inspected and finished, lost."""

from typing import TYPE_CHECKING

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from studio.answers import FormPage, WayBack, answer_form, answer_undo
from studio.forms.pieces import InspectionForm, LossForm, StackForm
from studio.http import (
    StudioRequest,
    done_at,
    piece_or_404,
    posted,
    requires,
    viewer_for,
    weight_fact,
)
from studio.panels import PanelRequest, inspection_warnings
from studio.roles import Can
from studio.selectors.pieces import PieceView, events
from studio.services.pieces import check_stack, finish_piece, mark_lost
from studio.services.put_right import take_back_event

if TYPE_CHECKING:
    from studio.models import PieceEvent


@require_http_methods(["GET", "POST"])
@requires(Can.PLAN_PIECES)
def stack_check(request: StudioRequest, pk: int) -> HttpResponse:
    """Count and measure a stack before it is fused."""
    view = piece_or_404(request, pk)
    form = StackForm(posted(request), viewer=viewer_for(request))
    nominal = viewer_for(request).length(view.stack_height_mm)
    page = FormPage(
        title="Check the stack",
        submit="Record the check",
        facts=(
            f"{len(view.layers)} sheets, together {nominal} by their thickness",
            weight_fact(view, viewer_for(request)),
        ),
        intro="Count the sheets and measure the stack; the glass decides, not the plan. "
        "The cooling is computed from this height.",
        caution_title="Heavy glass and fine dust",
        caution_points=(
            "Lift a thick stack with two people, edges wrapped; never over your feet.",
            "Wet the dust of glass and kiln wash before you wipe it; wear a respirator.",
        ),
        **_back(view),
    )
    made: list[PieceEvent] = []
    return answer_form(
        request,
        page,
        form,
        lambda: made.append(
            check_stack(
                piece=view.piece,
                by=request.user,
                at=done_at(request, timezone.now()),
                **form.cleaned_data,
            )
        ),
        told=f"The stack of {view.piece.title} is checked.",
        undo_url=lambda: _undo(made),
    )


@require_http_methods(["GET", "POST"])
@requires(Can.PLAN_PIECES)
def piece_finish(request: StudioRequest, pk: int) -> HttpResponse:
    """Record that a piece was inspected and is finished."""
    view = piece_or_404(request, pk)
    form = InspectionForm(posted(request))
    asked = PanelRequest(viewer=viewer_for(request), now=timezone.now())
    warning = inspection_warnings(asked, [view.piece]).get(view.piece.pk, "")
    page = FormPage(
        title="Inspect and finish",
        submit="Mark as finished",
        intro="Look at every edge and through the front against the light. Between "
        "crossed polarisers, bright patches mean tension that is left in the glass.",
        caution_title="The readings of its last firing" if warning else "",
        caution_points=(warning,) if warning else (),
        **_back(view),
    )
    made: list[PieceEvent] = []
    return answer_form(
        request,
        page,
        form,
        lambda: made.append(
            finish_piece(
                piece=view.piece,
                by=request.user,
                at=done_at(request, timezone.now()),
                **form.cleaned_data,
            )
        ),
        told=f"{view.piece.title} is finished.",
        undo_url=lambda: _undo(made),
    )


@require_http_methods(["GET", "POST"])
@requires(Can.PLAN_PIECES)
def piece_lost(request: StudioRequest, pk: int) -> HttpResponse:
    """Record that a piece is lost."""
    view = piece_or_404(request, pk)
    form = LossForm(posted(request))
    page = FormPage(
        title="Mark as lost",
        submit="Mark as lost",
        is_danger=True,
        intro="Nothing more will be planned, painted or fired for it.",
        **_back(view),
    )
    made: list[PieceEvent] = []
    return answer_form(
        request,
        page,
        form,
        lambda: made.append(
            mark_lost(
                piece=view.piece,
                by=request.user,
                at=done_at(request, timezone.now()),
                **form.cleaned_data,
            )
        ),
        told=f"{view.piece.title} is marked as lost.",
        undo_url=lambda: _undo(made),
    )


def _undo(made: "list[PieceEvent]") -> str:
    return reverse("studio:event_take_back", args=[made[0].pk])


@require_http_methods(["GET", "POST"])
@requires(Can.PLAN_PIECES)
def event_take_back(request: StudioRequest, pk: int) -> HttpResponse:
    """Take back that a stack was checked, or a piece finished or lost."""
    event = get_object_or_404(events(request.studio), pk=pk)
    now = timezone.now()
    page = FormPage(
        title=f"Take back: {event.get_kind_display().lower()}",
        submit="Take it back",
        intro=f"Recorded {viewer_for(request).moment(event.at, now)}.",
        **_back(piece_or_404(request, event.piece_id)),
    )
    return answer_undo(
        request,
        page,
        lambda reason: take_back_event(
            event=event, reason=reason, by=request.user, at=now
        ),
        recorded_at=event.at,
        now=now,
        told=f"Taken back: {event.get_kind_display().lower()}.",
    )


def _back(view: PieceView) -> WayBack:
    return {
        "back_url": reverse("studio:piece_detail", args=[view.piece.pk]),
        "back_label": view.piece.title,
        "place": "pieces",
    }
