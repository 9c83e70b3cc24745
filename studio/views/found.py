"""Finds what an address names, in the studio of whoever asks; else 404."""

from django.core.exceptions import ObjectDoesNotExist
from django.http import Http404

from studio.http import StudioRequest
from studio.selectors import pieces
from studio.selectors.pieces import LayerView, PieceView


def piece_or_404(request: StudioRequest, pk: int) -> PieceView:
    """Return the piece, read with everything its pages show."""
    try:
        return pieces.piece_view(request.studio, pk)
    except ObjectDoesNotExist as problem:
        raise Http404("No such piece in this studio.") from problem


def layer_or_404(view: PieceView, number: int) -> LayerView:
    """Return the piece's layer of that number."""
    found = pieces.layer_view(view, number)
    if found is None:
        raise Http404("No such layer in this piece.")
    return found
