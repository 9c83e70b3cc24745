"""Which tax the studio charges where nothing else is said."""

from decimal import Decimal

from commissions.selectors.rates import price_book
from studio.models import Studio


def usual_tax(studio: Studio) -> tuple[str, Decimal]:
    """Return the name and the rate in per cent that a new line of an invoice has."""
    book = price_book(studio)
    return book.tax_name, book.tax_percent
