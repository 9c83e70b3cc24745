"""Who owes whom where a gallery sells a piece or passed it on."""

from collections.abc import Callable
from decimal import Decimal

from commissions.models import Commission, Quote
from commissions.pricing import Section
from studio.viewer import Viewer


def owing_words(
    commission: Commission,
    *,
    gallery_sells: bool,
    total: Decimal,
    tax: Decimal,
    keeps: Decimal,
    to_studio: Decimal,
    write: Callable[[Decimal], str],
) -> list[str]:
    """Say who pays whom, who collects the tax and what each keeps; nothing without one.

    Parameters
    ----------
    total, tax : Decimal
        What the client pays, and the tax in it.
    keeps, to_studio : Decimal
        What the gallery keeps, and what the studio is paid.
    write : callable
        Writes an amount.
    """
    if not keeps and not gallery_sells:
        return []
    client, gallery = commission.client, commission.gallery or "the gallery"
    taxed = f", with {write(tax)} tax" if tax else ""
    if gallery_sells:
        told = [
            f"{client} pays {gallery} {write(total)}{taxed}.",
            f"{gallery} keeps {write(keeps)} and owes you {write(to_studio)}.",
        ]
        if tax:
            told.append(f"{gallery} hands the tax on.")
    else:
        told = [
            f"{client} pays you {write(total)}{taxed}.",
            f"You owe {gallery} {write(keeps)}.",
        ]
    return [one[0].upper() + one[1:] for one in told]


def gallery_sells(quote: Quote) -> bool:
    """Return whether the client pays a gallery, which owes the studio its part."""
    return bool(quote.inputs["choices"]["gallery_sells"])


def gallery_keeps(quote: Quote) -> Decimal:
    """Return what a gallery keeps of a quote's price before tax."""
    kept = (one.amount for one in quote.lines.all() if one.section == Section.GALLERY)
    return sum(kept, Decimal(0))


def owing_of(quote: Quote, viewer: Viewer) -> list[str]:
    """Say the same of a quote."""
    return owing_words(
        quote.commission,
        gallery_sells=gallery_sells(quote),
        total=quote.total,
        tax=quote.tax,
        keeps=gallery_keeps(quote),
        to_studio=quote.to_studio,
        write=lambda amount: viewer.money(amount, quote.currency),
    )
