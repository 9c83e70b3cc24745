"""Who is invoiced for a commission."""

from commissions.models import Client, Commission


def payer_of(commission: Commission) -> Client:
    """Return who its invoices go to: the client."""
    return commission.client
