"""Reminders that went out: recorded, shown, refused where none can be, and put right."""

import datetime as dt

import pytest
from django.utils import timezone

from commissions.models import Reminder
from commissions.selectors.reminders import reminders, with_reminders
from commissions.services.reminders import (
    put_back_reminder,
    record_reminder,
    take_back_reminder,
)
from studio.errors import Refused
from studio.models import HistoryEntry
from studio.undo import ONE_TAP
from tests.commissions import build
from tests.commissions.services.test_invoice_money import sent
from tests.commissions.services.test_invoices import (
    credit,
    issue,
    other,
    part,
    send,
    taxed,
    view,
)

TEXT = "Perhaps it was overlooked."


def remind(cast, invoice, *, day=0, at=None, to="quay@example.org", text=TEXT):
    return record_reminder(
        invoice=invoice,
        sent_date=build.day(day),
        sent_to=to,
        text=text,
        by=cast.owner,
        at=at or timezone.now(),
    )


def long_ago(cast, **more):
    then = timezone.now() - dt.timedelta(days=40)
    return send(cast, issue(cast, other(cast, **more), at=then), at=then)


def words(invoice):
    return with_reminders([view(invoice)])[0].reminded


def history():
    return list(
        HistoryEntry.across_studios.order_by("-pk").values_list("what", flat=True)
    )


def test_who_was_reminded_when_where_and_how_is_kept(cast):
    invoice = long_ago(cast)
    made = remind(cast, invoice, day=-3)
    kept = reminders(cast.studio).get()
    assert kept == made
    assert (kept.invoice, kept.sent_date) == (invoice, build.day(-3))
    assert (kept.sent_to, kept.text) == ("quay@example.org", TEXT)
    assert kept.recorded_by == cast.owner
    told = history()[0]
    assert told.startswith(f"Reminded {invoice.client} of {invoice.name} on ")
    assert told.endswith("to quay@example.org")


def test_the_history_is_the_commissions_or_the_clients_and_about_money(cast):
    of_commission = send(cast, issue(cast, part(cast, taxed(cast))))
    alone = sent(cast)
    for invoice, subject in (
        (of_commission, f"commission {of_commission.commission_id}"),
        (alone, f"client {alone.client_id}"),
    ):
        remind(cast, invoice)
        entry = HistoryEntry.across_studios.order_by("pk").last()
        assert (entry.subject, entry.is_about_money) == (subject, True)


def test_the_list_says_when_the_last_went_out(cast):
    invoice, untold = long_ago(cast), long_ago(cast)
    remind(cast, invoice, day=-9)
    first, last = build.day(-9), build.day(-2)
    assert words(invoice).startswith(f"Reminded {first:%-d %b}")
    remind(cast, invoice, day=-2, text="A second time.")
    assert words(invoice).startswith(f"Reminded 2 times, last on {last:%-d %b}")
    assert words(untold) == ""
    assert with_reminders([]) == []


def test_a_day_of_another_year_has_its_year(cast):
    remind(cast, invoice := sent(cast))
    views = [view(invoice, today=build.day(400))]
    assert with_reminders(views)[0].reminded.endswith(f"{build.day(0):%-d %b %Y}")


def test_pressed_twice_it_is_recorded_once(cast):
    invoice = sent(cast)
    assert remind(cast, invoice) == remind(cast, invoice, to=" quay@example.org ")
    remind(cast, invoice, to="by post")
    assert Reminder.across_studios.count() == 2


def test_nobody_is_reminded_of_a_draft_or_a_credit_note(cast):
    invoice = sent(cast)
    for one in (other(cast), issue(cast, credit(cast, invoice, 5))):
        with pytest.raises(Refused, match="Only an issued invoice"):
            remind(cast, one)


@pytest.mark.parametrize(("day", "why"), [(-3, "was issued on"), (3, "still to come")])
def test_a_day_on_which_none_can_have_gone_out_is_refused(cast, day, why):
    with pytest.raises(Refused, match=why):
        remind(cast, sent(cast), day=day)
    assert not Reminder.across_studios.exists()


def test_a_slip_is_taken_back_and_put_back(cast):
    invoice = sent(cast)
    made = remind(cast, invoice)
    now = timezone.now()
    take_back_reminder(reminder=made, reason="", by=cast.owner, at=now)
    assert words(invoice) == ""
    with pytest.raises(Refused, match="taken back already"):
        take_back_reminder(reminder=made, reason="", by=cast.owner, at=now)
    put_back_reminder(reminder=made, reason="", by=cast.owner, at=now)
    assert words(invoice)
    with pytest.raises(Refused, match="counts already"):
        put_back_reminder(reminder=made, reason="", by=cast.owner, at=now)
    again, back, _ = history()[:3]
    assert back.startswith("Took back the reminder")
    assert again.endswith("counts again")


def test_later_a_slip_needs_a_reason(cast):
    # Yesterday: an hour ago may have been another day.
    at = timezone.now() - 2 * ONE_TAP
    made = remind(cast, long_ago(cast), day=-1, at=at)
    now = timezone.now()
    with pytest.raises(Refused, match="Say why"):
        take_back_reminder(reminder=made, reason=" ", by=cast.owner, at=now)
    take_back_reminder(reminder=made, reason="Only written", by=cast.owner, at=now)
    made.refresh_from_db()
    assert made.taken_back_reason == "Only written"
    assert history()[0].endswith(": Only written")


def test_what_is_taken_back_may_be_recorded_again(cast):
    invoice = sent(cast)
    made = remind(cast, invoice)
    take_back_reminder(reminder=made, reason="", by=cast.owner, at=timezone.now())
    assert remind(cast, invoice).pk != made.pk
