"""Sections that the commissions app adds to the studio's pages, for those who see money."""

from typing import TYPE_CHECKING

from commissions.selectors import waiting
from commissions.selectors.beside_the_quote import beside_the_quote
from commissions.selectors.commissions import commission_of_piece, view_commission
from commissions.selectors.share_links import link_token, live_link
from studio.panels import Panel, PanelRequest, on_piece, on_today

if TYPE_CHECKING:
    from studio.models import Piece

TODAY_ORDER = 60
PIECE_ORDER = 80


@on_today
def money_today(asked: PanelRequest) -> list[Panel]:
    """Show which commissions need something done today."""
    if not asked.viewer.may_see_money:
        return []
    items = waiting.waiting_today(asked.viewer, at=asked.now)
    if not items:
        return []
    return [
        Panel(
            template="commissions/_panel_today.html",
            context={"items": items},
            order=TODAY_ORDER,
        )
    ]


@on_piece
def money_of_piece(asked: PanelRequest, piece: "Piece") -> list[Panel]:
    """Show for whom a piece is made and what is paid; a helper sees none of it."""
    if not asked.viewer.may_see_money:
        return []
    commission = commission_of_piece(asked.viewer.studio, piece.pk)
    if commission is None:
        return []
    link = live_link(commission, at=asked.now)
    return [
        Panel(
            template="commissions/_panel_piece.html",
            context={
                "view": view_commission(commission, at=asked.now),
                "token": link_token(link) if link else "",
                "differs": beside_the_quote(commission, piece),
            },
            order=PIECE_ORDER,
        )
    ]
