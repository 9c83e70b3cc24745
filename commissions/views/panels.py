"""Sections that the commissions app adds to the studio's pages, for those who see money."""

from typing import TYPE_CHECKING

from django.urls import reverse
from django.utils.text import capfirst

from commissions.selectors import waiting
from commissions.selectors.beside_the_quote import beside_the_quote
from commissions.selectors.commissions import (
    commission_of_piece,
    commissions,
    view_commission,
)
from commissions.selectors.invoices import InvoiceView, invoices
from commissions.selectors.money_page import overdue_invoices
from commissions.selectors.quotes import day_of
from commissions.selectors.reminders import with_reminders
from commissions.selectors.share_links import link_token, live_link
from commissions.selectors.spent import spent_on_piece
from studio.panels import (
    NOW,
    Panel,
    PanelRequest,
    SearchGroup,
    SearchHit,
    TodayItem,
    on_piece,
    on_search,
    on_today_items,
)
from studio.selectors.named import MOST_HITS, has_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from studio.models import Piece

TODAY_RANK = 60
PIECE_ORDER = 80


@on_today_items
def money_today(asked: PanelRequest) -> list[TodayItem]:
    """Return which commissions need something done today."""
    if not asked.viewer.may_see_money:
        return []
    studio = asked.viewer.studio
    late = with_reminders(overdue_invoices(studio, today=day_of(studio, asked.now)))
    # One line for one debt: the invoice says it better than the part of the price.
    told = {one.invoice.commission_id for one in late}
    return [_overdue_item(one) for one in late] + [
        TodayItem(
            what=item.view.commission.title,
            href=reverse(
                "commissions:commission_detail", args=[item.view.commission.pk]
            ),
            verb="See",
            rank=NOW if item.kind == "problem" else TODAY_RANK,
            note=str(item.view.commission.client),
            state=item.words,
            kind=item.kind,
            piece=item.view.piece.piece.pk if item.view.piece else None,
        )
        for item in waiting.waiting_today(
            asked.viewer, at=asked.now, in_work=asked.open_pieces
        )
        if item.why is not waiting.Wanted.DUE or item.view.commission.pk not in told
    ]


def _overdue_item(view: InvoiceView) -> TodayItem:
    invoice = view.invoice
    return TodayItem(
        what=invoice.title,
        href=reverse("commissions:invoice_detail", args=[invoice.pk]),
        verb="Remind",
        rank=NOW,
        note=" · ".join(
            filter(None, [str(invoice.client), invoice.name, view.reminded])
        ),
        state=view.state_words,
        kind=view.state_kind,
    )


@on_search
def commissions_named(asked: PanelRequest, words: "Sequence[str]") -> SearchGroup:
    """Return commissions by their titles or clients, for those who see money."""
    found = []
    if asked.viewer.may_see_money:
        named = has_words(words, "title", "client__name", "client__email")
        found = list(commissions(asked.viewer.studio).filter(named)[:MOST_HITS])
    return SearchGroup(
        title="Commissions",
        hits=tuple(
            SearchHit(
                title=one.title,
                href=reverse("commissions:commission_detail", args=[one.pk]),
                note=str(one.client),
            )
            for one in found
        ),
    )


@on_search
def invoices_numbered(asked: PanelRequest, words: "Sequence[str]") -> SearchGroup:
    """Return issued invoices by number or title, for those who see money."""
    found = []
    if asked.viewer.may_see_money:
        named = has_words(words, "number", "title")
        issued = invoices(asked.viewer.studio).filter(named, issued_at__isnull=False)
        found = list(issued[:MOST_HITS])
    return SearchGroup(
        title="Invoices",
        hits=tuple(
            SearchHit(
                title=capfirst(one.name),
                href=reverse("commissions:invoice_detail", args=[one.pk]),
                note=f"{one.client} · {one.title}",
            )
            for one in found
        ),
    )


@on_piece
def money_of_piece(asked: PanelRequest, piece: "Piece") -> list[Panel]:
    """Show for whom a piece is made and what is paid, or else what it cost.

    A helper sees none of it.
    """
    if not asked.viewer.may_see_money:
        return []
    commission = commission_of_piece(asked.viewer.studio, piece.pk)
    if commission is None:
        spent = spent_on_piece(piece)
        cost = asked.viewer.money(spent.cost, spent.currency) if spent.lines else ""
        return [
            Panel(
                template="commissions/_panel_piece_cost.html",
                context={"piece": piece.pk, "cost": cost},
                order=PIECE_ORDER,
            )
        ]
    link = live_link(commission, at=asked.now)
    return [
        Panel(
            template="commissions/_panel_piece.html",
            context={
                "piece": piece.pk,
                "view": view_commission(commission, at=asked.now),
                "token": link_token(link) if link else "",
                "differs": beside_the_quote(commission, piece),
            },
            order=PIECE_ORDER,
        )
    ]
