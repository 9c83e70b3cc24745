"""Recording money that came in, and taking a payment back."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from commissions.forms.payment import PaymentForm, TakeBackForm
from commissions.selectors import commissions as selectors
from commissions.selectors.quotes import day_of
from commissions.services.payments import record_payment, take_back_payment
from commissions.views.found import commission_or_404
from studio.http import (
    OK,
    StudioRequest,
    attempt,
    render_page,
    requires,
)
from studio.money import plain_number
from studio.roles import Can


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def payment_new(request: StudioRequest, pk: int) -> HttpResponse:
    """Record a payment; the amount starts at what is due."""
    commission = commission_or_404(request, pk)
    now = timezone.now()
    today = day_of(request.studio, now)
    view = selectors.view_commission(commission, at=now)
    currency = view.money.currency
    if request.method != "POST":
        due = view.money.due_now
        form = PaymentForm(
            currency=currency,
            today=today,
            initial={
                "received_date": today,
                "amount": plain_number(due) if due else None,
            },
        )
        return _page(request, view, form)
    form = PaymentForm(request.POST, currency=currency, today=today)
    status = attempt(
        form,
        lambda: record_payment(
            commission=commission,
            amount=form.cleaned_data["amount"],
            received_date=form.cleaned_data["received_date"],
            method=form.cleaned_data["method"],
            note_text=form.cleaned_data["note"],
            by=request.user,
            at=now,
        ),
    )
    if status != OK:
        return _page(request, view, form, status=status)
    messages.success(request, "The payment is recorded.")
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
    """Ask why, then take a payment back; the row stays."""
    payment = get_object_or_404(selectors.payments(request.studio), pk=pk)
    form = TakeBackForm(request.POST if request.method == "POST" else None)
    status = OK
    if request.method == "POST":
        status = attempt(
            form,
            lambda: take_back_payment(
                payment=payment,
                reason=form.cleaned_data["reason"],
                by=request.user,
                at=timezone.now(),
            ),
        )
        if status == OK:
            messages.success(request, "The payment is taken back.")
            return redirect("commissions:commission_detail", payment.commission_id)
    context = {"payment": payment, "commission": payment.commission, "form": form}
    return render_page(
        request, "commissions/payment_take_back.html", context, status=status
    )
