"""The problem turned into numbers and tables for the planner; nothing in it changes.

Kilns are numbered from the cheapest enamel firing to the dearest, so that a set of kilns
is a mask of bits whose lowest is the cheapest. Passes are numbered through all pieces.
"""

from dataclasses import dataclass

from firing.planning.problem.access import AccessTimes, Run
from firing.planning.problem.hours import Hours
from firing.planning.problem.loads import Shelf
from firing.planning.problem.problem import (
    EnamelKind,
    PlannedKiln,
    PlannedPass,
    PlannedPerson,
    PlannedPiece,
    Problem,
    Skill,
    Window,
    fuse_kwh,
    joined,
    takes_layer,
    takes_stack,
)

# Energy is added in whole thousandths, so that sums do not depend on their order.
MILLI = 1000


@dataclass(frozen=True, slots=True)
class PassFacts:
    """One pass: where it belongs and what it needs."""

    number: int
    piece: int
    layer: int
    position: int
    kind: int
    labour: int
    not_before: int


class PieceFacts:
    """One piece, its passes by layer, and the kilns (bits) that take it."""

    __slots__ = (
        "artist",
        "fuse_kilns",
        "fuse_mwh",
        "kilns_for",
        "layers",
        "passes",
        "piece",
        "size",
    )

    def __init__(
        self,
        piece: PlannedPiece,
        artist: int,
        size: int,
        layers: list[list[PassFacts]],
        kilns_for: list[int],
        fuse_kilns: list[int],
        fuse_mwh: dict[int, int],
    ) -> None:
        self.piece = piece
        self.artist = artist
        self.size = size
        self.layers = layers
        self.passes = [one for layer in layers for one in layer]
        self.kilns_for = kilns_for
        self.fuse_kilns = fuse_kilns
        self.fuse_mwh = fuse_mwh


class Facts:
    """Tables of one problem, shared by all boards of one planning run."""

    def __init__(self, problem: Problem, access: AccessTimes | None = None) -> None:
        self.problem = problem
        # Tables for the same access hours may be passed in: they are slow to make.
        self.access = access or AccessTimes(problem.access, problem.horizon)
        self.kinds: list[EnamelKind] = list(problem.kinds)
        self.kilns: list[PlannedKiln] = sorted(
            problem.kilns, key=lambda kiln: (kiln.kwh_per_enamel_firing, kiln.id)
        )
        self.people: list[PlannedPerson] = list(problem.people)
        self.kiln_number = {kiln.id: n for n, kiln in enumerate(self.kilns)}
        self.kind_number = {kind.id: n for n, kind in enumerate(self.kinds)}
        self.person_number = {who.id: n for n, who in enumerate(self.people)}
        self.cold_workers = [
            n for n, who in enumerate(self.people) if Skill.COLDWORK in who.skills
        ]
        self.nights: list[list[Run]] = [
            self.access.nights(kind.load, kind.run, kind.unload) for kind in self.kinds
        ]
        self.night_starts = [[one.start for one in runs] for runs in self.nights]
        self.night_ends = [[one.end for one in runs] for runs in self.nights]
        self.firing_mwh = [
            round(kiln.kwh_per_enamel_firing * MILLI) for kiln in self.kilns
        ]
        self.closed: list[tuple[Window, ...]] = [
            self._closed(kiln, problem) for kiln in self.kilns
        ]
        sizes = sorted({(p.width_mm, p.depth_mm) for p in problem.pieces})
        self.size_number = {size: n for n, size in enumerate(sizes)}
        self.shelves = self._shelves(sizes)
        # Nobody works on these: they translate times into slots.
        self.empty_hours = [Hours(who, problem.horizon) for who in self.people]
        self.night_at: list[dict[tuple[int, int], int]] = [
            {(run.start, run.unload): night for night, run in enumerate(runs)}
            for runs in self.nights
        ]
        self.pass_count = 0
        self._known_kilns: dict[
            tuple[object, ...], tuple[list[int], list[int], dict[int, int]]
        ] = {}
        self.pieces = [self._piece(n, p) for n, p in enumerate(problem.pieces)]
        self.passes = [one for piece in self.pieces for one in piece.passes]
        self.piece_number = {p.id: n for n, p in enumerate(problem.pieces)}

    def _closed(self, kiln: PlannedKiln, problem: Problem) -> tuple[Window, ...]:
        """Return when the kiln is not available: maintenance and what is in it."""
        standing = [
            (one.start, one.end) for one in problem.fixed if one.kiln == kiln.id
        ]
        return joined((*kiln.maintenance, *standing))

    def _shelves(self, sizes: list[tuple[float, float]]) -> list[list[Shelf]]:
        """Return a shelf per kiln and kind; equal shelves share what they remember."""
        known: dict[tuple[float, float, float], Shelf] = {}
        result = []
        for kiln in self.kilns:
            row = []
            for kind in self.kinds:
                key = (kiln.width_mm, kiln.depth_mm, kind.gap_mm)
                if key not in known:
                    known[key] = Shelf(
                        sizes, width_mm=key[0], depth_mm=key[1], gap_mm=key[2]
                    )
                row.append(known[key])
            result.append(row)
        return result

    def _piece(self, number: int, piece: PlannedPiece) -> PieceFacts:
        layers = []
        for at, layer in enumerate(piece.layers):
            layers.append(
                [self._pass(number, at, n, one) for n, one in enumerate(layer)]
            )
        return PieceFacts(
            piece,
            self.person_number[piece.artist],
            self.size_number[(piece.width_mm, piece.depth_mm)],
            layers,
            *self._taken_by(piece),
        )

    def _taken_by(
        self, piece: PlannedPiece
    ) -> tuple[list[int], list[int], dict[int, int]]:
        """Return the kilns for its layers and its fuse; similar pieces share the lists."""
        key = (
            *(piece.width_mm, piece.depth_mm, piece.height_mm, piece.layer_height_mm),
            *(piece.fuse, piece.layers_not_in, piece.stack_not_in),
        )
        if key not in self._known_kilns:
            numbered = list(enumerate(self.kilns))
            run = piece.fuse.run if piece.fuse else 0
            for_fuse = [n for n, kiln in numbered if takes_stack(kiln, piece)]
            for_layers = [
                sum(1 << n for n, kiln in numbered if takes_layer(kiln, kind, piece))
                for kind in self.kinds
            ]
            energy = {n: round(fuse_kwh(self.kilns[n], run) * MILLI) for n in for_fuse}
            self._known_kilns[key] = (for_layers, for_fuse, energy)
        return self._known_kilns[key]

    def _pass(
        self, piece: int, layer: int, position: int, one: PlannedPass
    ) -> PassFacts:
        self.pass_count += 1
        return PassFacts(
            self.pass_count - 1,
            piece,
            layer,
            position,
            self.kind_number[one.kind],
            one.labour,
            one.not_before,
        )
