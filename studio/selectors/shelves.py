"""The stock page's pictures: racks with sheets to scale, jars filled to their level."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from studio.amounts import SQUARE_METRE, convert, in_words
from studio.models import Glass, Material, StockSheet, Studio
from studio.selectors.stock import (
    areas_on_hand,
    glasses,
    materials,
    reserved_glass,
    reserved_materials,
    stock_sheets,
)
from studio.viewer import Viewer

LONGEST_SIDE, SHORTEST_SIDE = 150.0, 8.0
MOST_DRAWN, STEP = 5, 4.0
# A jar's inside, in the units of `studio/_jar.html`.
JAR_BOTTOM, JAR_HEIGHT = 92.0, 70.0
HEADROOM = Decimal("1.15")
TO_TENTHS = Decimal("0.1")


@dataclass(frozen=True, slots=True, kw_only=True)
class OnRack:
    """Sheets of one size, drawn to scale with all racks of the page."""

    stock: StockSheet
    size: str
    many: str
    width: float
    height: float
    copies: tuple[tuple[float, float], ...]
    """Where each sheet's corner is, those behind the first one standing out."""
    is_short: bool

    @property
    def whole_width(self) -> float:
        return round(self.width + STEP * (len(self.copies) - 1) + 2, 1)

    @property
    def whole_height(self) -> float:
        return round(self.height + STEP * (len(self.copies) - 1) + 2, 1)

    @property
    def view_box(self) -> str:
        """Return the drawing's frame, with room for the lines at its edge."""
        return f"-1 -1 {self.whole_width} {self.whole_height}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rack:
    """The sheets and offcuts of one glass."""

    glass: Glass
    sheets: tuple[OnRack, ...]
    on_hand: str
    reserved: str
    is_short: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Jar:
    """A material as a jar: its level, and the line up to which it is reserved."""

    material: Material
    amount: str
    reserved: str
    level_y: float
    level_height: float
    reserved_y: float | None
    is_below_nothing: bool
    is_low: bool


def racks(viewer: Viewer) -> list[Rack]:
    """Return the racks of the glasses in use, those that are short first."""
    studio: Studio = viewer.studio
    rows = list(stock_sheets(studio))
    areas, reserved = areas_on_hand(rows), reserved_glass(studio)
    sides = [max(one.width_mm, one.height_mm) for one in rows if one.on_hand]
    scale = LONGEST_SIDE / max(sides, default=1.0)
    found = []
    for glass in glasses(studio):
        mine = [one for one in rows if one.glass_id == glass.pk and one.on_hand]
        if glass.is_retired and not mine:
            continue
        there = areas.get(glass.pk, Decimal(0))
        needed = reserved.get(glass.pk, Decimal(0))
        found.append(
            Rack(
                glass=glass,
                sheets=tuple(_on_rack(one, scale, viewer) for one in mine),
                on_hand=_area(there, viewer),
                reserved=_area(needed, viewer) if needed else "",
                is_short=there < needed,
            )
        )
    return sorted(found, key=lambda rack: not rack.is_short)


def _on_rack(one: StockSheet, scale: float, viewer: Viewer) -> OnRack:
    # Upright, as sheets stand on a rack.
    width, height = sorted((one.width_mm * scale, one.height_mm * scale))
    many = min(MOST_DRAWN, max(1, int(one.on_hand)))
    return OnRack(
        stock=one,
        size=viewer.size(one.width_mm, one.height_mm),
        many=_many(one.on_hand),
        width=round(max(SHORTEST_SIDE, width), 1),
        height=round(max(SHORTEST_SIDE, height), 1),
        copies=tuple((STEP * (many - 1 - n), STEP * n) for n in range(many)),
        is_short=one.on_hand < 0,
    )


def _many(on_hand: Decimal) -> str:
    """Write a count; of what was taken by its share, the nearest whole sheet."""
    nearest = on_hand.quantize(Decimal(1))
    return f"{nearest}" if nearest == on_hand else f"about {nearest}"


def rounded(amount: Decimal, unit: str, viewer: Viewer) -> str:
    """Write an amount to be read at a glance: tenths, and whole ones from a hundred."""
    mine = viewer.unit(unit)
    shown = convert(amount, unit, mine)
    step = Decimal(1) if abs(shown) >= 100 else TO_TENTHS
    return in_words(shown.quantize(step), mine)


def _area(area: Decimal, viewer: Viewer) -> str:
    return rounded(area, SQUARE_METRE, viewer)


def jars(viewer: Viewer) -> list[Jar]:
    """Return the materials as jars: below nothing first, then the low ones."""
    reserved = reserved_materials(viewer.studio)
    found = list(_jars(viewer, reserved))
    return sorted(found, key=lambda jar: (not jar.is_below_nothing, not jar.is_low))


def _jars(viewer: Viewer, reserved: dict[int, Decimal]) -> Iterator[Jar]:
    for one in materials(viewer.studio):
        if one.is_retired and not one.on_hand:
            continue
        needed, low_at = reserved.get(one.pk, Decimal(0)), one.low_at or Decimal(0)
        full = max(one.on_hand, needed, 2 * low_at, Decimal("0.001")) * HEADROOM
        height = float(max(Decimal(0), one.on_hand) / full) * JAR_HEIGHT
        line = JAR_BOTTOM - float(needed / full) * JAR_HEIGHT
        yield Jar(
            material=one,
            amount=rounded(one.on_hand, one.unit, viewer),
            reserved=rounded(needed, one.unit, viewer) if needed else "",
            level_y=round(JAR_BOTTOM - height, 1),
            level_height=round(height, 1),
            reserved_y=round(line, 1) if needed else None,
            is_below_nothing=one.on_hand < 0,
            is_low=one.on_hand < needed or one.on_hand < low_at,
        )
