"""Layers added, taken out, put back and moved, and another pass for one."""

from typing import TYPE_CHECKING

from django.contrib import messages
from django.core.exceptions import ObjectDoesNotExist
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import require_http_methods, require_POST

from studio.answers import FormPage, form_page
from studio.errors import StudioError
from studio.forms.stack_order import NewLayerForm, PlaceForm
from studio.http import (
    OK,
    REFUSED,
    StudioRequest,
    attempt,
    piece_or_404,
    posted,
    requires,
    say_done,
)
from studio.roles import Can
from studio.selectors import pieces
from studio.services.pieces import LayerPlan
from studio.services.stack_order import (
    add_layer,
    add_pass,
    move_layer,
    put_back_layer,
    take_out_layer,
    take_out_pass,
)
from studio.views.found import layer_or_404
from studio.views.layers import layer_page

if TYPE_CHECKING:
    from studio.models import Layer


@require_http_methods(["GET", "POST"])
@requires(Can.PLAN_PIECES)
def layer_add(request: StudioRequest, pk: int) -> HttpResponse:
    """Add a layer to a stack that is not checked yet."""
    view = piece_or_404(request, pk)
    form = NewLayerForm(posted(request), view=view)
    page = FormPage(
        title="Add a layer",
        submit="Add the layer",
        back_url=reverse("studio:piece_detail", args=[pk]),
        back_label=view.piece.title,
        place="pieces",
    )
    status = OK
    if request.method == "POST":
        added: list[Layer] = []
        status = attempt(form, lambda: added.append(_add(request, pk, form)))
        if status == OK:
            number = added[0].number
            undo = reverse("studio:layer_take_out", args=[pk, number])
            say_done(request, f"Layer {number} is added.", undo_url=undo)
            return redirect(page.back_url)
    return form_page(request, page, form, status)


def _add(request: StudioRequest, pk: int, form: NewLayerForm) -> "Layer":
    chosen = form.cleaned_data
    return add_layer(
        piece=piece_or_404(request, pk).piece,
        place=chosen["place"],
        plan=LayerPlan(
            technique=chosen["technique"],
            passes=chosen["passes"] or 0,
            glass=chosen["glass"],
            title=chosen["title"],
        ),
        by=request.user,
        at=timezone.now(),
    )


@require_POST
@requires(Can.PLAN_PIECES)
def layer_take_out(request: StudioRequest, pk: int, number: int) -> HttpResponse:
    """Take a layer out of the stack; it can be put back."""
    view = piece_or_404(request, pk)
    own = layer_or_404(view, number)
    try:
        take_out_layer(layer=own.layer, by=request.user, at=timezone.now())
    except StudioError as refusal:
        return layer_page(request, view, own, status=REFUSED, problem=str(refusal))
    undo = reverse("studio:layer_put_back", args=[own.layer.pk])
    say_done(request, f"Layer {number} is taken out.", undo_url=undo)
    return redirect("studio:piece_detail", pk)


@require_POST
@requires(Can.PLAN_PIECES)
def layer_put_back(request: StudioRequest, pk: int) -> HttpResponse:
    """Put a layer that was taken out back into the stack."""
    try:
        layer = pieces.layer_of(request.studio, pk)
    except ObjectDoesNotExist as problem:
        raise Http404("No such layer in this studio.") from problem
    try:
        put_back_layer(layer=layer, by=request.user, at=timezone.now())
    except StudioError as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, f"{layer} is back in the stack.")
    return redirect("studio:piece_detail", layer.piece_id)


@require_POST
@requires(Can.PLAN_PIECES)
def layer_move(request: StudioRequest, pk: int, number: int) -> HttpResponse:
    """Move a layer to another place in the stack."""
    view = piece_or_404(request, pk)
    own = layer_or_404(view, number)
    # The address that undoes a move carries the place it had.
    form = PlaceForm(request.POST if "place" in request.POST else request.GET)
    status = attempt(
        form,
        lambda: move_layer(
            layer=own.layer,
            place=form.cleaned_data["place"],
            by=request.user,
            at=timezone.now(),
        ),
    )
    if status != OK:
        return layer_page(request, view, own, status=status, place_form=form)
    now_at = form.cleaned_data["place"]
    undo = reverse("studio:layer_move", args=[pk, now_at])
    say_done(
        request,
        f"Layer {number} is layer {now_at} now.",
        undo_url=f"{undo}?{urlencode({'place': number})}",
    )
    return redirect("studio:layer_detail", pk, now_at)


@require_POST
@requires(Can.PLAN_PIECES)
def pass_add(request: StudioRequest, pk: int, number: int) -> HttpResponse:
    """Plan another pass for a layer."""
    view = piece_or_404(request, pk)
    own = layer_or_404(view, number)
    try:
        added = add_pass(layer=own.layer, by=request.user, at=timezone.now())
    except StudioError as refusal:
        return layer_page(request, view, own, status=REFUSED, problem=str(refusal))
    undo = reverse("studio:pass_take_out", args=[pk, number])
    say_done(request, f"Layer {number} gets pass {added.number}.", undo_url=undo)
    return redirect("studio:layer_detail", pk, number)


@require_POST
@requires(Can.PLAN_PIECES)
def pass_take_out(request: StudioRequest, pk: int, number: int) -> HttpResponse:
    """Take out a layer's last pass."""
    view = piece_or_404(request, pk)
    own = layer_or_404(view, number)
    try:
        take_out_pass(layer=own.layer, by=request.user, at=timezone.now())
    except StudioError as refusal:
        return layer_page(request, view, own, status=REFUSED, problem=str(refusal))
    messages.success(request, f"The last pass of layer {number} is taken out.")
    return redirect("studio:layer_detail", pk, number)
