"""Sections that the firing app adds to Today and to a piece's page."""

from typing import TYPE_CHECKING

from django.urls import reverse

from firing.selectors.bookings import next_booking_of
from firing.selectors.firings import firings_of_piece, view_firing
from firing.selectors.kiln_time import booking_href
from firing.selectors.stacks import allowed_kinds
from firing.selectors.today import kilns_today
from studio.panels import Asked, Panel, on_piece, on_today
from studio.selectors.pieces import fresh

if TYPE_CHECKING:
    from studio.models import Piece

TODAY_ORDER, PIECE_ORDER = 10, 20


@on_today
def today_section(asked: Asked) -> list[Panel]:
    """Show what the kilns ask for."""
    work = kilns_today(asked.reader, asked.now)
    if work.is_empty:
        return []
    return [
        Panel(template="firing/_today.html", context={"work": work}, order=TODAY_ORDER)
    ]


@on_piece
def piece_section(asked: Asked, piece: "Piece") -> list[Panel]:
    """Show a piece's firings, and the step that its stage calls for."""
    rows = [
        view_firing(firing, reader=asked.reader, now=asked.now)
        for firing in firings_of_piece(piece)
    ]
    booking = next_booking_of(piece)
    context = {
        "rows": rows,
        "booking": booking,
        "booking_url": booking_href(booking) if booking is not None else "",
        "fuse_url": "",
    }
    kinds = allowed_kinds(fresh(piece))
    if booking is None and kinds:
        context["fuse_url"] = reverse("firing:fuse_plan", args=[piece.pk])
        context["is_re_anneal"] = kinds[0] == "re-anneal"
    if not rows and not context["fuse_url"]:
        return []
    return [Panel(template="firing/_piece.html", context=context, order=PIECE_ORDER)]
