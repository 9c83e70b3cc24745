"""Reads of letters to clients, and what the next one says to begin with."""

from dataclasses import dataclass
from datetime import datetime
from urllib.parse import quote as quote_for_url

from django.template.loader import render_to_string
from django.utils.text import capfirst

from commissions.models import Client, ClientLetter, Commission, Invoice, Quote
from commissions.selectors.client_page import next_step, sentence
from commissions.selectors.commissions import view_commission
from commissions.selectors.invoices import InvoiceState, InvoiceView
from studio.tenancy import StudioQuerySet
from studio.viewer import Viewer


@dataclass(frozen=True, slots=True)
class Draft:
    """A letter before its maker has changed and sent it."""

    subject: str
    text: str

    def mailto(self, client: Client) -> str:
        """Return what opens it in the maker's own mail program (RFC 6068)."""
        address = quote_for_url(client.email, safe="@")
        asked = f"subject={quote_for_url(self.subject)}&body={quote_for_url(self.text)}"
        return f"mailto:{address}?{asked}"


def letters_to(client: Client) -> StudioQuerySet[ClientLetter]:
    """Return a client's letters, newest first, with how they were sent."""
    return (
        ClientLetter.owned.for_studio(client.studio)
        .filter(client=client)
        .select_related("delivery", "by")
    )


def quote_draft(quote: Quote, url: str) -> Draft:
    """Return the words that go with a quote."""
    context = {"quote": quote, "url": url, "studio": quote.studio}
    return Draft(
        subject=f"Your {quote.name} for {quote.commission.title}",
        text=render_to_string("emails/quote.txt", context).strip(),
    )


def invoice_draft(view: InvoiceView, url: str) -> Draft:
    """Return the words that go with an invoice, or remind of it."""
    invoice: Invoice = view.invoice
    context = {
        "view": view,
        "invoice": invoice,
        "url": url,
        "studio": invoice.studio,
        "viewer": Viewer.of_studio(invoice.studio),
    }
    subject = f"{capfirst(invoice.name)}, {invoice.title}"
    if view.state is InvoiceState.OVERDUE:
        subject = f"Reminder: {subject}"
    return Draft(subject, render_to_string("emails/invoice.txt", context).strip())


def news_draft(commission: Commission, url: str, *, at: datetime) -> Draft:
    """Return where a commission stands, in the words of the client's page."""
    view = view_commission(commission, at=at)
    context = {
        "commission": commission,
        "studio": commission.studio,
        "url": url,
        "sentence": sentence(view, viewer=Viewer.of_studio(commission.studio), at=at),
        "next": next_step(view),
    }
    return Draft(
        subject=commission.title,
        text=render_to_string("emails/news.txt", context).strip(),
    )
