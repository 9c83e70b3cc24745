"""Finds what an address names in the studio of whoever asks, else 404."""

from typing import TYPE_CHECKING

from django.shortcuts import get_object_or_404

from commissions.selectors.commissions import commissions
from commissions.selectors.invoices import invoices
from commissions.selectors.parts import instalments
from commissions.selectors.quotes import quotes
from studio.http import StudioRequest

if TYPE_CHECKING:
    from commissions.models import Commission, Instalment, Invoice, Quote


def commission_or_404(request: StudioRequest, pk: int) -> "Commission":
    """Return the commission."""
    return get_object_or_404(commissions(request.studio), pk=pk)


def invoice_or_404(request: StudioRequest, pk: int) -> "Invoice":
    """Return the invoice, credit note or draft."""
    return get_object_or_404(invoices(request.studio), pk=pk)


def instalment_or_404(request: StudioRequest, pk: int) -> "Instalment":
    """Return the part of a quote's price."""
    return get_object_or_404(instalments(request.studio), pk=pk)


def quote_or_404(request: StudioRequest, pk: int) -> "Quote":
    """Return the quote, or an addendum."""
    return get_object_or_404(quotes(request.studio), pk=pk)
