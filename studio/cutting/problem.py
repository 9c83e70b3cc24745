"""What is to be cut, from what, and on which terms: whole tenths of a millimetre."""

from dataclasses import dataclass

TENTHS_PER_MM = 10
PER_CENT = 100


def tenths(mm: float) -> int:
    """Return a length [mm] in tenths of a millimetre."""
    return round(mm * TENTHS_PER_MM)


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """So many rectangles of one size, as they are wanted when they are finished.

    Attributes
    ----------
    width, height : int
        Finished size [0.1 mm], above zero.
    may_turn : bool
        Whether it may lie across; streaky glass may not.
    """

    width: int
    height: int
    count: int = 1
    may_turn: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """So many sheets, or offcuts, of one size [0.1 mm]; `count` none: as many as needed.

    Those without a count are to be bought: they are opened when nothing on the rack
    does.
    """

    width: int
    height: int
    count: int | None = None
    is_offcut: bool = False

    @property
    def area(self) -> int:
        """Return the area of one [0.01 mm²]."""
        return self.width * self.height


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """How the studio cuts.

    Attributes
    ----------
    kerf : int
        Width that each cut takes away [0.1 mm]: 0 for a score, a saw's blade otherwise.
    grinding : int
        Glass left on every edge of a part to be ground away [0.1 mm].
    smallest_offcut : int
        Shortest side of what goes back to the rack [0.1 mm]; less is waste.
    """

    kerf: int = 0
    grinding: int = 0
    smallest_offcut: int = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """Everything that a cutting plan is made from."""

    parts: tuple[Part, ...]
    stock: tuple[Stock, ...]
    terms: Terms = Terms()

    def cut_size(self, part: int, *, is_turned: bool = False) -> tuple[int, int]:
        """Return the size at which a part is cut: with glass to grind on every edge."""
        one, extra = self.parts[part], 2 * self.terms.grinding
        size = (one.width + extra, one.height + extra)
        return (size[1], size[0]) if is_turned else size

    def fits(self, part: int, stock: int) -> bool:
        """Return whether a part can be cut from a kind of stock at all."""
        sheet = self.stock[stock]
        ways = (False, True) if self.parts[part].may_turn else (False,)
        return any(
            width <= sheet.width and height <= sheet.height
            for width, height in (self.cut_size(part, is_turned=t) for t in ways)
        )
