"""What a price is made of, as a bar to look at before its lines are read."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from commissions.models import QuoteLine
from commissions.pricing import PriceLine, Section
from studio.viewer import Viewer

# What a part is called and shown as, in the order of the lines.
PARTS = (
    ("Material", "material", (Section.MATERIALS,)),
    ("Kiln and energy", "kiln", (Section.KILN_TIME, Section.ENERGY)),
    ("Work", "work", (Section.LABOUR,)),
    ("Overhead and risk", "overhead", (Section.OVERHEAD, Section.REMAKE)),
    ("Mark-up", "markup", (Section.MARKUP, Section.DISCOUNT, Section.ROUNDING)),
    ("Gallery", "gallery", (Section.GALLERY,)),
    ("Tax", "tax", (Section.TAX,)),
)
BAR = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class PricePart:
    """A stretch of the bar, in thousandths of it, and what it stands for."""

    name: str
    look: str
    amount: str
    x: int
    width: int


def price_parts(
    lines: Iterable[PriceLine] | Iterable[QuoteLine], *, viewer: Viewer, currency: str
) -> list[PricePart]:
    """Return the parts of a price that are not nothing; together they fill the bar.

    What is taken off makes no stretch: a discount larger than the mark-up is only told.
    """
    every: list[PriceLine | QuoteLine] = list(lines)
    sums = [
        sum((line.amount for line in every if line.section in sections), Decimal(0))
        for _, _, sections in PARTS
    ]
    whole = sum((one for one in sums if one > 0), Decimal(0)) or Decimal(1)
    found, until = [], Decimal(0)
    for (name, look, _), amount in zip(PARTS, sums, strict=True):
        if not amount:
            continue
        x = round(until * BAR / whole)
        until += max(amount, Decimal(0))
        found.append(
            PricePart(
                name=name,
                look=look,
                amount=viewer.money(amount, currency),
                x=x,
                width=round(until * BAR / whole) - x,
            )
        )
    return found
