"""Writing to a client, from what the letter is about."""

from typing import TYPE_CHECKING

from django.conf import settings
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from commissions import documents, invoice_papers
from commissions.forms.letter import LetterForm
from commissions.selectors.clients import clients
from commissions.selectors.invoices import InvoiceState, view_invoice
from commissions.selectors.letters import (
    Draft,
    invoice_draft,
    news_draft,
    quote_draft,
)
from commissions.selectors.quotes import day_of
from commissions.services.letters import send_letter, send_reminder
from commissions.views.client_page import client_page_url
from commissions.views.found import commission_or_404, invoice_or_404, quote_or_404
from commissions.views.invoices import share_url_of
from studio.answers import FormPage, answer_form
from studio.documents import PaperState
from studio.http import StudioRequest, posted, requires
from studio.roles import Can

if TYPE_CHECKING:
    from commissions.models import Client, Commission, Invoice

NO_SERVER = (
    "No mail server is set: the letter becomes a file, under Messages, that your mail "
    "program opens and sends."
)
WITHOUT = "The letter goes without it; to attach it, have it made first."


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def client_letter(request: StudioRequest, pk: int) -> HttpResponse:
    """Write to a client."""
    client = get_object_or_404(clients(request.studio), pk=pk)
    back = reverse("commissions:client_detail", args=[pk])
    return _letter(request, client, None, Draft("", ""), None, back, str(client))


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def commission_letter(request: StudioRequest, pk: int) -> HttpResponse:
    """Write to a client how their commission is coming along."""
    commission = commission_or_404(request, pk)
    now = timezone.now()
    url = client_page_url(request, commission, at=now)
    draft = news_draft(commission, url, at=now)
    back = reverse("commissions:commission_detail", args=[pk])
    return _letter(
        request, commission.client, commission, draft, None, back, commission.title
    )


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def quote_letter(request: StudioRequest, pk: int) -> HttpResponse:
    """Send a client their quote."""
    quote = quote_or_404(request, pk)
    commission = quote.commission
    url = client_page_url(request, commission, at=timezone.now())
    return _letter(
        request,
        commission.client,
        commission,
        quote_draft(quote, url),
        documents.paper_state(quote),
        reverse("commissions:quote_detail", args=[pk]),
        str(quote),
    )


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def invoice_letter(request: StudioRequest, pk: int) -> HttpResponse:
    """Send a client their invoice, or remind them of it."""
    invoice = invoice_or_404(request, pk)
    now = timezone.now()
    view = view_invoice(invoice, today=day_of(request.studio, now))
    url = share_url_of(request, invoice, at=now)
    return _letter(
        request,
        invoice.client,
        invoice.commission,
        invoice_draft(view, url),
        invoice_papers.paper_state(invoice),
        reverse("commissions:invoice_detail", args=[pk]),
        str(invoice),
        reminds=invoice if view.state is InvoiceState.OVERDUE else None,
    )


def _letter(
    request: StudioRequest,
    client: "Client",
    commission: "Commission | None",
    draft: Draft,
    state: PaperState | None,
    back_url: str,
    back_label: str,
    *,
    reminds: "Invoice | None" = None,
) -> HttpResponse:
    paper = state.document if state is not None else None
    form = LetterForm(
        posted(request),
        paper=paper.title if paper else "",
        initial={
            "to": client.email,
            "subject": draft.subject,
            "text": draft.text,
            "has_paper": True,
        },
    )
    page = FormPage(
        title=f"Write to {client.name}",
        submit="Send",
        back_url=back_url,
        back_label=back_label,
        intro="" if settings.MAIL_IS_SET else NO_SERVER,
        facts=(f"{state.words} {WITHOUT}",) if state and not paper else (),
    )

    def send() -> object:
        given = dict(form.cleaned_data)
        is_attached = given.pop("has_paper", False)
        letter = given | {
            "client": client,
            "commission": commission,
            "paper": paper if is_attached else None,
            "by": request.user,
            "at": timezone.now(),
        }
        if reminds is not None:
            return send_reminder(invoice=reminds, letter=letter)
        return send_letter(**letter)

    return answer_form(
        request, page, form, send, told=f"Your letter to {client.name} is on its way."
    )
