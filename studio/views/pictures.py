"""Photographs: uploaded, sent to those who may see them, captioned, removed."""

from typing import TYPE_CHECKING

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import FileResponse, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from studio.forms.pictures import CaptionForm, PictureForm
from studio.http import (
    OK,
    StudioRequest,
    attempt,
    piece_or_404,
    render_page,
    requires,
    send_picture,
    send_webp,
    viewer_for,
)
from studio.roles import Can
from studio.selectors import pictures
from studio.services.pictures import (
    add_picture,
    change_caption,
    remove_picture,
    show_to_client,
)
from studio.views.found import layer_or_404
from studio.views.layers import layer_page
from studio.views.pieces import piece_page

if TYPE_CHECKING:
    from studio.models import Picture


def _picture_or_404(request: StudioRequest, pk: int) -> "Picture":
    return get_object_or_404(pictures.pictures(request.studio), pk=pk)


def _home(picture: "Picture") -> str:
    if picture.layer is not None:
        return reverse(
            "studio:layer_detail", args=[picture.layer.piece_id, picture.layer.number]
        )
    if picture.piece_id is not None:
        return reverse("studio:piece_detail", args=[picture.piece_id])
    return reverse("studio:piece_list")


@require_POST
@requires(Can.RECORD_WORK)
def picture_add(
    request: StudioRequest, pk: int, number: int | None = None
) -> HttpResponse:
    """Upload a photograph of a piece, or of one of its layers."""
    view = piece_or_404(request, pk)
    own = None if number is None else layer_or_404(view, number)
    form = PictureForm(request.POST, request.FILES, viewer=viewer_for(request))
    now = timezone.now()
    status = attempt(
        form,
        lambda: add_picture(
            studio=request.studio,
            upload=form.cleaned_data["picture"],
            name=form.cleaned_data["picture"].name,
            piece=view.piece,
            layer=None if own is None else own.layer,
            caption=form.cleaned_data["caption"],
            is_shown_to_client=form.cleaned_data.get("is_shown_to_client", False),
            by=request.user,
            at=now,
        ),
    )
    if status == OK:
        messages.success(request, "The picture is added.")
        if own is None:
            return redirect("studio:piece_detail", pk)
        return redirect("studio:layer_detail", pk, own.number)
    if own is None:
        return piece_page(request, view, picture_form=form, status=status)
    return layer_page(request, view, own, picture_form=form, status=status)


@require_safe
@requires(Can.SEE_WORK)
def picture(request: StudioRequest, pk: int, size: str) -> HttpResponse | FileResponse:
    """Send a photograph to a member of its studio."""
    return send_picture(_picture_or_404(request, pk), size=size)


@require_safe
@requires(Can.SEE_WORK)
def piece_face(request: StudioRequest, pk: int) -> HttpResponse | FileResponse:
    """Send a piece's layers looked through to a member of its studio."""
    return send_webp(piece_or_404(request, pk).piece.face)


@require_safe
@requires(Can.SEE_WORK)
def picture_detail(request: StudioRequest, pk: int) -> HttpResponse:
    """Show one photograph large, with what can be done to it."""
    return _page(request, _picture_or_404(request, pk))


def _page(
    request: StudioRequest,
    found: "Picture",
    form: CaptionForm | None = None,
    status: int = OK,
) -> HttpResponse:
    context = {
        "picture": found,
        "home_url": _home(found),
        "form": form or CaptionForm(initial={"caption": found.caption}),
        "may_remove": _may_remove(request, found),
        "place": "pieces",
    }
    return render_page(request, "studio/picture_detail.html", context, status=status)


def _may_remove(request: StudioRequest, found: "Picture") -> bool:
    viewer = viewer_for(request)
    is_own = viewer.may_record_work and found.by_id == request.user.pk
    return is_own or viewer.may_plan_pieces


@require_POST
@requires(Can.RECORD_WORK)
def picture_caption(request: StudioRequest, pk: int) -> HttpResponse:
    """Set a photograph's caption."""
    found = _picture_or_404(request, pk)
    form = CaptionForm(request.POST)
    status = attempt(
        form,
        lambda: change_caption(picture=found, caption=form.cleaned_data["caption"]),
    )
    if status != OK:
        return _page(request, found, form, status)
    return redirect("studio:picture_detail", pk)


@require_POST
@requires(Can.PLAN_PIECES)
def picture_show(request: StudioRequest, pk: int) -> HttpResponse:
    """Put a photograph on the client's page, or take it off."""
    found = _picture_or_404(request, pk)
    show_to_client(
        picture=found,
        is_shown=request.POST.get("is_shown") == "yes",
        by=request.user,
        at=timezone.now(),
    )
    return redirect("studio:picture_detail", pk)


@require_POST
@requires(Can.RECORD_WORK)
def picture_remove(request: StudioRequest, pk: int) -> HttpResponse:
    """Remove a photograph: one's own, or any for those responsible for the piece."""
    found = _picture_or_404(request, pk)
    if not _may_remove(request, found):
        raise PermissionDenied("Only its own photographer may remove it.")
    home = _home(found)
    remove_picture(picture=found, by=request.user, at=timezone.now())
    messages.success(request, "The picture is removed.")
    return redirect(home)
