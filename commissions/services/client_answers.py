"""What a client answers on their page: recorded, and told to the studio."""

from datetime import datetime
from functools import partial

from django.db import transaction
from django.urls import reverse

from commissions.models import Quote
from commissions.services.quotes import accept_quote, decline_quote
from studio.letters import Letter
from studio.models import Topic
from studio.services.messages import tell
from studio.viewer import Viewer


@transaction.atomic
def accept_by_link(*, quote: Quote, name: str, at: datetime) -> Quote:
    """Accept a quote for whoever has the client's link.

    Raises
    ------
    Refused
        When the quote no longer stands: the message says why.
    """
    accepted = accept_quote(quote=quote, name=name, at=at)
    _tell(accepted, f"{accepted.accepted_by_name} accepted", "", at)
    return accepted


@transaction.atomic
def decline_by_link(*, quote: Quote, reason: str, at: datetime) -> Quote:
    """Decline a quote for whoever has the client's link.

    Raises
    ------
    Refused
        When the quote no longer stands: the message says why.
    """
    declined = decline_quote(quote=quote, reason=reason, at=at)
    client = quote.commission.client
    _tell(declined, f"{client} declined", declined.declined_reason, at)
    return declined


def _tell(quote: Quote, what: str, words: str, at: datetime) -> None:
    tell(
        studio=quote.studio,
        topic=Topic.CLIENTS,
        key=f"quote {quote.pk} answered",
        write=partial(_letter, quote, what, words),
        path=reverse("commissions:quote_detail", args=[quote.pk]),
        at=at,
    )


def _letter(quote: Quote, what: str, words: str, viewer: Viewer) -> Letter:
    total = viewer.money(quote.total, quote.currency)
    lines = [f"{quote.commission.title}, {total}.", words]
    return Letter(
        title=f"{what} {quote.name}",
        text="\n".join(line for line in lines if line),
    )
