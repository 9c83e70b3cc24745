"""Records that a client was reminded of an invoice, however that was."""

from datetime import date, datetime

from django.db import transaction
from django.utils.text import capfirst

from commissions.models import Invoice, Reminder
from commissions.selectors.quotes import day_of
from commissions.services.invoices import hold_invoice, tell_of
from studio.errors import Refused
from studio.models import Person
from studio.services.locks import held
from studio.undo import because, checked_reason


@transaction.atomic
def record_reminder(
    *,
    invoice: Invoice,
    sent_date: date,
    sent_to: str,
    text: str,
    by: Person | None,
    at: datetime,
) -> Reminder:
    """Record a reminder that went out; pressed twice, it is recorded once.

    Raises
    ------
    Refused
        When nobody can have been reminded: of a draft or a credit note, before the
        invoice was issued, or on a day to come.
    """
    current = hold_invoice(invoice)
    if current.issued_date is None or current.is_credit:
        raise Refused("Only an issued invoice can be reminded of.")
    if sent_date < current.issued_date:
        raise Refused(
            f"{capfirst(current.name)} was issued on "
            f"{current.issued_date:%-d %b %Y}, after this day."
        )
    if sent_date > day_of(current.studio, at):
        raise Refused("This day is still to come. Record the reminder once it is sent.")
    facts = {"sent_date": sent_date, "sent_to": sent_to.strip(), "text": text.strip()}
    same: Reminder | None = (
        Reminder.owned.for_studio(current.studio)
        .filter(invoice=current, taken_back_at=None, **facts)
        .first()
    )
    if same is not None:
        return same
    made: Reminder = Reminder.across_studios.create(
        studio=current.studio, invoice=current, recorded_at=at, recorded_by=by, **facts
    )
    what = f"Reminded {current.client} of {current.name} {_when_and_where(made)}"
    tell_of(current, by=by, at=at, what=what)
    return made


def _when_and_where(reminder: Reminder) -> str:
    return f"on {reminder.sent_date:%-d %b %Y}, to {reminder.sent_to}"


@transaction.atomic
def take_back_reminder(
    *, reminder: Reminder, reason: str, by: Person | None, at: datetime
) -> None:
    """Take back a reminder that was recorded wrongly; the row stays.

    Raises
    ------
    Refused
        When it is taken back already, or it is late and no reason is given.
    """
    invoice = hold_invoice(reminder.invoice)
    current = held(Reminder.across_studios).get(pk=reminder.pk)
    if current.taken_back_at is not None:
        raise Refused("This reminder is taken back already.")
    why = checked_reason(reason, recorded_at=current.recorded_at, now=at)
    current.taken_back_at, current.taken_back_reason = at, why
    current.save(update_fields=["taken_back_at", "taken_back_reason"])
    told = f"Took back the reminder of {invoice.name} {_when_and_where(current)}"
    tell_of(invoice, by=by, at=at, what=told + because(why))


@transaction.atomic
def put_back_reminder(
    *, reminder: Reminder, reason: str, by: Person | None, at: datetime
) -> None:
    """Let a reminder count again that was taken back by mistake.

    Raises
    ------
    Refused
        When it counts already, or it is late and no reason is given.
    """
    invoice = hold_invoice(reminder.invoice)
    current = held(Reminder.across_studios).get(pk=reminder.pk)
    if current.taken_back_at is None:
        raise Refused("This reminder counts already.")
    why = checked_reason(reason, recorded_at=current.taken_back_at, now=at)
    current.taken_back_at, current.taken_back_reason = None, ""
    current.save(update_fields=["taken_back_at", "taken_back_reason"])
    told = f"The reminder of {invoice.name} {_when_and_where(current)} counts again"
    tell_of(invoice, by=by, at=at, what=told + because(why))
