"""Rows of the pages about pieces: states for the status mark, with words beside."""

from dataclasses import dataclass

from studio.drawings.edge_view import EdgeView
from studio.selectors.edges import edge_of
from studio.selectors.pieces import LayerView, PieceView
from studio.stages import LayerState, Stage

STAGE_MARKS = {
    Stage.PLANNED: "planned",
    Stage.PAINTING: "doing",
    Stage.READY_TO_STACK: "waiting",
    Stage.STACKED: "doing",
    Stage.IN_KILN: "hot",
    Stage.TACKED: "doing",
    Stage.FIRE_AGAIN: "problem",
    Stage.CRACKED: "problem",
    Stage.TO_INSPECT: "waiting",
    Stage.FINISHED: "done",
    Stage.LOST: "stopped",
    Stage.STOPPED: "stopped",
}
LAYER_MARKS = {
    LayerState.PLANNED: "planned",
    LayerState.PAINTED: "painted",
    LayerState.NEXT_PASS: "waiting",
    LayerState.BURNT: "done",
    LayerState.CLEAR: "clear",
    LayerState.REMAKE: "remake",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceRow:
    """A piece in a list, with the address of its picture, or its small edge view."""

    view: PieceView
    edge: EdgeView | None
    mark: str
    kiln: str = ""
    picture: str = ""

    @classmethod
    def of(cls, view: PieceView, kiln: str = "", picture: str = "") -> "PieceRow":
        """Make the row of a piece; `kiln` says what is known of the one it is in."""
        return cls(
            view=view,
            edge=None if picture else edge_of(view),
            mark=STAGE_MARKS[view.stage],
            kiln=kiln,
            picture=picture,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerRow:
    """A layer of a piece, with its picture and the address and verb of its next step."""

    view: LayerView
    mark: str
    src: str = ""
    action: tuple[str, str] | None = None

    @classmethod
    def of(
        cls, view: LayerView, src: str = "", action: tuple[str, str] | None = None
    ) -> "LayerRow":
        """Make the row of a layer; `src` is the address of its picture."""
        return cls(view=view, mark=LAYER_MARKS[view.state], src=src, action=action)

    @property
    def burnt_count(self) -> int:
        """Return how many of the sheet's passes were fired."""
        return sum(bool(one.outcome) for one in self.view.passes)

    @property
    def pass_words(self) -> str:
        """Say how many of its passes are done: "1 of 2 burnt on"."""
        if not self.view.layer.planned_passes:
            return "none"
        if self.view.sheet is None:
            return "sheet set aside"
        return f"{self.burnt_count} of {len(self.view.passes)} burnt on"
