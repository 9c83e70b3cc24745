"""Money for invoices: payments, credit carried over, credit notes, refunds."""

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from commissions.forms.invoice import AmountForm
from commissions.forms.payment import PaymentForm
from commissions.selectors.invoices import view_invoice
from commissions.selectors.money import Question
from commissions.selectors.quotes import day_of
from commissions.services.credit_notes import make_credit_note
from commissions.services.credits import refund, use_credit_on
from commissions.services.payments import PaymentQuestion, record_invoice_payment
from commissions.views.found import invoice_or_404
from commissions.views.invoices import back_to
from studio.answers import FormPage, answer_form, form_page
from studio.errors import StudioError
from studio.http import OK, StudioRequest, attempt, posted, requires, say_done
from studio.money import format_money, plain_number
from studio.roles import Can

if TYPE_CHECKING:
    from commissions.models import Invoice, Payment


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def invoice_pay(request: StudioRequest, pk: int) -> HttpResponse:
    """Record a payment of an invoice; the amount starts at what is open."""
    invoice = invoice_or_404(request, pk)
    now = timezone.now()
    today = day_of(request.studio, now)
    view = view_invoice(invoice, today=today)
    form = PaymentForm(
        posted(request),
        currency=invoice.currency,
        today=today,
        initial={
            "received_date": today,
            "amount": plain_number(view.open) if view.open > 0 else None,
        },
    )
    page = FormPage(
        title="Record a payment",
        submit="Record the payment",
        intro=f"{format_money(view.open, invoice.currency)} still to pay.",
        **back_to(invoice),
    )
    if request.method != "POST":
        return form_page(request, page, form)
    made: list[Payment] = []
    asked: list[Question] = []

    def act() -> None:
        try:
            made.append(
                record_invoice_payment(
                    invoice=invoice,
                    amount=form.cleaned_data["amount"],
                    received_date=form.cleaned_data["received_date"],
                    method=form.cleaned_data["method"],
                    note_text=form.cleaned_data["note"],
                    confirmed=form.confirmed,
                    by=request.user,
                    at=now,
                )
            )
        except PaymentQuestion as problem:
            asked.append(problem.question)
            raise

    status = attempt(form, act)
    if status != OK:
        for question in asked:
            form.ask(question)
        return form_page(request, page, form, status)
    undo_url = reverse("commissions:payment_take_back", args=[made[0].pk])
    told = f"The payment is recorded, with receipt {made[0].receipt_number}."
    say_done(request, told, undo_url=undo_url)
    return redirect("commissions:invoice_detail", pk)


@require_POST
@requires(Can.SEE_MONEY)
def invoice_use_credit(request: StudioRequest, pk: int) -> HttpResponse:
    """Pay from what the client has in credit elsewhere."""
    invoice = invoice_or_404(request, pk)
    try:
        payment = use_credit_on(
            invoice=invoice,
            key=request.POST.get("credit", ""),
            by=request.user,
            at=timezone.now(),
        )
    except StudioError as problem:
        messages.error(request, str(problem))
    else:
        undo_url = reverse("commissions:payment_take_back", args=[payment.pk])
        say_done(request, "The credit is used.", undo_url=undo_url)
    return redirect("commissions:invoice_detail", pk)


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def invoice_credit(request: StudioRequest, pk: int) -> HttpResponse:
    """Draft a credit note over an invoice, or a part of it."""
    invoice = invoice_or_404(request, pk)
    now = timezone.now()
    view = view_invoice(invoice, today=day_of(request.studio, now))
    form = AmountForm(
        posted(request),
        currency=invoice.currency,
        label="Take off",
        initial={"amount": plain_number(view.due) if view.due > 0 else None},
    )
    page = FormPage(
        title="Credit note",
        submit="Draft the credit note",
        intro=f"{view.words}. The invoice itself stays as it was issued.",
        **back_to(invoice),
    )
    if request.method != "POST":
        return form_page(request, page, form)
    made: list[Invoice] = []
    status = attempt(
        form,
        lambda: made.append(
            make_credit_note(
                invoice=invoice,
                amount=form.cleaned_data["amount"],
                reason=form.cleaned_data["reason"],
                by=request.user,
                at=now,
            )
        ),
    )
    if status != OK:
        return form_page(request, page, form, status)
    return redirect("commissions:invoice_detail", made[0].pk)


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def invoice_refund(request: StudioRequest, pk: int) -> HttpResponse:
    """Pay back what came in beyond what is asked for."""
    invoice = invoice_or_404(request, pk)
    now = timezone.now()
    view = view_invoice(invoice, today=day_of(request.studio, now))
    left = view.left_over
    form = AmountForm(
        posted(request),
        currency=invoice.currency,
        label="Pay back",
        initial={"amount": plain_number(left) if left > 0 else None},
    )
    page = FormPage(
        title="Pay back",
        submit="Record the refund",
        intro=f"{format_money(left, invoice.currency)} was paid beyond what is asked.",
        **back_to(invoice),
    )
    made: list[Payment] = []
    return answer_form(
        request,
        page,
        form,
        lambda: made.append(
            refund(
                invoice=invoice,
                amount=form.cleaned_data["amount"],
                reason=form.cleaned_data["reason"],
                by=request.user,
                at=now,
            )
        ),
        told="The refund is recorded.",
        undo_url=lambda: reverse("commissions:payment_take_back", args=[made[0].pk]),
    )
