"""Records what was cut by the plan: the sheet goes, its offcuts come, layers are cut."""

from datetime import datetime
from decimal import Decimal

from django.db import transaction

from studio.cutting.layout import rests_in
from studio.cutting.problem import TENTHS_PER_MM
from studio.errors import Refused
from studio.models import Glass, MoveKind, Person, Sheet, StockMove
from studio.selectors.cutting import CuttingBoard, cutting_board
from studio.services import history
from studio.services.locks import held
from studio.services.stock import sheets_of_size, write_move


def cause_of_cutting(move: StockMove) -> str:
    """Return the words by which offcuts name the sheet they were cut from."""
    return f"stockmove {move.pk}"


@transaction.atomic
def mark_cut(
    *, glass: Glass, number: int, key: str, by: Person | None, at: datetime
) -> StockMove:
    """Record that one sheet was cut as the plan shows it.

    Raises
    ------
    Refused
        When the plan changed since it was seen, the sheet is still to be bought, or
        there is no such sheet in it.
    """
    held(Glass.owned.for_studio(glass.studio)).get(pk=glass.pk)
    board: CuttingBoard = cutting_board(glass.studio, glass)
    if board.key != key:
        raise Refused(
            "The plan has changed since this page was opened: stock or layers are other "
            "ones now. Look at it again."
        )
    sheet = next((one for one in board.sheets if one.number == number), None)
    if sheet is None:
        raise Refused("There is no such sheet in the plan.")
    if sheet.is_to_buy:
        raise Refused("That sheet is still to be bought. Receive it first.")
    names = ", ".join(sheet.labels)
    move = write_move(
        item=sheet.stock,
        kind=MoveKind.TAKEN,
        amount=Decimal(-1),
        why=f"Cut by the plan: {names}",
        by=by,
        at=at,
    )
    for rest in rests_in(sheet.layout, is_kept=True):
        long, short = sorted((rest.width, rest.height), reverse=True)
        write_move(
            item=sheets_of_size(
                glass=glass,
                width_mm=long / TENTHS_PER_MM,
                height_mm=short / TENTHS_PER_MM,
                batch=sheet.stock.batch,
                is_offcut=True,
            ),
            kind=MoveKind.OFFCUT,
            amount=Decimal(1),
            why="Left when a sheet was cut",
            cause=cause_of_cutting(move),
            by=by,
            at=at,
        )
    Sheet.owned.for_studio(glass.studio).filter(pk__in=sheet.sheets).update(
        cut_from=move
    )
    history.record(
        studio=glass.studio,
        by=by,
        at=at,
        what=f"Cut a sheet of {glass} for {len(sheet.sheets)} layers",
        subject=f"stockmove {move.pk}",
    )
    return move
