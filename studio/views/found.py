"""Finds what an address names in a piece; else 404."""

from django.http import Http404

from studio.selectors import pieces
from studio.selectors.pieces import LayerView, PieceView


def layer_or_404(view: PieceView, number: int) -> LayerView:
    """Return the piece's layer of that number."""
    found = pieces.layer_view(view, number)
    if found is None:
        raise Http404("No such layer in this piece.")
    return found
