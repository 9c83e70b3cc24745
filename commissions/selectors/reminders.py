"""Reminders of invoices that were sent, and how lists say so."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from django.db.models import Count, Max

from commissions.models import Reminder
from commissions.selectors.invoices import InvoiceView
from studio.models import Studio
from studio.tenancy import StudioQuerySet
from studio.viewer import count_words


def reminders(studio: Studio) -> StudioQuerySet[Reminder]:
    """Return the studio's reminders, the last sent first."""
    return (
        Reminder.owned.for_studio(studio)
        .select_related(
            "studio", "recorded_by", "invoice__client", "invoice__commission"
        )
        .order_by("-sent_date", "-pk")
    )


def with_reminders(views: Sequence[InvoiceView]) -> list[InvoiceView]:
    """Return invoices with words on when their client was last reminded, in one query."""
    if not views:
        return []
    found = (
        Reminder.owned.for_studio(views[0].invoice.studio)
        .filter(
            invoice__in=[one.invoice.pk for one in views], taken_back_at__isnull=True
        )
        .order_by()
        .values_list("invoice")
        .annotate(count=Count("pk"), last=Max("sent_date"))
    )
    sent = {invoice: (count, last) for invoice, count, last in found}
    return [
        replace(one, reminded=_words(*sent[one.invoice.pk], today=one.today))
        if one.invoice.pk in sent
        else one
        for one in views
    ]


def _words(count: int, last: date, *, today: date) -> str:
    day = f"{last:%-d %b}" if last.year == today.year else f"{last:%-d %b %Y}"
    if count == 1:
        return f"Reminded {day}"
    return f"Reminded {count_words(count, 'time')}, last on {day}"
