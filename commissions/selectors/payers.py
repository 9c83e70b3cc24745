"""Who is invoiced for a commission."""

from commissions.models import Client, Commission


def payer_of(commission: Commission) -> Client:
    """Return who its invoices go to: the client, or the gallery that sells to them."""
    if commission.gallery_sells and commission.gallery is not None:
        return commission.gallery
    return commission.client
