"""Recording that a reminder of an invoice went out, and putting that right."""

from typing import TYPE_CHECKING

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from commissions.forms.reminder import ReminderForm
from commissions.selectors.invoices import view_invoice
from commissions.selectors.quotes import day_of
from commissions.selectors.reminders import reminders
from commissions.services.reminders import (
    put_back_reminder,
    record_reminder,
    take_back_reminder,
)
from commissions.views.found import invoice_or_404
from commissions.views.invoices import back_to, letter_of, share_url_of
from studio.answers import FormPage, answer_form, answer_undo
from studio.http import StudioRequest, posted, requires
from studio.roles import Can

if TYPE_CHECKING:
    from commissions.models import Reminder


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def invoice_remind(request: StudioRequest, pk: int) -> HttpResponse:
    """Record a reminder that was sent; it starts with the words offered for it."""
    invoice = invoice_or_404(request, pk)
    now = timezone.now()
    today = day_of(request.studio, now)
    initial = {"sent_date": today, "sent_to": invoice.client.email}
    if not invoice.is_draft and not invoice.is_credit:
        view = view_invoice(invoice, today=today)
        letter = letter_of(view, share_url_of(request, invoice, at=now))
        initial["text"] = letter["letter"]
    form = ReminderForm(posted(request), today=today, initial=initial)
    page = FormPage(
        title="Record a reminder",
        submit="Record the reminder",
        intro=f"For {invoice.client}, {invoice.title}.",
        **back_to(invoice),
    )
    made: list[Reminder] = []
    return answer_form(
        request,
        page,
        form,
        lambda: made.append(
            record_reminder(
                invoice=invoice, **form.cleaned_data, by=request.user, at=now
            )
        ),
        told="The reminder is recorded.",
        undo_url=lambda: reverse("commissions:reminder_take_back", args=[made[0].pk]),
    )


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def reminder_take_back(request: StudioRequest, pk: int) -> HttpResponse:
    """Take a reminder back that was not sent so; the row stays, struck out."""
    reminder = get_object_or_404(reminders(request.studio), pk=pk)
    now = timezone.now()
    page = FormPage(
        title="Take back a reminder",
        submit="Take it back",
        is_danger=True,
        intro=f"{_words(reminder)}. It stays in the list, struck out, and no longer "
        "counts.",
        **back_to(reminder.invoice),
    )
    return answer_undo(
        request,
        page,
        lambda reason: take_back_reminder(
            reminder=reminder, reason=reason, by=request.user, at=now
        ),
        recorded_at=reminder.recorded_at,
        now=now,
        told="The reminder is taken back.",
        undo_url=reverse("commissions:reminder_put_back", args=[pk]),
    )


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def reminder_put_back(request: StudioRequest, pk: int) -> HttpResponse:
    """Let a reminder count again that was taken back by mistake."""
    reminder = get_object_or_404(reminders(request.studio), pk=pk)
    now = timezone.now()
    page = FormPage(
        title="Put a reminder back",
        submit="Put it back",
        intro=f"{_words(reminder)}. It counts again.",
        **back_to(reminder.invoice),
    )
    return answer_undo(
        request,
        page,
        lambda reason: put_back_reminder(
            reminder=reminder, reason=reason, by=request.user, at=now
        ),
        recorded_at=reminder.taken_back_at or now,
        now=now,
        told="The reminder counts again.",
        undo_url=reverse("commissions:reminder_take_back", args=[pk]),
    )


def _words(reminder: "Reminder") -> str:
    return f"Sent on {reminder.sent_date:%-d %b %Y} to {reminder.sent_to}"
