"""One greedy plan: blocks of equal parts, laid where they fit best.

A `Manner` says what "best" means; the search tries many. Blocks keep the same part
together, so that its scores run on through all of it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

from studio.cutting.layout import Cut, Layout, Node, Rest, Score
from studio.cutting.problem import Problem
from studio.seeded_random import Dice


@dataclass(slots=True)
class Field:
    """A rectangle while the sheet is filled: free, a block of parts, or divided."""

    width: int
    height: int
    block: tuple[int, bool, int, int] | None = None
    """Part, whether it is turned, columns and rows."""
    is_upright: bool = False
    at: int = 0
    first: "Field | None" = None
    second: "Field | None" = None


@dataclass(slots=True)
class Open:
    """A sheet that is being cut."""

    stock: int
    root: Field
    free: list[Field]
    parts: dict[int, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Manner:
    """How a greedy plan chooses.

    Attributes
    ----------
    order : tuple of int
        Parts in the order in which they are laid.
    by_field : bool
        Fill the smallest free rectangle with whichever part fits it best, instead of
        laying each part where it fits best.
    fit : int
        0: shortest side left over; 1: area left over; 2: longest side left over.
    divide : int
        0: keep the larger rest whole; 1: the smaller; 2: score upright first; 3: level.
    stock_order : tuple of int
        Kinds of stock in the order in which they are opened.
    blocks : bool
        Whether equal parts are laid in blocks, or one by one.
    jitter : float
        How far a choice may be from the best, as a share of it.
    """

    order: tuple[int, ...]
    by_field: bool
    fit: int
    divide: int
    stock_order: tuple[int, ...]
    blocks: bool
    jitter: float


@dataclass(slots=True)
class Filler:
    """Fills sheets for one problem; `tried` counts the places looked at."""

    problem: Problem
    dice: Dice
    tried: int = 0

    def fill(
        self, wanted: Sequence[int], there: Sequence[int | None], manner: Manner
    ) -> tuple[list[Open], list[int]]:
        """Return the sheets cut for so many of each part, and what found no place."""
        left, stock = list(wanted), list(there)
        sheets: list[Open] = []
        while any(left):
            place = self._best(sheets, left, stock, manner)
            if place is None:
                opened = self._open(left, stock, manner)
                if opened is None:
                    break
                sheets.append(opened)
                continue
            sheet, where, block = place
            self._lay(sheet, where, block, manner)
            part, _, columns, rows = block
            left[part] -= columns * rows
            sheet.parts[part] = sheet.parts.get(part, 0) + columns * rows
        return sheets, left

    def _open(
        self, left: Sequence[int], stock: list[int | None], manner: Manner
    ) -> Open | None:
        """Take a sheet for the first part that still finds one."""
        for part in manner.order:
            kind = self._kind_for(part, stock, manner) if left[part] else None
            if kind is None:
                continue
            count = stock[kind]
            if count is not None:
                stock[kind] = count - 1
            sheet = self.problem.stock[kind]
            root = Field(sheet.width, sheet.height)
            return Open(kind, root, [root])
        return None

    def _kind_for(
        self, part: int, stock: Sequence[int | None], manner: Manner
    ) -> int | None:
        fits = self.problem.fits
        return next(
            (k for k in manner.stock_order if stock[k] != 0 and fits(part, k)), None
        )

    def _best(
        self,
        sheets: Sequence[Open],
        left: Sequence[int],
        stock: Sequence[int | None],
        manner: Manner,
    ) -> tuple[Open, Field, tuple[int, bool, int, int]] | None:
        """Return the next block and its place, or none when a sheet must be opened."""
        parts = [part for part in manner.order if left[part]]
        fields = [(sheet, where) for sheet in sheets for where in sheet.free]
        if manner.by_field:
            fields.sort(key=lambda each: each[1].width * each[1].height)
            for one in fields:
                found = self._best_in([one], parts, left, manner)
                if found is not None:
                    return found
            return None
        for part in parts:
            found = self._best_in(fields, [part], left, manner)
            if found is not None or self._kind_for(part, stock, manner) is not None:
                return found
        return None

    def _best_in(
        self,
        fields: Sequence[tuple[Open, Field]],
        parts: Sequence[int],
        left: Sequence[int],
        manner: Manner,
    ) -> tuple[Open, Field, tuple[int, bool, int, int]] | None:
        problem, kerf = self.problem, self.problem.terms.kerf
        best = None
        lowest = 0.0
        for part in parts:
            turns = (False, True) if problem.parts[part].may_turn else (False,)
            for is_turned in turns:
                width, height = problem.cut_size(part, is_turned=is_turned)
                if is_turned and width == height:
                    continue
                for sheet, where in fields:
                    self.tried += 1
                    if width > where.width or height > where.height:
                        continue
                    for columns, rows in _blocks(
                        where, width, height, kerf, left[part], may_block=manner.blocks
                    ):
                        wide = columns * (width + kerf) - kerf
                        high = rows * (height + kerf) - kerf
                        rating = _rating(where, wide, high, manner.fit)
                        if manner.jitter:
                            rating *= 1 + manner.jitter * self.dice.unit()
                        if best is None or rating < lowest:
                            lowest = rating
                            best = (sheet, where, (part, is_turned, columns, rows))
        return best

    def _lay(
        self,
        sheet: Open,
        where: Field,
        block: tuple[int, bool, int, int],
        manner: Manner,
    ) -> None:
        """Put a block into the corner of a free rectangle, and free what is beside it."""
        kerf = self.problem.terms.kerf
        part, is_turned, columns, rows = block
        width, height = self.problem.cut_size(part, is_turned=is_turned)
        wide, high = columns * (width + kerf) - kerf, rows * (height + kerf) - kerf
        beside, above = where.width - wide, where.height - high
        sheet.free.remove(where)
        is_upright = manner.divide == 2
        if manner.divide < 2:
            # The score that runs through leaves the rest beyond it whole.
            upright_whole = beside * where.height
            level_whole = above * where.width
            is_upright = (upright_whole >= level_whole) == (manner.divide == 0)
        inner = where
        for upright in (is_upright, not is_upright):
            spare = beside if upright else above
            if spare == 0:
                continue
            at = wide if upright else high
            inner.is_upright, inner.at = upright, at
            if upright:
                inner.first = Field(at, inner.height)
                rest = Field(spare - kerf, inner.height) if spare > kerf else None
            else:
                inner.first = Field(inner.width, at)
                rest = Field(inner.width, spare - kerf) if spare > kerf else None
            inner.second = rest
            if rest is not None:
                sheet.free.append(rest)
            inner = inner.first
        inner.block = block


def _blocks(
    where: Field, width: int, height: int, kerf: int, count: int, *, may_block: bool
) -> list[tuple[int, int]]:
    """Return the columns and rows of a part that could be laid in a free rectangle."""
    if not may_block or count == 1:
        return [(1, 1)]
    across = min(count, (where.width + kerf) // (width + kerf))
    up = min(count, (where.height + kerf) // (height + kerf))
    level = (across, max(1, min(up, count // across)))
    upright = (max(1, min(across, count // up)), up)
    return list({level, upright, (across, 1), (1, up)})


def _rating(where: Field, wide: int, high: int, fit: int) -> float:
    """Return how badly a block fits: what is left over, the lower the better."""
    beside, above = where.width - wide, where.height - high
    if fit == 0:
        return 1.0 + min(beside, above) / (1 + 1e-6 * wide * high)
    if fit == 1:
        return 1.0 + where.width * where.height - wide * high
    return 1.0 + max(beside, above)


def as_layout(sheet: Open, problem: Problem) -> Layout:
    """Return a filled sheet as a tree of scores."""
    return Layout(sheet.stock, _as_node(sheet.root, problem))


def _as_node(where: Field, problem: Problem) -> Node:
    if where.first is not None:
        second = None if where.second is None else _as_node(where.second, problem)
        first = _as_node(where.first, problem)
        return Score(
            where.width, where.height, where.is_upright, where.at, first, second
        )
    if where.block is None:
        shortest = min(where.width, where.height)
        is_kept = shortest >= problem.terms.smallest_offcut
        return Rest(where.width, where.height, is_kept)
    part, is_turned, columns, rows = where.block
    width, height = problem.cut_size(part, is_turned=is_turned)
    one: Node = Cut(width, height, part, is_turned)
    row = _repeat(one, columns, problem.terms.kerf, is_upright=True)
    return _repeat(row, rows, problem.terms.kerf, is_upright=False)


def _repeat(one: Node, count: int, kerf: int, *, is_upright: bool) -> Node:
    """Return a node so many times beside itself, or above itself."""
    along = one.width if is_upright else one.height
    node = one
    for times in range(2, count + 1):
        whole = times * (along + kerf) - kerf
        size = (whole, one.height) if is_upright else (one.width, whole)
        node = Score(*size, is_upright, along, one, node)
    return node
