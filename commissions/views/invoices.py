"""Invoices: drafted, issued, sent and read."""

from datetime import datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.http import FileResponse, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.text import capfirst
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from commissions import consignment_papers, invoice_papers
from commissions.forms.invoice import DraftForm, InvoiceForm
from commissions.selectors import invoices as selectors
from commissions.selectors.business import business_details
from commissions.selectors.clients import clients
from commissions.selectors.credits import credits_of
from commissions.selectors.letters import invoice_draft
from commissions.selectors.money import payment_words
from commissions.selectors.quotes import day_of
from commissions.selectors.reminders import reminders, with_reminders
from commissions.selectors.taxes import usual_tax
from commissions.services.invoice_orders import (
    ask_for_consignment,
    ask_for_invoice,
    ask_for_receipt,
)
from commissions.services.invoices import (
    change_draft,
    delete_draft,
    issue_invoice,
    make_invoice,
    make_part_invoice,
    send_invoice,
    take_back_sent,
)
from commissions.views.client_page import client_page_url
from commissions.views.found import (
    commission_or_404,
    instalment_or_404,
    invoice_or_404,
)
from commissions.views.papers import paper_job
from studio.answers import FormPage, WayBack, answer_form, answer_undo
from studio.documents import PaperState
from studio.errors import StudioError
from studio.http import (
    OK,
    StudioRequest,
    attempt,
    posted,
    render_page,
    requires,
    say_done,
    send_document,
)
from studio.money import plain_number
from studio.roles import Can

if TYPE_CHECKING:
    from commissions.models import Client, Invoice


@require_POST
@requires(Can.SEE_MONEY)
def instalment_invoice(request: StudioRequest, pk: int) -> HttpResponse:
    """Draft the invoice for a part of the price."""
    instalment = instalment_or_404(request, pk)
    try:
        made = make_part_invoice(
            instalment=instalment, by=request.user, at=timezone.now()
        )
    except StudioError as problem:
        messages.error(request, str(problem))
        return redirect("commissions:commission_detail", instalment.quote.commission_id)
    return redirect("commissions:invoice_detail", made.pk)


@require_safe
@requires(Can.SEE_MONEY)
def invoice_detail(request: StudioRequest, pk: int) -> HttpResponse:
    """Show an invoice as its paper has it, its money, and what to do next."""
    invoice = invoice_or_404(request, pk)
    now = timezone.now()
    today = day_of(request.studio, now)
    view = selectors.view_invoice(invoice, today=today)
    (view,) = with_reminders([view])
    commission = invoice.commission
    url = share_url_of(request, invoice, at=now)
    payments = invoice.payments.select_related("receipt").order_by(
        "received_date", "pk"
    )
    offered = (
        credits_of(invoice.client, currency=invoice.currency, at=now)
        if view.open > 0
        else []
    )
    own = ("commission", invoice.commission_id) if commission else ("invoice", pk)
    context = {
        "view": view,
        "invoice": invoice,
        "paper": invoice_papers.invoice_paper(invoice),
        "payments": payments,
        "reminders": reminders(request.studio).filter(invoice=invoice),
        "notes": invoice.credit_notes.order_by("pk"),
        "credits": [one for one in offered if one.key != f"{own[0]}-{own[1]}"],
        "share_url": url,
        "days_to_pay": business_details(request.studio).days_to_pay,
        "job": _job(invoice),
        "sha256": _sha256(invoice),
        **(letter_of(view, url) if view.invoice.sent_at or view.may_be_sent else {}),
    }
    return render_page(request, "commissions/invoice_detail.html", context)


def _sha256(invoice: "Invoice") -> str:
    document = invoice_papers.paper_state(invoice).document
    return document.pdf_sha256 if document is not None and invoice.number else ""


def share_url_of(request: StudioRequest, invoice: "Invoice", *, at: datetime) -> str:
    """Return the address of the client's page that shows an invoice, or nothing."""
    commission = invoice.commission
    if commission is None or invoice.client_id != commission.client_id:
        return ""
    return client_page_url(request, commission, at=at)


def letter_of(view: selectors.InvoiceView, url: str) -> dict[str, str]:
    """Return words to send with an invoice, or to remind of it, and a mailto address."""
    draft = invoice_draft(view, url)
    return {"letter": draft.text, "mailto": draft.mailto(view.invoice.client)}


def _job(invoice: "Invoice") -> dict[str, str]:
    address = reverse("commissions:invoice_pdf", args=[invoice.pk])
    return paper_job(
        invoice_papers.paper_state(invoice),
        result_url=address,
        poll_url=address,
    )


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def client_invoice_new(request: StudioRequest, pk: int) -> HttpResponse:
    """Draft an invoice for other work or kiln rental."""
    client = get_object_or_404(clients(request.studio), pk=pk)
    tax_name, percent = usual_tax(request.studio)
    is_taxed = client.tax_status == "taxed"
    form = InvoiceForm(
        posted(request),
        currency=request.studio.currency,
        tax_percent=percent if is_taxed else Decimal(0),
        initial={"tax_name": tax_name},
    )
    made: list[Invoice] = []
    status = OK
    if request.method == "POST":
        status = attempt(
            form,
            lambda: made.append(
                make_invoice(
                    client=client,
                    kind=form.cleaned_data["kind"],
                    title=form.cleaned_data["title"],
                    message=form.cleaned_data["message"],
                    lines=form.lines,
                    by=request.user,
                    at=timezone.now(),
                )
            ),
        )
        if status == OK:
            return redirect("commissions:invoice_detail", made[0].pk)
    return _lines_page(request, form, client, status=status)


def _lines_page(
    request: StudioRequest,
    form: InvoiceForm,
    client: "Client",
    *,
    invoice: "Invoice | None" = None,
    status: int = OK,
) -> HttpResponse:
    context = {"form": form, "client": client, "invoice": invoice}
    return render_page(request, "commissions/invoice_form.html", context, status=status)


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def invoice_edit(request: StudioRequest, pk: int) -> HttpResponse:
    """Change a draft; an issued invoice says why it stays."""
    invoice = invoice_or_404(request, pk)
    if not invoice.is_draft:
        messages.error(
            request,
            f"{capfirst(invoice.name)} is issued and stays as it is. Correct it by a "
            "credit note.",
        )
        return redirect("commissions:invoice_detail", pk)
    if invoice.commission_id is not None or invoice.is_credit:
        return _edit_words(request, invoice)
    _, percent = usual_tax(request.studio)
    lines = list(invoice.lines.all())
    form = InvoiceForm(
        posted(request),
        currency=invoice.currency,
        tax_percent=percent,
        lines=[
            {
                "label": line.label,
                "unit": line.unit,
                **{
                    name: plain_number(getattr(line, name))
                    for name in ("quantity", "unit_price", "tax_percent")
                },
            }
            for line in lines
        ],
        initial={
            "kind": invoice.kind,
            "title": invoice.title,
            "message": invoice.message,
            "tax_name": next((x.tax_name for x in lines if x.tax_percent), ""),
        },
    )
    status = OK
    if request.method == "POST":
        status = attempt(
            form,
            lambda: change_draft(
                invoice=invoice,
                title=form.cleaned_data["title"],
                message=form.cleaned_data["message"],
                lines=form.lines,
                by=request.user,
                at=timezone.now(),
            ),
        )
        if status == OK:
            return redirect("commissions:invoice_detail", pk)
    return _lines_page(request, form, invoice.client, invoice=invoice, status=status)


def _edit_words(request: StudioRequest, invoice: "Invoice") -> HttpResponse:
    form = DraftForm(
        posted(request), initial={"title": invoice.title, "message": invoice.message}
    )
    page = FormPage(title="Edit the draft", submit="Save", **back_to(invoice))
    return answer_form(
        request,
        page,
        form,
        lambda: change_draft(
            invoice=invoice, **form.cleaned_data, by=request.user, at=timezone.now()
        ),
        told="The draft is saved.",
    )


def back_to(invoice: "Invoice") -> WayBack:
    """Return the way back to an invoice's page."""
    return {
        "back_url": reverse("commissions:invoice_detail", args=[invoice.pk]),
        "back_label": capfirst(invoice.name),
    }


@require_POST
@requires(Can.SEE_MONEY)
def invoice_delete(request: StudioRequest, pk: int) -> HttpResponse:
    """Delete a draft."""
    invoice = invoice_or_404(request, pk)
    try:
        delete_draft(invoice=invoice, by=request.user, at=timezone.now())
    except StudioError as problem:
        messages.error(request, str(problem))
        return redirect("commissions:invoice_detail", pk)
    messages.success(request, "The draft is deleted.")
    if invoice.corrects_id is not None:
        return redirect("commissions:invoice_detail", invoice.corrects_id)
    if invoice.commission_id is not None:
        return redirect("commissions:commission_detail", invoice.commission_id)
    return redirect("commissions:client_detail", invoice.client_id)


@require_POST
@requires(Can.SEE_MONEY)
def invoice_issue(request: StudioRequest, pk: int) -> HttpResponse:
    """Number and freeze a draft; with `send` in the form, send it too."""
    invoice = invoice_or_404(request, pk)
    now = timezone.now()
    try:
        issued = issue_invoice(invoice=invoice, by=request.user, at=now)
        if request.POST.get("send"):
            send_invoice(invoice=issued, by=request.user, at=now)
    except StudioError as problem:
        messages.error(request, str(problem))
        return redirect("commissions:invoice_detail", pk)
    name = capfirst(issued.name)
    if request.POST.get("send"):
        _say_sent(request, issued, f"{name} is issued and sent.")
    else:
        messages.success(request, f"{name} is issued. Nobody was sent it yet.")
    return redirect("commissions:invoice_detail", pk)


@require_POST
@requires(Can.SEE_MONEY)
def invoice_send(request: StudioRequest, pk: int) -> HttpResponse:
    """Put an issued invoice on the client's page."""
    invoice = invoice_or_404(request, pk)
    try:
        sent = send_invoice(invoice=invoice, by=request.user, at=timezone.now())
    except StudioError as problem:
        messages.error(request, str(problem))
    else:
        _say_sent(request, sent, f"{capfirst(sent.name)} is sent.")
    return redirect("commissions:invoice_detail", pk)


def _say_sent(request: StudioRequest, invoice: "Invoice", told: str) -> None:
    where = (
        " Now send the PDF below to the client."
        if invoice.commission_id is None
        else " It is on the client's page: write to them below."
    )
    undo_url = reverse("commissions:invoice_unsend", args=[invoice.pk])
    say_done(request, told + where, undo_url=undo_url)


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def invoice_unsend(request: StudioRequest, pk: int) -> HttpResponse:
    """Take an invoice off the client's page."""
    invoice = invoice_or_404(request, pk)
    now = timezone.now()
    page = FormPage(
        title="Take it off the client's page",
        submit="Take it off",
        intro="It stays issued, with its number.",
        **back_to(invoice),
    )
    return answer_undo(
        request,
        page,
        lambda reason: take_back_sent(
            invoice=invoice, reason=reason, by=request.user, at=now
        ),
        recorded_at=invoice.sent_at or now,
        now=now,
        told=f"{capfirst(invoice.name)} is off the client's page.",
    )


@require_http_methods(["GET", "HEAD", "POST"])
@requires(Can.SEE_MONEY)
def invoice_pdf(request: StudioRequest, pk: int) -> HttpResponse | FileResponse:
    """Send an invoice's PDF, or say how far it is. POST has it made."""
    invoice = invoice_or_404(request, pk)
    if request.method == "POST":
        ask_for_invoice(invoice=invoice)
        return redirect("commissions:invoice_pdf", pk)
    state = invoice_papers.paper_state(invoice)
    name = invoice.name.replace(" ", "-")
    return send_paper(request, state, name=name, back=back_to(invoice))


@require_http_methods(["GET", "HEAD", "POST"])
@requires(Can.SEE_MONEY)
def receipt_pdf(request: StudioRequest, pk: int) -> HttpResponse | FileResponse:
    """Send a receipt's PDF, or say how far it is. POST has it made."""
    receipt = get_object_or_404(selectors.receipts(request.studio), pk=pk)
    if request.method == "POST":
        ask_for_receipt(receipt=receipt)
        return redirect("commissions:receipt_pdf", pk)
    state = invoice_papers.receipt_state(receipt)
    payment = receipt.payment
    back: WayBack = (
        back_to(payment.invoice)
        if payment.invoice is not None
        else {
            "back_url": reverse(
                "commissions:commission_detail", args=[payment.commission_id]
            ),
            "back_label": payment_words(payment),
        }
    )
    return send_paper(request, state, name=f"receipt-{receipt.number}", back=back)


@require_http_methods(["GET", "HEAD", "POST"])
@requires(Can.SEE_MONEY)
def consignment_pdf(request: StudioRequest, pk: int) -> HttpResponse | FileResponse:
    """Send the note that goes with a piece to its gallery. POST has it made."""
    commission = commission_or_404(request, pk)
    address = reverse("commissions:commission_detail", args=[pk])
    try:
        state = consignment_papers.consignment_state(commission)
    except StudioError as problem:
        messages.error(request, str(problem))
        return redirect(address)
    if request.method == "POST":
        ask_for_consignment(commission=commission)
        return redirect("commissions:consignment_pdf", pk)
    back: WayBack = {"back_url": address, "back_label": commission.title}
    return send_paper(request, state, name="consignment-note", back=back)


def send_paper(
    request: StudioRequest, state: PaperState, *, name: str, back: WayBack
) -> HttpResponse | FileResponse:
    """Send a paper about money, or say how far it is."""
    if state.document is not None and not request.htmx:
        return send_document(state.document, name=f"{name}.pdf")
    context: dict[str, Any] = {
        "job": paper_job(state, result_url=request.path, poll_url=request.path),
        "name": name.replace("-", " ", 1).capitalize(),
        **back,
    }
    template = "_paper.html" if request.htmx else "money_paper.html"
    return render_page(request, f"commissions/{template}", context)
