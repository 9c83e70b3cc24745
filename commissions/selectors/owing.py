"""Who owes whom where a gallery sells a piece or passed it on."""

from decimal import Decimal

from commissions.models import Quote
from commissions.pricing import Section
from studio.viewer import Viewer


def owing_words(quote: Quote, viewer: Viewer) -> list[str]:
    """Say who pays whom, who collects the tax and what each keeps; nothing without one."""
    choices = quote.inputs["choices"]
    kept = (
        line.amount for line in quote.lines.all() if line.section == Section.GALLERY
    )
    keeps = sum(kept, Decimal(0))
    if not keeps and not choices["gallery_sells"]:
        return []
    commission = quote.commission
    gallery = str(commission.gallery or "the gallery")

    def money(amount: Decimal) -> str:
        return viewer.money(amount, quote.currency)

    client, tax = (
        commission.client,
        f", with {money(quote.tax)} tax" if quote.tax else "",
    )
    if choices["gallery_sells"]:
        told = [
            f"{client} pays {gallery} {money(quote.total)}{tax}.",
            f"{gallery} keeps {money(keeps)} and owes you {money(quote.to_studio)}.",
        ]
        if quote.tax:
            told.append(f"{gallery} hands the tax on.")
    else:
        told = [
            f"{client} pays you {money(quote.total)}{tax}.",
            f"You owe {gallery} {money(keeps)}.",
        ]
    return [one[0].upper() + one[1:] for one in told]
