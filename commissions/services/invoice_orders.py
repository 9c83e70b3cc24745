"""Orders the PDFs of papers about money from the worker."""

from datetime import date

from django.db import transaction

from commissions import consignment_papers, invoice_papers, statement_papers
from commissions.models import Client, Commission, Invoice, Receipt


@transaction.atomic
def ask_for_invoice(*, invoice: Invoice) -> None:
    """Have an invoice's PDF made in the background, unless it exists or is being made."""
    invoice_papers.order_invoice(invoice)


@transaction.atomic
def ask_for_receipt(*, receipt: Receipt) -> None:
    """Have a receipt's PDF made in the same way."""
    invoice_papers.order_receipt(receipt)


@transaction.atomic
def ask_for_consignment(*, commission: Commission) -> None:
    """Have a consignment note's PDF made in the same way.

    Raises
    ------
    Refused
        When no gallery is named.
    """
    consignment_papers.order_consignment(commission)


@transaction.atomic
def ask_for_statement(*, client: Client, today: date) -> None:
    """Have the PDF of a client's statement made in the same way.

    Raises
    ------
    Refused
        When nothing was invoiced or paid yet.
    """
    statement_papers.order_statement(client, today=today)
