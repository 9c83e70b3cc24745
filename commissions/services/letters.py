"""Sends a studio's letters to its clients: nothing before its maker presses send."""

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from django.db import transaction
from django.urls import reverse

from commissions.models import Client, ClientLetter, Commission, Invoice
from commissions.selectors.quotes import day_of
from commissions.services.reminders import record_reminder
from studio.models import DeliveryState, Document, Person
from studio.services import history
from studio.services.locks import held
from studio.services.messages import address_token, post_letter

# The same letter pressed twice is one.
PRESSED_TWICE = timedelta(minutes=10)


@transaction.atomic
def send_reminder(*, invoice: Invoice, letter: Mapping[str, Any]) -> ClientLetter:
    """Send a letter that reminds of an invoice, and record that it did.

    `letter` is what `send_letter` takes.

    Raises
    ------
    Refused
        When nobody can be reminded of it, or the address asked for no more letters.
    """
    by, at = letter["by"], letter["at"]
    record_reminder(
        invoice=invoice,
        sent_date=day_of(invoice.studio, at),
        sent_to=letter["to"],
        text=letter["text"],
        by=by,
        at=at,
    )
    return send_letter(**letter)


@transaction.atomic
def send_letter(
    *,
    client: Client,
    commission: Commission | None,
    to: str,
    subject: str,
    text: str,
    paper: Document | None,
    by: Person | None,
    at: datetime,
) -> ClientLetter:
    """Have a letter sent, and keep what it said; pressed twice it is sent once.

    Raises
    ------
    Refused
        When this address asked for no more letters from the studio.
    """
    current = held(Client.across_studios).get(pk=client.pk)
    facts = {"to": to.strip(), "subject": subject, "text": text.strip()}
    same: ClientLetter | None = (
        ClientLetter.owned.for_studio(current.studio)
        .filter(
            client=current,
            at__gt=at - PRESSED_TWICE,
            delivery__paper=paper,
            **facts,
        )
        .exclude(delivery__state=DeliveryState.FAILED)
        .first()
    )
    if same is not None:
        return same
    stop = address_token(current.studio, facts["to"])
    delivery = post_letter(
        studio=current.studio,
        at=at,
        paper_id=paper.pk if paper else None,
        stop_path=reverse("studio:letters_stop", args=[stop]),
        **facts,
    )
    made: ClientLetter = ClientLetter.across_studios.create(
        studio=current.studio,
        client=current,
        commission=commission,
        delivery=delivery,
        at=at,
        by=by,
        **facts,
    )
    history.record(
        studio=current.studio,
        by=by,
        at=at,
        what=f"Wrote to {current} at {facts['to']}: {subject}",
        subject=f"commission {commission.pk}" if commission else "",
        is_about_money=True,
    )
    return made
