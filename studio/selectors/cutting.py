"""The cutting plan of a glass: what pieces still need, from what is on the rack.

`glass_needed` is for prices. A higher app that knows of work not yet accepted adds it by
`on_quoted_parts`.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from functools import lru_cache
from hashlib import sha256
from math import floor

from studio.cutting.check import faults
from studio.cutting.layout import Cut, Layout, Plan, placed
from studio.cutting.plan import EFFORT, Use, cutting_plan, use_of
from studio.cutting.problem import Part, Problem, Stock, Terms, tenths
from studio.models import CuttingTerms, Glass, Kiln, Sheet, StockSheet, Studio
from studio.money import plain_number
from studio.selectors.pieces import pieces_in_work, standing_events
from studio.selectors.stock import stock_sheets
from studio.viewer import Viewer, count_words

# For a price a plan is made at every change of a quote: quick rather than best.
EFFORT_FOR_A_PRICE = 60_000
EFFORT_A_PART = 4_000
TENTHS2_PER_M2 = Decimal(10) ** 8
AREA_PLACES, PERCENT_PLACES = Decimal("0.0001"), Decimal("0.1")
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"

# Width and height [mm] and how many.
PartsAsked = Sequence[tuple[float, float, int]]


@dataclass(frozen=True, slots=True, kw_only=True)
class GlassNeed:
    """Glass to charge for.

    Attributes
    ----------
    parts_m2, area_m2 : Decimal
        The finished parts, and those with their waste.
    waste_percent : Decimal
        The waste charged, in per cent of the finished parts.
    is_planned : bool
        Whether it comes from a cutting plan and not from the studio's percentage.
    words : str
        Where it comes from, to be read after the area of the parts.
    """

    parts_m2: Decimal
    area_m2: Decimal
    waste_percent: Decimal
    is_planned: bool
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class QuotedParts:
    """Layers of one size that a standing quote would need."""

    glass_id: int
    title: str
    width_mm: float
    height_mm: float
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """Layers of one piece that are to be cut alike; `sheets` is none for a quote's."""

    letter: str
    title: str
    width_mm: float
    height_mm: float
    numbers: tuple[int, ...]
    sheets: tuple[int, ...]
    piece_id: int | None
    count: int

    @property
    def is_quoted(self) -> bool:
        """Return whether nobody accepted it yet."""
        return self.piece_id is None


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetPlan:
    """One sheet of a plan: where it comes from, and what of each wanted is cut from it."""

    number: int
    layout: Layout
    stock: StockSheet
    is_to_buy: bool
    use: Use
    labels: tuple[str, ...]
    """What is written on each part, in the order of `placed`."""
    sheets: tuple[int, ...]
    """Keys of the layers' sheets that it gives."""
    has_quoted: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class CuttingBoard:
    """The cutting plan of one glass as its page shows it."""

    glass: Glass
    terms: CuttingTerms
    wanted: tuple[Wanted, ...]
    sheets: tuple[SheetPlan, ...]
    left_out: tuple[tuple[Wanted, int], ...]
    use: Use
    has_stock: bool
    key: str
    """Changes with the plan: whoever marks a sheet as cut names the plan that was seen."""

    @property
    def to_buy(self) -> tuple[SheetPlan, ...]:
        """Return the sheets that are not on the rack."""
        return tuple(one for one in self.sheets if one.is_to_buy)


QuotedProvider = Callable[[Studio], list[QuotedParts]]
_quoted: list[QuotedProvider] = []


def on_quoted_parts(provider: QuotedProvider) -> QuotedProvider:
    """Register what standing quotes would need cut."""
    if provider not in _quoted:
        _quoted.append(provider)
    return provider


def cutting_terms(studio: Studio) -> CuttingTerms:
    """Return how the studio cuts, unsaved with the usual where it never said."""
    found: CuttingTerms | None = CuttingTerms.owned.for_studio(studio).first()
    return found or CuttingTerms(studio=studio)


def as_terms(terms: CuttingTerms) -> Terms:
    """Return the studio's terms as the core takes them."""
    return Terms(
        kerf=tenths(terms.kerf_mm),
        grinding=tenths(terms.grinding_mm),
        smallest_offcut=tenths(terms.smallest_offcut_mm),
    )


@lru_cache(maxsize=128)
def planned(problem: Problem, most: int = EFFORT) -> Plan:
    """Return the plan of a problem; the same one is not searched twice.

    A few layers have few ways to lie: they are searched no longer than that takes.
    """
    count = sum(one.count for one in problem.parts)
    plan = cutting_plan(problem, effort=min(most, EFFORT_A_PART * count))
    if wrong := faults(problem, plan):
        raise ArithmeticError(f"A cutting plan that cannot be cut: {wrong[0]}")
    return plan


def glass_needed(
    studio: Studio,
    glass: Glass,
    parts: PartsAsked,
    *,
    at_most_percent: Decimal | None = None,
) -> GlassNeed:
    """Return how much glass to charge for parts, by a plan from whole sheets.

    Parameters
    ----------
    parts : sequence of (width_mm, height_mm, count)
        Finished sizes.
    at_most_percent : Decimal or None
        The studio's own percentage: charged where the plan wastes more, or where no
        plan can be made because no sheets of the glass are counted.
    """
    viewer = Viewer.of_studio(studio)
    asked = tuple(
        Part(width=tenths(width), height=tenths(height), count=count)
        for width, height, count in parts
        if count > 0 and width > 0 and height > 0
    )
    net = _m2(sum(one.width * one.height * one.count for one in asked))
    usual = usual_sheet(list(stock_sheets(studio).filter(glass=glass)))
    sizes = [] if usual is None else [(usual.width_mm, usual.height_mm)]
    stock = tuple(Stock(width=tenths(w), height=tenths(h)) for w, h in sizes)
    terms = as_terms(cutting_terms(studio))
    problem = Problem(parts=asked, stock=stock, terms=terms)
    plan = planned(problem, EFFORT_FOR_A_PRICE) if stock and asked else None
    if plan is None or any(plan.unplaced):
        percent = at_most_percent or Decimal(0)
        words = f"{plain_number(percent)} % more for offcuts and breakage"
        return _need(net, percent, words, is_planned=False)
    use = use_of(problem, plan.layouts)
    wasted = Decimal(str(use.waste_percent)).quantize(PERCENT_PLACES, ROUND_HALF_UP)
    many = count_words(len(plan.layouts), "sheet")
    from_sheets = f"{many} of {viewer.size(*sizes[0])}" if plan.layouts else many
    if at_most_percent is not None and wasted > at_most_percent:
        words = (
            f"{plain_number(at_most_percent)} % more for offcuts and breakage; cut from "
            f"{from_sheets}, {plain_number(wasted)} % is waste"
        )
        return _need(net, at_most_percent, words, is_planned=False)
    words = f"cut from {from_sheets}, {plain_number(wasted)} % waste"
    return _need(net, wasted, words, is_planned=True)


def _need(net: Decimal, percent: Decimal, words: str, *, is_planned: bool) -> GlassNeed:
    return GlassNeed(
        parts_m2=net,
        area_m2=(net * (100 + percent) / 100).quantize(AREA_PLACES, ROUND_HALF_UP),
        waste_percent=percent,
        is_planned=is_planned,
        words=words,
    )


def _m2(tenths2: int) -> Decimal:
    return (Decimal(tenths2) / TENTHS2_PER_M2).quantize(AREA_PLACES, ROUND_HALF_UP)


def usual_sheet(rack: Sequence[StockSheet]) -> StockSheet | None:
    """Return the sheet in whose size a glass is bought: the one there is most of."""
    whole = [one for one in rack if not one.is_offcut]
    return max(
        whole,
        key=lambda one: (
            max(Decimal(0), one.on_hand) * one.area_m2,
            one.area_m2,
            one.pk,
        ),
        default=None,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class CuttingFacts:
    """What the cutting plans of all glasses are made from, read once."""

    terms: CuttingTerms
    waiting: tuple[Sheet, ...]
    rack: tuple[StockSheet, ...]
    quoted: tuple[QuotedParts, ...] = ()


def cutting_facts(studio: Studio, *, with_quotes: bool = False) -> CuttingFacts:
    """Read what the cutting plans of a studio are made from."""
    return CuttingFacts(
        terms=cutting_terms(studio),
        waiting=tuple(sheets_to_cut(studio)),
        rack=tuple(stock_sheets(studio)),
        quoted=tuple(quoted_parts(studio)) if with_quotes else (),
    )


def cutting_board(
    studio: Studio, glass: Glass, *, with_quotes: bool = False
) -> CuttingBoard:
    """Return the cutting plan of what pieces need of a glass: offcuts first."""
    return board_of(glass, cutting_facts(studio, with_quotes=with_quotes))


def board_of(glass: Glass, facts: CuttingFacts) -> CuttingBoard:
    """Return the cutting plan of a glass from what was read."""
    terms = facts.terms
    wanted = tuple(_wanted(glass, facts))
    rack = [one for one in facts.rack if one.glass_id == glass.pk]
    there = [one for one in rack if one.on_hand >= 1]
    usual = usual_sheet(rack)
    stock = [
        Stock(
            width=tenths(one.width_mm),
            height=tenths(one.height_mm),
            count=floor(one.on_hand),
            is_offcut=one.is_offcut,
        )
        for one in there
    ]
    bought = [] if usual is None else [usual]
    stock += [
        Stock(width=tenths(one.width_mm), height=tenths(one.height_mm))
        for one in bought
    ]
    problem = Problem(
        parts=tuple(
            Part(
                width=tenths(one.width_mm),
                height=tenths(one.height_mm),
                count=one.count,
            )
            for one in wanted
        ),
        stock=tuple(stock),
        terms=as_terms(terms),
    )
    plan = planned(problem)
    rows = there + bought
    sheets = tuple(_sheet_plans(problem, plan, wanted, rows, len(there)))
    return CuttingBoard(
        glass=glass,
        terms=terms,
        wanted=wanted,
        sheets=sheets,
        left_out=tuple(
            (one, left) for one, left in zip(wanted, plan.unplaced, strict=True) if left
        ),
        use=use_of(problem, plan.layouts),
        has_stock=bool(rack),
        key=sha256(
            repr((problem, [one.sheets for one in wanted])).encode()
        ).hexdigest()[:16],
    )


def _sheet_plans(
    problem: Problem,
    plan: Plan,
    wanted: Sequence[Wanted],
    rows: Sequence[StockSheet],
    on_the_rack: int,
) -> Iterator[SheetPlan]:
    given = [0] * len(wanted)
    for number, layout in enumerate(plan.layouts, start=1):
        labels, keys, has_quoted = [], [], False
        for one in placed(layout.root, problem.terms.kerf):
            if not isinstance(one.node, Cut):
                continue
            want, turn = wanted[one.node.part], given[one.node.part]
            given[one.node.part] += 1
            if want.is_quoted:
                has_quoted = True
                labels.append(want.letter)
            else:
                labels.append(f"{want.letter} {want.numbers[turn]}")
                keys.append(want.sheets[turn])
        yield SheetPlan(
            number=number,
            layout=layout,
            stock=rows[layout.stock],
            is_to_buy=layout.stock >= on_the_rack,
            use=use_of(problem, [layout]),
            labels=tuple(labels),
            sheets=tuple(keys),
            has_quoted=has_quoted,
        )


def sheets_to_cut(studio: Studio) -> list[Sheet]:
    """Return the layers' sheets that no record shows to be cut, by piece and layer.

    What is painted or stacked was cut, recorded or not.
    """
    found = Sheet.owned.for_studio(studio).filter(
        cut_from=None,
        set_aside_at=None,
        layer__taken_out_at=None,
        layer__piece__in=pieces_in_work(studio).values("pk"),
    )
    found = found.exclude(passes__painted_at__isnull=False).exclude(
        layer__piece__in=standing_events().filter(studio=studio).values("piece")
    )
    return list(
        found.select_related("layer__piece", "layer__glass").order_by(
            "layer__piece__due_date", "layer__piece", "layer__number", "pk"
        )
    )


def _wanted(glass: Glass, facts: CuttingFacts) -> Iterator[Wanted]:
    of_pieces: dict[int, list[Sheet]] = {}
    for sheet in facts.waiting:
        if sheet.layer.glass_id == glass.pk:
            of_pieces.setdefault(sheet.layer.piece_id, []).append(sheet)
    turn = 0
    for sheets in of_pieces.values():
        piece = sheets[0].layer.piece
        yield Wanted(
            letter=_letter(turn),
            title=piece.title,
            width_mm=piece.width_mm,
            height_mm=piece.height_mm,
            numbers=tuple(one.layer.number for one in sheets),
            sheets=tuple(one.pk for one in sheets),
            piece_id=piece.pk,
            count=len(sheets),
        )
        turn += 1
    for quoted in facts.quoted:
        if quoted.glass_id == glass.pk:
            yield Wanted(
                letter=_letter(turn),
                title=quoted.title,
                width_mm=quoted.width_mm,
                height_mm=quoted.height_mm,
                numbers=(),
                sheets=(),
                piece_id=None,
                count=quoted.count,
            )
            turn += 1


def quoted_parts(studio: Studio) -> list[QuotedParts]:
    """Return what standing quotes would need cut."""
    return [one for provider in _quoted for one in provider(studio)]


def shelf_sizes(studio: Studio) -> list[tuple[float, float]]:
    """Return the shelves of the kilns in use [mm]."""
    shelves = Kiln.owned.for_studio(studio).filter(is_retired=False)
    return list(shelves.values_list("shelf_width_mm", "shelf_depth_mm"))


def is_too_large(one: Wanted, shelves: Sequence[tuple[float, float]]) -> bool:
    """Return whether a layer lies on none of the shelves, whichever way it is turned."""
    short, long = sorted((one.width_mm, one.height_mm))
    return bool(shelves) and not any(
        short <= min(size) and long <= max(size) for size in shelves
    )


def _letter(turn: int) -> str:
    """Return A to Z, then A2 to Z2, and so on."""
    again, place = divmod(turn, len(LETTERS))
    return LETTERS[place] + (str(again + 1) if again else "")
