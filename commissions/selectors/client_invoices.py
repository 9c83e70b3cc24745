"""What the client's page shows of invoices: those that were sent to this very client."""

from collections.abc import Iterable

from django.db.models import Prefetch

from commissions.models import Commission, Invoice, Payment, Receipt
from commissions.selectors.invoices import invoices, receipts
from studio.tenancy import StudioQuerySet


def sent_invoices(commission: Commission) -> StudioQuerySet[Invoice]:
    """Return the invoices and credit notes on the client's page, oldest first.

    An invoice to somebody else, such as a gallery, is not theirs to see.
    """
    found = invoices(commission.studio).filter(
        commission=commission, client=commission.client_id, sent_at__isnull=False
    )
    standing = Payment.across_studios.filter(
        taken_back_at=None, receipt__isnull=False
    ).select_related("receipt")
    return found.prefetch_related(
        Prefetch("payments", queryset=standing, to_attr="standing_payments")
    ).order_by("year", "serial", "pk")


def receipts_of(invoice: Invoice) -> list[Receipt]:
    """Return the receipts of an invoice that `sent_invoices` returned."""
    payments: Iterable[Payment] = getattr(invoice, "standing_payments", ())
    return [payment.receipt for payment in payments]


def shared_receipts(commission: Commission) -> StudioQuerySet[Receipt]:
    """Return the receipts that the client may see: of payments of sent invoices."""
    return receipts(commission.studio).filter(
        payment__invoice__commission=commission,
        payment__invoice__client=commission.client_id,
        payment__invoice__sent_at__isnull=False,
        payment__taken_back_at=None,
    )
