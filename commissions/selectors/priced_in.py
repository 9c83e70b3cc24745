"""What of a commission's money is in the studio's currency, and what has its own."""

from django.db.models import Q

from commissions.models import Invoice, Payment, PriceBook, Quote
from commissions.selectors.rates import price_book
from studio.models import Studio
from studio.selectors.prices_held import hold_prices, keeps_currency
from studio.viewer import count_words

hold_prices(
    PriceBook,
    "labour_rate_per_hour",
    "energy_price_per_kwh",
    one="rate for quotes",
    many="rates for quotes",
    usual=price_book,
)


@keeps_currency
def quotes_and_payments(studio: Studio) -> list[str]:
    """Count the quotes, invoices and payments, which keep their currency."""
    quotes = Quote.owned.for_studio(studio)
    is_open = Q(accepted_at=None, declined_at=None, commission__closed_at=None)
    counted = (
        (quotes.filter(is_open).count(), "open quote", "open quotes"),
        (
            quotes.filter(accepted_at__isnull=False).count(),
            "accepted quote",
            "accepted quotes",
        ),
        (Invoice.owned.for_studio(studio).count(), "invoice", "invoices"),
        (Payment.owned.for_studio(studio).count(), "payment", "payments"),
    )
    return [count_words(count, one, many) for count, one, many in counted if count]
