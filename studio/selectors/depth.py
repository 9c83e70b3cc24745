"""Turns a piece into its depth view; `studio.drawings.depth_view` has the geometry."""

from collections.abc import Callable, Iterable

from studio.drawings.depth_view import DepthSheet, DepthView, build_depth_view
from studio.models import Picture
from studio.selectors.edges import BAND_STATES
from studio.selectors.pieces import PieceView


def depth_of(
    view: PieceView,
    pictures: Iterable[Picture],
    *,
    address: Callable[[Picture], str],
    has_titles: bool = True,
) -> DepthView:
    """Lay a piece's layers over each other, each with the newest of `pictures` of it."""
    newest: dict[int, Picture] = {}
    for picture in pictures:
        if picture.layer_id is None:
            continue
        other = newest.get(picture.layer_id)
        if other is None or (picture.at, picture.pk) > (other.at, other.pk):
            newest[picture.layer_id] = picture
    return build_depth_view(
        [
            DepthSheet(
                number=one.number,
                thickness_mm=one.layer.glass.sheet_thickness_mm,
                state=BAND_STATES[one.state],
                title=one.layer.title if has_titles else "",
                src=address(newest[one.layer.pk]) if one.layer.pk in newest else "",
            )
            for one in view.layers
        ],
        width_mm=view.piece.width_mm,
        height_mm=view.piece.height_mm,
    )
