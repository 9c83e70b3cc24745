"""Work that is waiting: layers to paint or make again, stacks, inspections."""

from collections.abc import Sequence
from dataclasses import dataclass

from studio.selectors.pieces import LayerView, PieceView
from studio.stages import LayerState, Stage


@dataclass(frozen=True, slots=True, kw_only=True)
class LayersOfPiece:
    """Some layers of one piece that wait for the same thing."""

    view: PieceView
    layers: tuple[LayerView, ...]

    @property
    def passes_in_words(self) -> str:
        """Say which layers wait for which pass: "Pass 1: layers 2, 3"."""
        by_pass: dict[int, list[str]] = {}
        for one in self.layers:
            if one.pass_to_paint is not None:
                by_pass.setdefault(one.pass_to_paint.number, []).append(str(one.number))
        return "; ".join(
            f"pass {number}: {layers_in_words(numbers)}"
            for number, numbers in sorted(by_pass.items())
        ).capitalize()

    @property
    def layers_in_words(self) -> str:
        """Name the layers: "layers 2, 3"."""
        return layers_in_words([str(one.number) for one in self.layers])


def layers_in_words(numbers: list[str]) -> str:
    """Name layers by number: "layer 2", "layers 2, 3"."""
    return f"layer{'' if len(numbers) == 1 else 's'} {', '.join(numbers)}"


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchWork:
    """The bench's work for the day, oldest piece first."""

    to_inspect: tuple[PieceView, ...]
    to_decide: tuple[PieceView, ...]
    to_stack: tuple[PieceView, ...]
    to_make_again: tuple[LayersOfPiece, ...]
    to_paint: tuple[LayersOfPiece, ...]


def work_of(in_work: Sequence[PieceView]) -> BenchWork:
    """Return what can be done at the bench now; the pieces come newest first."""
    views = in_work[::-1]
    return BenchWork(
        to_inspect=_at(views, Stage.TO_INSPECT),
        to_decide=_at(views, Stage.CRACKED),
        to_stack=_at(views, Stage.READY_TO_STACK),
        to_make_again=_layers(views, is_remake=True),
        to_paint=_layers(views, is_remake=False),
    )


def _at(views: Sequence[PieceView], stage: Stage) -> tuple[PieceView, ...]:
    return tuple(view for view in views if view.stage is stage)


def _layers(
    views: Sequence[PieceView], *, is_remake: bool
) -> tuple[LayersOfPiece, ...]:
    found = []
    for view in views:
        layers = tuple(
            one
            for one in view.layers
            if (one.state is LayerState.REMAKE) == is_remake
            and (is_remake or one.pass_to_paint is not None)
        )
        if layers:
            found.append(LayersOfPiece(view=view, layers=layers))
    return tuple(found)
