"""Orders the PDFs of invoices and receipts from the worker."""

from django.db import transaction

from commissions import invoice_papers
from commissions.models import Invoice, Receipt


@transaction.atomic
def ask_for_invoice(*, invoice: Invoice) -> None:
    """Have an invoice's PDF made in the background, unless it exists or is being made."""
    invoice_papers.order_invoice(invoice)


@transaction.atomic
def ask_for_receipt(*, receipt: Receipt) -> None:
    """Have a receipt's PDF made in the same way."""
    invoice_papers.order_receipt(receipt)
