"""The page of one layer and what is done to it."""

from django.db.models import prefetch_related_objects
from django.forms import BaseForm
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from studio.answers import FormPage, answer_undo
from studio.forms.layers import AgainForm, LayerForm
from studio.forms.pictures import PictureForm
from studio.forms.stack_order import PlaceForm
from studio.http import (
    OK,
    StudioRequest,
    attempt,
    piece_or_404,
    render_page,
    requires,
    say_done,
    viewer_for,
)
from studio.roles import Can
from studio.selectors import pieces
from studio.selectors.pieces import LayerView, PieceView
from studio.services.layers import change_layer, make_again, take_back_painting
from studio.services.put_right import take_back_again
from studio.stages import MOST_PASSES
from studio.views.display import LAYER_MARKS, LayerRow
from studio.views.found import layer_or_404, pass_or_404


@require_safe
@requires(Can.SEE_WORK)
def layer_detail(request: StudioRequest, pk: int, number: int) -> HttpResponse:
    """Show a layer: its sheet in use with its passes, pictures, and earlier sheets."""
    view = piece_or_404(request, pk)
    return layer_page(request, view, layer_or_404(view, number))


def layer_page(
    request: StudioRequest,
    view: PieceView,
    own: LayerView,
    *,
    status: int = OK,
    **more: BaseForm | str,
) -> HttpResponse:
    """Answer with a layer's page; a form that was filled in wrongly is shown again."""
    viewer = viewer_for(request)
    layer = own.layer
    pictures = layer.pictures.select_related("of_pass").order_by("-at", "-pk")
    prefetch_related_objects(own.all_passes, "materials")
    context = {
        "view": view,
        "piece": view.piece,
        "own": own,
        "layer": layer,
        "mark": LAYER_MARKS[own.state],
        "row": LayerRow.of(own),
        "behind": pieces.layer_view(view, own.number - 1),
        "in_front": pieces.layer_view(view, own.number + 1),
        "pictures": list(pictures),
        "place": "pieces",
        "is_in_painting": not view.events,
        "may_have_more": bool(own.passes) and len(own.passes) < MOST_PASSES,
        "again_form": AgainForm(
            initial={
                "reason": _why_again(own),
                "sheet": own.sheet.pk if own.sheet is not None else 0,
            }
        ),
        "place_form": PlaceForm(initial={"place": own.number}),
        "layer_form": LayerForm(
            layer=layer, may_change_glass=view.may_change_glass(own)
        ),
        "picture_form": PictureForm(viewer=viewer),
        **more,
    }
    return render_page(request, "studio/layer_detail.html", context, status=status)


def _why_again(own: LayerView) -> str:
    """Return what was noted when the last sheet cracked: nobody is asked twice."""
    if own.sheet is not None or not own.earlier_sheets:
        return ""
    last = own.earlier_sheets[-1]
    noted = [p.outcome_note for p in last.read_passes if p.outcome_note]
    return noted[-1] if noted else last.set_aside_reason


def _to_layer(pk: int, number: int) -> HttpResponse:
    return redirect(reverse("studio:layer_detail", args=[pk, number]))


@require_POST
@requires(Can.RECORD_WORK)
def layer_make_again(request: StudioRequest, pk: int, number: int) -> HttpResponse:
    """Cut a new sheet for a layer; the old one stays on record."""
    view = piece_or_404(request, pk)
    own = layer_or_404(view, number)
    form = AgainForm(request.POST)
    now = timezone.now()
    status = attempt(
        form,
        lambda: make_again(
            layer=own.layer,
            reason=form.cleaned_data["reason"],
            shown_sheet=form.cleaned_data["sheet"],
            by=request.user,
            at=now,
        ),
    )
    if status != OK:
        return layer_page(request, view, own, status=status, again_form=form)
    undo = reverse("studio:layer_again_take_back", args=[pk, number])
    say_done(request, f"Layer {number} starts again on a new sheet.", undo_url=undo)
    return _to_layer(pk, number)


@require_http_methods(["GET", "POST"])
@requires(Can.RECORD_WORK)
def layer_again_take_back(request: StudioRequest, pk: int, number: int) -> HttpResponse:
    """Take back that a layer is made again."""
    own = layer_or_404(piece_or_404(request, pk), number)
    now = timezone.now()
    page = FormPage(
        title=f"{own.layer} is not made again",
        submit="Take it back",
        intro="The sheet before is used again, unless it cracked.",
        back_url=reverse("studio:layer_detail", args=[pk, number]),
        back_label=str(own.layer),
        place="pieces",
    )
    return answer_undo(
        request,
        page,
        lambda reason: take_back_again(
            layer=own.layer, reason=reason, by=request.user, at=now
        ),
        recorded_at=own.sheet.made_at if own.sheet is not None else now,
        now=now,
        told=f"Layer {number} is not made again.",
    )


@require_POST
@requires(Can.RECORD_WORK)
def layer_rename(request: StudioRequest, pk: int, number: int) -> HttpResponse:
    """Change what is on a layer, and which glass it is."""
    view = piece_or_404(request, pk)
    own = layer_or_404(view, number)
    form = LayerForm(
        request.POST,
        layer=own.layer,
        may_change_glass=view.may_change_glass(own),
    )
    now = timezone.now()
    status = attempt(
        form,
        lambda: change_layer(
            layer=own.layer,
            title=form.cleaned_data["title"],
            glass=form.cleaned_data.get("glass") or own.layer.glass,
            by=request.user,
            at=now,
        ),
    )
    if status != OK:
        return layer_page(request, view, own, status=status, layer_form=form)
    return _to_layer(pk, number)


@require_http_methods(["GET", "POST"])
@requires(Can.RECORD_WORK)
def pass_take_back(request: StudioRequest, pk: int) -> HttpResponse:
    """Undo a pass that was recorded as painted by mistake."""
    now = timezone.now()
    of_pass = pass_or_404(request, pk)
    layer = of_pass.sheet.layer
    page = FormPage(
        title=f"{of_pass} is not painted",
        submit="Take it back",
        back_url=reverse("studio:layer_detail", args=[layer.piece_id, layer.number]),
        back_label=str(layer),
        place="pieces",
    )
    return answer_undo(
        request,
        page,
        lambda reason: take_back_painting(
            of_pass=of_pass, reason=reason, by=request.user, at=now
        ),
        recorded_at=of_pass.painted_at or now,
        now=now,
        told=f"Pass {of_pass.number} waits to be painted again.",
    )
