"""Orders a quote's PDF from the worker."""

from django.db import transaction

from commissions import documents
from commissions.models import Quote


@transaction.atomic
def ask_for_paper(*, quote: Quote) -> None:
    """Have the quote's PDF made in the background, unless it exists or is being made."""
    documents.order_paper(quote)


@transaction.atomic
def ask_for_accepted_paper(*, quote: Quote) -> None:
    """Have the PDF with the quote's acceptance made in the same way."""
    documents.order_accepted_paper(quote)
