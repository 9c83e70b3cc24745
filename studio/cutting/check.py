"""Whether a plan can be cut as it is drawn. Knows nothing of how it was found."""

from collections import Counter
from collections.abc import Iterator

from studio.cutting.layout import Cut, Layout, Node, Plan, Rest, Score, parts_in
from studio.cutting.problem import Problem


def faults(problem: Problem, plan: Plan) -> list[str]:
    """Return what is wrong with a plan, one sentence each; none when it can be cut."""
    found = [
        f"Sheet {number}: {fault}"
        for number, layout in enumerate(plan.layouts, start=1)
        for fault in _sheet_faults(problem, layout)
    ]
    used = Counter(layout.stock for layout in plan.layouts)
    for stock, times in used.items():
        there = problem.stock[stock].count
        if there is not None and times > there:
            found.append(f"Stock {stock} is used {times} times and there are {there}.")
    made = Counter(part for layout in plan.layouts for part in parts_in(layout))
    for part, wanted in enumerate(problem.parts):
        if made[part] + plan.unplaced[part] != wanted.count:
            found.append(
                f"Part {part}: {made[part]} cut and {plan.unplaced[part]} left out of "
                f"{wanted.count}."
            )
    return found


def _sheet_faults(problem: Problem, layout: Layout) -> Iterator[str]:
    stock, root = problem.stock[layout.stock], layout.root
    if (root.width, root.height) != (stock.width, stock.height):
        yield "the layout is not as large as its sheet."
    waiting: list[Node] = [root]
    while waiting:
        node = waiting.pop()
        if node.width <= 0 or node.height <= 0:
            yield "something in it has no size."
        if isinstance(node, Score):
            yield from _score_faults(problem.terms.kerf, node)
            waiting.append(node.first)
            if node.second is not None:
                waiting.append(node.second)
        elif isinstance(node, Cut):
            yield from _cut_faults(problem, node)
        elif isinstance(node, Rest):
            shortest = min(node.width, node.height)
            if node.is_kept != (shortest >= problem.terms.smallest_offcut):
                yield "a rest is called an offcut and is none, or the other way."


def _score_faults(kerf: int, node: Score) -> Iterator[str]:
    whole, across = (
        (node.width, node.height) if node.is_upright else (node.height, node.width)
    )
    sides = [node.first] if node.second is None else [node.first, node.second]
    for side in sides:
        if (side.height if node.is_upright else side.width) != across:
            yield "a score does not run from edge to edge."
    along = [side.width if node.is_upright else side.height for side in sides]
    if along[0] != node.at or not 0 < node.at < whole:
        yield "a score is not where its first side ends."
    if len(along) == 1 and whole - node.at > kerf:
        yield "glass is missing behind a score."
    if len(along) == 2 and node.at + kerf + along[1] != whole:
        yield "the sides of a score and its kerf are not the whole."


def _cut_faults(problem: Problem, node: Cut) -> Iterator[str]:
    if node.is_turned and not problem.parts[node.part].may_turn:
        yield f"part {node.part} is turned and may not be."
    if (node.width, node.height) != problem.cut_size(
        node.part, is_turned=node.is_turned
    ):
        yield f"part {node.part} is not cut to its size."
