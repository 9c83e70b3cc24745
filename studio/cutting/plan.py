"""The search for a cutting plan: many greedy plans, then sheets taken apart and refilled.

The same problem gives the same plan everywhere: chance is seeded, and effort is counted
in places looked at instead of seconds.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from studio.cutting.fill import Field, Filler, Manner, Open, as_layout
from studio.cutting.layout import Cut, Layout, Plan, placed, rests_in
from studio.cutting.problem import PER_CENT, Problem
from studio.seeded_random import Dice

# Places looked at: about a quarter of a second's.
EFFORT = 400_000
# An offcut on the rack is worth this much of a sheet, so it is used up first.
OFFCUT_WORTH = 0.75
TO_BUY_WORTH = 1.05
# An offcut that goes back is worth more the larger it is: small ones pile up unused.
KEPT_LEAST, KEPT_MORE = 0.45, 0.3
REFILLED = (1, 2, 2, 3, 4)
PLAIN_ROUNDS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """What becomes of the glass of a plan: areas [0.01 mm²] that add up to `sheets`."""

    sheets: int
    parts: int
    kept: int

    @property
    def waste(self) -> int:
        """Return what is lost: strips, kerfs and what is ground away."""
        return self.sheets - self.parts - self.kept

    @property
    def waste_percent(self) -> float:
        """Return the waste in per cent of the finished parts."""
        return PER_CENT * self.waste / self.parts if self.parts else 0.0


def cutting_plan(problem: Problem, *, effort: int = EFFORT, seed: int = 1) -> Plan:
    """Return a plan that cuts as much as the stock gives, with little lost.

    Parts that fit no sheet, or for which none is left, are in its `unplaced`.
    """
    wanted = [
        part.count
        if any(problem.fits(number, kind) for kind in range(len(problem.stock)))
        else 0
        for number, part in enumerate(problem.parts)
    ]
    search = _Search(problem, wanted, Filler(problem, Dice(seed)), effort)
    search.run()
    return Plan(
        tuple(as_layout(sheet, problem) for sheet in _in_order(search.sheets, problem)),
        tuple(
            part.count - wanted[number] + search.left[number]
            for number, part in enumerate(problem.parts)
        ),
    )


def use_of(problem: Problem, layouts: Sequence[Layout]) -> Use:
    """Return what becomes of the glass of some sheets."""
    finished = [one.width * one.height for one in problem.parts]
    return Use(
        sheets=sum(problem.stock[one.stock].area for one in layouts),
        parts=sum(
            finished[each.node.part]
            for one in layouts
            for each in placed(one.root, 0)
            if isinstance(each.node, Cut)
        ),
        kept=sum(
            rest.width * rest.height
            for one in layouts
            for rest in rests_in(one, is_kept=True)
        ),
    )


class _Search:
    """One search: the best sheets so far, and what they leave out."""

    def __init__(
        self, problem: Problem, wanted: list[int], filler: Filler, effort: int
    ) -> None:
        self.problem, self.wanted, self.filler = problem, wanted, filler
        self.effort, self.dice = effort, filler.dice
        self.there = [one.count for one in problem.stock]
        self.sheets: list[Open] = []
        self.left = list(wanted)
        self.size = [
            problem.cut_size(number)[0] * problem.cut_size(number)[1]
            for number in range(len(problem.parts))
        ]
        self.manner = self._manner(0)

    def run(self) -> None:
        """Fill all sheets anew for a share of the effort, then refill a few at a time."""
        if not any(self.wanted):
            return
        best: float | None = None
        rounds = 0
        while rounds < PLAIN_ROUNDS or self.filler.tried < self.effort // 4:
            manner = self._manner(rounds if rounds < PLAIN_ROUNDS else None)
            sheets, left = self.filler.fill(self.wanted, self.there, manner)
            cost = self._cost(sheets, left)
            if best is None or cost < best:
                best, self.manner = cost, manner
                self.sheets, self.left = sheets, left
            rounds += 1
            self.filler.tried += 1  # Filling with nothing to lay looks at no place.
        if len(self.sheets) == 1:
            self._climb()
        while self.sheets and self.filler.tried < self.effort:
            self._refill()

    def _climb(self) -> None:
        """Change the best manner of filling the one sheet a little, as long as it pays."""
        best = self._cost(self.sheets, self.left)
        while self.filler.tried < self.effort:
            manner = self._changed(self.manner)
            sheets, left = self.filler.fill(self.wanted, self.there, manner)
            self.filler.tried += 1
            cost = self._cost(sheets, left)
            if cost <= best:
                best, self.manner = cost, manner
                self.sheets, self.left = sheets, left

    def _refill(self) -> None:
        """Take a few sheets apart and cut their parts, and what is left out, anew."""
        many = min(self.dice.pick(REFILLED), len(self.sheets))
        chosen = set[int]()
        while len(chosen) < many:
            chosen.add(self.dice.below(len(self.sheets)))
        taken = [self.sheets[one] for one in chosen]
        wanted = list(self.left)
        there = list(self.there)
        for number, sheet in enumerate(self.sheets):
            count = there[sheet.stock]
            if number not in chosen and count is not None:
                there[sheet.stock] = count - 1
        for sheet in taken:
            for part, count in sheet.parts.items():
                wanted[part] += count
        before = self._cost(taken, self.left)
        sheets, left = self.filler.fill(wanted, there, self._manner(None))
        self.filler.tried += 1
        if self._cost(sheets, left) <= before:
            kept = [one for n, one in enumerate(self.sheets) if n not in chosen]
            self.sheets, self.left = kept + sheets, left

    def _changed(self, manner: Manner) -> Manner:
        """Return a manner that differs a little: a few parts earlier or later, mostly."""
        dice, order = self.dice, list(manner.order)
        other = self._manner(None)
        turn = dice.below(12)
        if turn == 0:
            return replace(manner, divide=other.divide)
        if turn == 1:
            return replace(manner, fit=other.fit, jitter=other.jitter)
        if turn == 2:
            return replace(manner, by_field=other.by_field, blocks=other.blocks)
        for _ in range(1 + dice.below(3)):
            order.insert(dice.below(len(order)), order.pop(dice.below(len(order))))
        return replace(manner, order=tuple(order))

    def _manner(self, plain: int | None) -> Manner:
        """Return one of the plain manners, or one by chance."""
        dice, parts = self.dice, list(range(len(self.problem.parts)))
        side = [max(self.problem.cut_size(one)) for one in parts]
        by_side = dice.below(2) if plain is None else plain % 2
        parts.sort(key=lambda one: -side[one] if by_side else -self.size[one])
        stock_order = self._stock_order(is_plain=plain is not None)
        if plain is not None:
            return Manner(
                order=tuple(parts),
                by_field=plain >= 2,
                fit=0,
                divide=0,
                stock_order=stock_order,
                blocks=True,
                jitter=0.0,
            )
        for _ in range(dice.below(1 + len(parts))):
            one, other = dice.below(len(parts)), dice.below(len(parts))
            parts[one], parts[other] = parts[other], parts[one]
        return Manner(
            order=tuple(parts),
            by_field=dice.below(3) > 0,
            fit=dice.below(3),
            divide=dice.pick((0, 0, 0, 1, 2, 3)),
            stock_order=stock_order,
            blocks=dice.below(4) > 0,
            jitter=dice.pick((0.0, 0.1, 0.5, 2.0)),
        )

    def _stock_order(self, *, is_plain: bool) -> tuple[int, ...]:
        """Return offcuts first, the smallest first; then sheets; what is to buy last."""
        stock, dice = self.problem.stock, self.dice
        swaps = not is_plain and dice.below(2)

        def rank(kind: int) -> tuple[int, float]:
            one = stock[kind]
            area = one.area * (0.5 + dice.unit()) if swaps else float(one.area)
            group = 0 if one.is_offcut else 1 if one.count is not None else 2
            return group, area

        return tuple(sorted(range(len(stock)), key=rank))

    def _cost(self, sheets: Sequence[Open], left: Sequence[int]) -> float:
        """Return what the glass is worth that goes; what is left out weighs most."""
        missing = sum(n * size for n, size in zip(left, self.size, strict=True))
        return sum(map(self._cost_of, sheets)) + 10.0 * missing

    def _cost_of(self, sheet: Open) -> float:
        stock = self.problem.stock[sheet.stock]
        worth = 1.0 if stock.count is not None else TO_BUY_WORTH
        cost = (OFFCUT_WORTH if stock.is_offcut else worth) * stock.area
        smallest = self.problem.terms.smallest_offcut
        for rest in sheet.free:
            if min(rest.width, rest.height) >= smallest:
                area = rest.width * rest.height
                cost -= area * (KEPT_LEAST + KEPT_MORE * area / stock.area)
        return cost


def _in_order(sheets: Sequence[Open], problem: Problem) -> list[Open]:
    """Return offcuts before sheets, the fullest first: in the order of the bench."""

    def rank(sheet: Open) -> tuple[bool, bool, int, int]:
        stock = problem.stock[sheet.stock]
        free = sum(map(_area, sheet.free))
        return (not stock.is_offcut, stock.count is None, sheet.stock, free)

    return sorted(sheets, key=rank)


def _area(where: Field) -> int:
    return where.width * where.height
