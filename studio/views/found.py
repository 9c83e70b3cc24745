"""Finds what an address names in the studio of whoever asks, else 404."""

from typing import TYPE_CHECKING

from django.core.exceptions import ObjectDoesNotExist
from django.http import Http404
from django.shortcuts import get_object_or_404

from studio.http import StudioRequest
from studio.selectors import people, pieces
from studio.selectors.pieces import LayerView, PieceView

if TYPE_CHECKING:
    from studio.models import Membership, Pass


def member_or_404(request: StudioRequest, pk: int) -> "Membership":
    """Return a member of the studio, let in or not."""
    return get_object_or_404(people.members(request.studio), pk=pk)


def layer_or_404(view: PieceView, number: int) -> LayerView:
    """Return the piece's layer of that number."""
    found = pieces.layer_view(view, number)
    if found is None:
        raise Http404("No such layer in this piece.")
    return found


def pass_or_404(request: StudioRequest, pk: int) -> "Pass":
    """Return a pass with its sheet, layer and piece."""
    try:
        return pieces.pass_of(request.studio, pk)
    except ObjectDoesNotExist as problem:
        raise Http404("No such pass in this studio.") from problem
