"""What is done to a quote's paper: ordered from the worker."""

from django.db import transaction

from commissions import documents
from commissions.models import Quote


@transaction.atomic
def ask_for_paper(*, quote: Quote) -> None:
    """Have the quote's PDF made in the background, unless it is there or under way."""
    documents.order_paper(quote)
