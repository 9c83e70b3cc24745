"""Recording money that came in, and putting that right."""

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.text import capfirst
from django.views.decorators.http import require_http_methods, require_POST

from commissions.forms.payment import PaymentForm
from commissions.selectors import commissions as selectors
from commissions.selectors.money import Question, payment_words
from commissions.selectors.parts import open_invoices_of
from commissions.selectors.quotes import day_of
from commissions.services.payments import (
    PaymentQuestion,
    put_back_payment,
    record_payment,
    take_back_payment,
    use_credit,
)
from commissions.views.found import commission_or_404
from studio.answers import FormPage, WayBack, answer_undo
from studio.errors import StudioError
from studio.http import (
    OK,
    StudioRequest,
    attempt,
    render_page,
    requires,
    say_done,
)
from studio.money import plain_number
from studio.roles import Can

if TYPE_CHECKING:
    from commissions.models import Payment


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def payment_new(request: StudioRequest, pk: int) -> HttpResponse:
    """Record a payment; the amount starts at what is due."""
    commission = commission_or_404(request, pk)
    now = timezone.now()
    today = day_of(request.studio, now)
    view = selectors.view_commission(commission, at=now)
    currency = view.money.currency
    found = {
        str(one.invoice.pk): one.invoice
        for one in open_invoices_of(commission, today=today)
    }
    named = [(key, f"{one.number}, {one.title}") for key, one in found.items()]
    if request.method != "POST":
        due = view.money.due_now
        form = PaymentForm(
            currency=currency,
            today=today,
            invoices=named,
            initial={
                "invoice": next(iter(found), ""),
                "received_date": today,
                "amount": plain_number(due) if due else None,
            },
        )
        return _page(request, view, form)
    form = PaymentForm(request.POST, currency=currency, today=today, invoices=named)
    made: list[Payment] = []
    asked: list[Question] = []

    def act() -> None:
        try:
            made.append(
                record_payment(
                    commission=commission,
                    amount=form.cleaned_data["amount"],
                    received_date=form.cleaned_data["received_date"],
                    method=form.cleaned_data["method"],
                    note_text=form.cleaned_data["note"],
                    invoice=found.get(form.cleaned_data.get("invoice", "")),
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
        return _page(request, view, form, status=status)
    undo_url = reverse("commissions:payment_take_back", args=[made[0].pk])
    say_done(request, "The payment is recorded.", undo_url=undo_url)
    return redirect("commissions:commission_detail", pk)


@require_POST
@requires(Can.SEE_MONEY)
def commission_use_credit(request: StudioRequest, pk: int, source: int) -> HttpResponse:
    """Pay from what was credited when another commission was closed."""
    commission = commission_or_404(request, pk)
    other = commission_or_404(request, source)
    try:
        payment = use_credit(
            commission=commission, source=other, by=request.user, at=timezone.now()
        )
    except StudioError as problem:
        messages.error(request, str(problem))
    else:
        undo_url = reverse("commissions:payment_take_back", args=[payment.pk])
        say_done(request, f"The credit from {other.title} is used.", undo_url=undo_url)
    return redirect("commissions:commission_detail", pk)


def _page(
    request: StudioRequest,
    view: selectors.CommissionView,
    form: PaymentForm,
    *,
    status: int = OK,
) -> HttpResponse:
    context = {"view": view, "commission": view.commission, "form": form}
    return render_page(request, "commissions/payment_form.html", context, status=status)


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def payment_take_back(request: StudioRequest, pk: int) -> HttpResponse:
    """Take a payment back; the row stays, struck out."""
    payment = get_object_or_404(selectors.payments(request.studio), pk=pk)
    now = timezone.now()
    page = FormPage(
        title="Take back a payment",
        submit="Take it back",
        is_danger=True,
        intro=f"{payment_words(payment)}. It stays in the list, struck out, and no "
        "longer counts.",
        **_back(payment),
    )
    return answer_undo(
        request,
        page,
        lambda reason: take_back_payment(
            payment=payment, reason=reason, by=request.user, at=now
        ),
        recorded_at=payment.recorded_at,
        now=now,
        told="The payment is taken back.",
        undo_url=reverse("commissions:payment_put_back", args=[pk]),
    )


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def payment_put_back(request: StudioRequest, pk: int) -> HttpResponse:
    """Let a payment count again that was taken back by mistake."""
    payment = get_object_or_404(selectors.payments(request.studio), pk=pk)
    now = timezone.now()
    page = FormPage(
        title="Put a payment back",
        submit="Put it back",
        intro=f"{payment_words(payment)}. It counts again.",
        **_back(payment),
    )
    return answer_undo(
        request,
        page,
        lambda reason: put_back_payment(
            payment=payment, reason=reason, by=request.user, at=now
        ),
        recorded_at=payment.taken_back_at or now,
        now=now,
        told="The payment counts again.",
        undo_url=reverse("commissions:payment_take_back", args=[pk]),
    )


def _back(payment: "Payment") -> WayBack:
    commission, invoice = payment.commission, payment.invoice
    if commission is None:
        assert invoice is not None  # noqa: S101 - held by a constraint
        return {
            "back_url": reverse("commissions:invoice_detail", args=[invoice.pk]),
            "back_label": capfirst(invoice.name),
        }
    return {
        "back_url": reverse("commissions:commission_detail", args=[commission.pk]),
        "back_label": commission.title,
    }
