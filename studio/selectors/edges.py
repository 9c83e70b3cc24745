"""Turns a piece as it is now into its edge view; `studio.drawings` has the geometry."""

from collections.abc import Callable

from studio.drawings.edge_view import BandState, EdgeLayer, EdgeView, build_edge_view
from studio.selectors.pieces import PieceView
from studio.stages import LayerState

BAND_STATES = {
    LayerState.PLANNED: BandState.PLANNED,
    LayerState.PAINTED: BandState.PAINTED,
    LayerState.NEXT_PASS: BandState.SECOND_PASS,
    LayerState.BURNT: BandState.BURNT,
    LayerState.CLEAR: BandState.CLEAR,
    LayerState.REMAKE: BandState.REMAKE,
}


def edge_of(
    view: PieceView,
    *,
    key: str = "",
    is_large: bool = False,
    link: Callable[[int], str] | None = None,
) -> EdgeView:
    """Draw a piece from its edge; `link` gives each band of a large one its address."""
    return build_edge_view(
        [
            EdgeLayer(
                number=one.number,
                thickness_mm=one.layer.glass.sheet_thickness_mm,
                state=BAND_STATES[one.state],
                label=one.layer.title,
                href="" if link is None else link(one.number),
            )
            for one in view.layers
        ],
        key=key or f"edge-{view.piece.pk}",
        large=is_large,
        fused=view.is_fused,
    )
