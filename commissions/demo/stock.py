"""The demo's stock: what was delivered before its works, and what was cut last. Invented."""

import datetime as dt
from decimal import Decimal

from commissions.demo.workshops import INCH, Workshop
from studio.cutting.layout import rests_in
from studio.models import CuttingTerms, Glass, Material
from studio.selectors.cutting import cutting_board
from studio.services.cutting import mark_cut
from studio.services.stock import (
    correct_stock,
    receive_material,
    receive_sheets,
)

# Width, height [in], how many, batch, cost for a square metre, whether offcuts.
ESTUARY_SHEETS = (
    (35, 20, 12, "T-114", "116.00", False),
    (35, 20, 6, "T-131", "123.20", False),
    (17.5, 20, 3, "T-098", None, False),
    (14, 9, 2, "T-098", None, True),
    (9, 6.5, 1, "T-114", None, True),
)


def stock_up(workshop: Workshop, *, at: dt.datetime) -> None:
    """Record the deliveries before the first work, and how the studio cuts."""
    studio, wren = workshop.studio, workshop.people["Wren"]
    CuttingTerms.across_studios.create(
        studio=studio, grinding_mm=INCH / 32, smallest_offcut_mm=4 * INCH
    )
    for width, height, count, batch, cost, is_offcut in ESTUARY_SHEETS:
        receive_sheets(
            glass=workshop.glass,
            width_mm=width * INCH,
            height_mm=height * INCH,
            count=count,
            batch=batch,
            cost_per_m2=None if cost is None else Decimal(cost),
            is_offcut=is_offcut,
            by=wren,
            at=at,
        )
    other = Glass.owned.for_studio(studio).get(name="Clear 3 mm, 96")
    receive_sheets(
        glass=other,
        width_mm=20 * INCH,
        height_mm=20 * INCH,
        count=2,
        batch="",
        cost_per_m2=None,
        by=wren,
        at=at,
    )
    receive_material(
        material=workshop.enamel,
        amount=Decimal(8),
        unit_cost=Decimal("11.40"),
        by=wren,
        at=at,
        why="Second jar",
    )
    wash = Material.owned.for_studio(studio).get(name="Kiln wash")
    wash.low_at = Decimal(100)
    wash.save(update_fields=["low_at"])


def last_cut(workshop: Workshop, *, now: dt.datetime) -> None:
    """Cut the first sheet of today's plan, and break a whole one."""
    isla = workshop.people["Isla"]
    at = now - dt.timedelta(hours=20)
    board = cutting_board(workshop.studio, workshop.glass)
    kept = [
        one
        for one in board.sheets
        if not one.is_to_buy and list(rests_in(one.layout, is_kept=True))
    ]
    if kept:
        mark_cut(
            glass=workshop.glass, number=kept[0].number, key=board.key, by=isla, at=at
        )
    whole = next(
        (
            one.stock
            for one in board.sheets
            if not one.is_to_buy and not one.stock.is_offcut
        ),
        None,
    )
    if whole is not None:
        correct_stock(
            item=whole, amount=Decimal(-1), why="Slipped off the rack", by=isla, at=at
        )
