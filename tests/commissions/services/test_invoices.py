"""Invoices: drafted from parts or lines, numbered, frozen, sent, corrected."""

import datetime as dt
from decimal import Decimal

import pytest
from django.utils import timezone

from commissions.invoicing import InvoiceProblem, LineAsked, totals
from commissions.models import (
    Invoice,
    InvoiceKind,
    NumberSeries,
)
from commissions.selectors.commissions import view_commission
from commissions.selectors.invoices import InvoiceState, nets_of, view_invoice
from commissions.selectors.parts import (
    Step,
    asked_too_much,
    commission_invoices,
    nets_of_quote,
    parts_of,
)
from commissions.services import clients, invoices
from commissions.services.business import set_business_details
from commissions.services.closing import close_commission
from commissions.services.credit_notes import make_credit_note
from commissions.services.payments import record_payment
from studio.errors import Refused
from studio.models import HistoryEntry, Job
from studio.undo import ONE_TAP
from tests.commissions import build
from tests.threads import at_once

NOW = dt.datetime(2026, 3, 4, 15, 0, tzinfo=dt.UTC)


def part(cast, quote, number=1, *, at=None) -> Invoice:
    return invoices.make_part_invoice(
        instalment=quote.instalments.get(number=number),
        by=cast.owner,
        at=at or timezone.now(),
    )


def issue(cast, invoice, *, at=None) -> Invoice:
    return invoices.issue_invoice(
        invoice=invoice, by=cast.owner, at=at or timezone.now()
    )


def send(cast, invoice, *, at=None) -> Invoice:
    return invoices.send_invoice(
        invoice=invoice, by=cast.owner, at=at or timezone.now()
    )


def asked(
    label="Framing", *, quantity=1, price="100", percent="0", **more
) -> LineAsked:
    return LineAsked(
        label=label,
        quantity=Decimal(quantity),
        unit_price=Decimal(price),
        tax_percent=Decimal(percent),
        **more,
    )


def other(cast, *lines, client=None, kind=InvoiceKind.OTHER, **more) -> Invoice:
    return invoices.make_invoice(
        client=client or build.client(cast),
        kind=kind,
        title="Framing",
        lines=lines or [asked()],
        by=cast.owner,
        at=timezone.now(),
        **more,
    )


def credit(cast, invoice, amount, reason="Wrong address") -> Invoice:
    return make_credit_note(
        invoice=invoice,
        amount=Decimal(amount),
        reason=reason,
        by=cast.owner,
        at=timezone.now(),
    )


def taxed(cast, **changes):
    return build.accepted(cast, rates={"tax_percent": Decimal("6.25")}, **changes)


def view(invoice, *, today=None):
    found = Invoice.across_studios.select_related("studio", "client").get(pk=invoice.pk)
    return view_invoice(found, today=today or build.day(0))


def parts(commission):
    money = view_commission(commission, at=timezone.now()).money
    return parts_of(money, commission_invoices(commission), today=build.day(0))


# --- Parts of a price ---


def test_the_parts_of_a_quote_are_invoiced_to_the_coin(cast):
    quote = taxed(cast)
    made = [issue(cast, part(cast, quote, number)) for number in (1, 2, 3)]
    assert [one.kind for one in made] == ["deposit", "stage", "balance"]
    assert [one.total for one in made] == [p.amount for p in quote.instalments.all()]
    assert sum(one.total for one in made) == quote.total
    assert sum(one.net for one in made) == quote.net
    for one in made:
        lines = list(one.lines.all())
        sums = totals(nets_of(lines), one.currency, rounding=one.rounding)
        assert (sums.net, sums.tax, sums.due) == (one.net, one.tax, one.total)
    assert abs(sum(one.tax for one in made) - quote.tax) <= Decimal("0.02")


def test_an_untaxed_quote_makes_an_untaxed_invoice(cast):
    quote = build.accepted(cast)
    (line,) = part(cast, quote).lines.all()
    assert (line.tax_category, line.tax_percent) == ("O", 0)
    assert line.net == quote.instalments.get(number=1).amount


def test_taxes_are_read_as_a_list(cast):
    """A quote of several rates: 600 of its net at 23 %, 100 at 6 %, the rest untaxed."""
    quote = build.accepted(cast)
    rows = [("IVA", 23, 600), ("IVA reduced", 6, 100)]
    quote.lines.filter(section="tax").delete()
    for number, (name, percent, base) in enumerate(rows, start=90):
        quote.lines.create(
            studio=cast.studio,
            number=number,
            section="tax",
            label=name,
            quantity=percent,
            unit="%",
            unit_price=base,
            amount=Decimal(percent) * base / 100,
        )
    quote.tax = 138 + 6
    quote.total = quote.net + quote.tax
    quote.save()
    found = {one.tax.words: one.net for one in nets_of_quote(quote)}
    assert found == {
        "IVA 23 %": 600,
        "IVA reduced 6 %": 100,
        "Not taxed": quote.net - 700,
    }


def test_a_draft_is_made_once_and_has_no_number(cast):
    quote = taxed(cast)
    first, again = part(cast, quote), part(cast, quote)
    assert first == again
    assert (first.number, first.paper, first.issued_date) == ("", {}, None)
    assert not NumberSeries.across_studios.exists()


def test_a_part_is_not_invoiced_twice(cast):
    quote = taxed(cast)
    issue(cast, part(cast, quote))
    with pytest.raises(Refused, match="Deposit is invoiced already"):
        part(cast, quote)


def test_an_addendum_asks_for_the_difference_only(cast):
    quote = taxed(cast)
    first = issue(cast, part(cast, quote))
    commission = quote.commission
    commission.layer_count += 4
    commission.save()
    more = build.accepted_addendum(cast, of=commission)
    difference = issue(cast, part(cast, more))
    assert difference.kind == InvoiceKind.ADDENDUM
    assert first.total + difference.total == more.instalments.get(number=1).amount
    rest = [issue(cast, part(cast, more, number)) for number in (2, 3)]
    everything = [first, difference, *rest]
    assert sum(one.total for one in everything) == more.total
    assert sum(one.net for one in everything) == more.net


def test_a_price_lowered_below_what_was_invoiced_is_told(cast):
    quote = taxed(cast)
    made = [issue(cast, part(cast, quote, number)) for number in (1, 2, 3)]
    commission = quote.commission
    assert asked_too_much_of(commission) == 0
    commission.layer_count -= 2
    commission.save()
    less = build.accepted_addendum(cast, of=commission)
    over = quote.total - less.total
    assert over > 0
    assert asked_too_much_of(commission) == over
    assert all(one.missing == 0 for one in parts(commission))
    first = min(over, made[2].total)
    for one, amount in ((made[2], first), (made[1], over - first)):
        if amount:
            issue(cast, credit(cast, one, amount))
    assert asked_too_much_of(commission) == 0


def asked_too_much_of(commission):
    money = view_commission(commission, at=timezone.now()).money
    return asked_too_much(money, commission_invoices(commission))


def test_a_part_of_a_price_that_counts_no_longer_is_refused(cast):
    quote = taxed(cast)
    old = quote.instalments.get(number=1)
    quote.commission.layer_count += 1
    quote.commission.save()
    build.accepted_addendum(cast, of=quote.commission)
    with pytest.raises(Refused, match="no longer counts"):
        invoices.make_part_invoice(instalment=old, by=None, at=timezone.now())


def test_a_draft_whose_price_changed_meanwhile_is_not_issued(cast):
    quote = taxed(cast)
    draft = part(cast, quote)
    quote.commission.layer_count += 1
    quote.commission.save()
    build.accepted_addendum(cast, of=quote.commission)
    with pytest.raises(Refused, match="no longer counts"):
        issue(cast, draft)
    assert not NumberSeries.across_studios.filter(last__gt=0).exists()


def test_a_closed_commission_gets_no_more_invoices(cast):
    quote = taxed(cast)
    close_commission(
        commission=quote.commission, reason="Withdrawn", by=None, at=timezone.now()
    )
    with pytest.raises(Refused, match="is closed: Withdrawn"):
        part(cast, quote)


def test_each_part_says_its_next_step(cast):
    quote = taxed(cast)
    assert [one.step for one in parts(quote.commission)] == [Step.MAKE] * 3
    assert [one.is_pressing for one in parts(quote.commission)] == [True, False, False]
    draft = part(cast, quote)
    assert parts(quote.commission)[0].step is Step.ISSUE
    issued = issue(cast, draft)
    assert parts(quote.commission)[0].step is Step.SEND
    send(cast, issued)
    assert parts(quote.commission)[0].step is Step.PAY
    record_payment(
        commission=quote.commission,
        invoice=issued,
        amount=issued.total,
        received_date=build.day(0),
        by=None,
        at=timezone.now(),
    )
    first = parts(quote.commission)[0]
    assert first.step is Step.DONE
    assert [one["state"] for one in first.steps] == ["done"] * 3


# --- Lines ---


def test_an_invoice_for_other_work_adds_up(cast):
    invoice = other(
        cast,
        asked("Framing", price="120.50", percent="6.25", tax_name="Sales tax"),
        asked("Delivery", quantity="2.5", price="30", unit="h"),
    )
    # 120.50 taxed: 7.53125 -> 7.53; 75.00 untaxed; 203.03 in all.
    assert (invoice.net, invoice.tax, invoice.total) == (
        Decimal("195.50"),
        Decimal("7.53"),
        Decimal("203.03"),
    )
    assert [x.tax_category for x in invoice.lines.all()] == ["S", "E"]
    assert invoice.commission is None


@pytest.mark.parametrize(
    ("status", "words"), [("exempt", "Exempt"), ("resale", "For resale")]
)
def test_who_is_exempt_is_charged_no_tax(cast, status, words):
    client = build.client(cast, tax_status=status, tax_number="X-1")
    invoice = other(cast, asked(percent="6.25"), client=client)
    assert (invoice.tax, invoice.total) == (0, 100)
    (line,) = invoice.lines.all()
    assert (line.tax_category, line.tax_name) == ("E", words)


@pytest.mark.parametrize("percent", ["100", "120", "-1"])
def test_a_tax_of_all_and_more_is_refused(cast, percent):
    with pytest.raises(InvoiceProblem, match="under 100 %"):
        other(cast, asked(percent=percent))
    assert not Invoice.across_studios.exists()


@pytest.mark.parametrize(
    ("currency", "price", "total"),
    [("JPY", "1005", "1106"), ("KWD", "10.005", "11.006")],
)
def test_currencies_without_and_with_three_decimals(cast, currency, price, total):
    # 1005 x 1.1 = 1105.5 -> tax 100.5 -> 101; 10.005: 1.0005 -> 1.001.
    cast.studio.currency = currency
    cast.studio.save()
    invoice = other(cast, asked(price=price, percent="10"))
    assert invoice.total == Decimal(total)


def test_an_invoice_of_nothing_is_refused(cast):
    with pytest.raises(Refused, match="Nothing is to be paid"):
        other(cast, asked(price="0"))
    with pytest.raises(Refused, match="from 1 to"):
        invoices.make_invoice(
            client=build.client(cast),
            kind=InvoiceKind.OTHER,
            title="x",
            lines=[],
            by=None,
            at=timezone.now(),
        )


def test_a_draft_may_be_changed_and_deleted(cast):
    draft = other(cast)
    changed = invoices.change_draft(
        invoice=draft,
        lines=[asked("Crate", price="80")],
        title="Crate",
        message="As agreed",
        by=None,
        at=timezone.now(),
    )
    assert (changed.total, changed.title, changed.message) == (80, "Crate", "As agreed")
    invoices.delete_draft(invoice=draft, by=None, at=timezone.now())
    assert not Invoice.across_studios.exists()
    with pytest.raises(Refused, match="deleted meanwhile"):
        issue(cast, draft)


# --- Issued ---


def test_issuing_freezes_number_day_words_and_orders_the_paper(cast):
    set_business_details(
        studio=cast.studio, by=None, at=NOW, days_to_pay=10, tax_number="T-9"
    )
    invoice = issue(cast, other(cast), at=NOW)
    assert (invoice.number, invoice.year, invoice.serial) == ("2026-0001", 2026, 1)
    assert invoice.issued_date == dt.date(2026, 3, 4)
    assert invoice.due_date == dt.date(2026, 3, 14)
    assert invoice.paper["studio_tax_number"] == "T-9"
    assert Job.across_studios.filter(name="commissions.render_invoice").exists()


def test_what_is_issued_stays_whatever_changes(cast):
    invoice = issue(cast, other(cast))
    invoice.refresh_from_db()
    before = dict(invoice.paper)
    clients.change_client(
        client=invoice.client,
        name="Another name",
        email="",
        phone="",
        address="",
        note="",
        by=None,
        at=timezone.now(),
    )
    set_business_details(studio=cast.studio, by=None, at=NOW, iban="", name="Renamed")
    for act in (
        lambda: invoices.change_draft(invoice=invoice, title="x", by=None, at=NOW),
        lambda: invoices.change_draft(
            invoice=invoice, lines=[asked(price="1")], by=None, at=NOW
        ),
        lambda: invoices.delete_draft(invoice=invoice, by=None, at=NOW),
    ):
        with pytest.raises(Refused, match="Correct it by a credit note"):
            act()
    invoice.refresh_from_db()
    assert invoice.paper == before
    assert (invoice.total, invoice.title) == (100, "Framing")


def test_it_is_issued_once(cast):
    draft = other(cast)
    issue(cast, draft, at=NOW)
    with pytest.raises(Refused, match="issued already, as invoice 2026-0001"):
        issue(cast, draft, at=NOW)
    assert NumberSeries.across_studios.get().last == 1


def test_each_studio_and_each_year_has_numbers_of_its_own(cast, strangers):
    first = issue(cast, other(cast), at=NOW)
    theirs = issue(strangers, other(strangers), at=NOW)
    second = issue(cast, other(cast), at=NOW)
    later = issue(cast, other(cast), at=NOW + dt.timedelta(days=365))
    assert [one.number for one in (first, theirs, second, later)] == [
        "2026-0001",
        "2026-0001",
        "2026-0002",
        "2027-0001",
    ]


def test_a_number_is_given_back_by_what_fails(cast, monkeypatch):
    first, second = other(cast), other(cast)

    def fail(_):
        raise OSError("The disk is full.")

    with monkeypatch.context() as broken:
        broken.setattr("commissions.invoice_papers.order_invoice", fail)
        with pytest.raises(OSError, match="disk"):
            issue(cast, first, at=NOW)
    assert issue(cast, second, at=NOW).number == "2026-0001"


THREADS, EACH = 8, 3


@pytest.mark.django_db(transaction=True)
def test_numbers_have_no_gaps_under_eight_threads(cast):
    drafts = [other(cast) for _ in range(THREADS * EACH)]

    def act(mine):
        return lambda: [issue(cast, one, at=NOW).number for one in mine]

    found = at_once(*(act(drafts[n::THREADS]) for n in range(THREADS)))
    assert all(isinstance(one, list) for one in found), found
    numbers = sorted(number for one in found for number in one)
    assert numbers == [f"2026-{n:04d}" for n in range(1, THREADS * EACH + 1)]


@pytest.mark.django_db(transaction=True)
def test_of_two_who_issue_the_same_draft_one_is_told(cast):
    draft = other(cast)
    found = at_once(*[lambda: issue(cast, draft, at=NOW)] * 2)
    refused = [one for one in found if isinstance(one, Refused)]
    assert len(refused) == 1
    assert "issued already" in str(refused[0])
    assert NumberSeries.across_studios.get().last == 1


@pytest.mark.django_db(transaction=True)
def test_of_two_who_invoice_the_same_part_both_get_one_draft(cast):
    quote = taxed(cast)
    first, second = at_once(*[lambda: part(cast, quote)] * 2)
    assert first == second
    assert Invoice.across_studios.count() == 1


# --- Sent ---


def test_a_draft_is_not_sent_and_sending_is_taken_back(cast):
    draft = other(cast)
    with pytest.raises(Refused, match="Issue it first"):
        send(cast, draft)
    sent = send(cast, issue(cast, draft))
    with pytest.raises(Refused, match="sent already"):
        send(cast, sent)
    late = timezone.now() + 2 * ONE_TAP
    with pytest.raises(Refused, match="Say why"):
        invoices.take_back_sent(invoice=sent, reason="", by=None, at=late)
    invoices.take_back_sent(invoice=sent, reason="Too early", by=None, at=late)
    assert view(sent).state is InvoiceState.UNSENT


def test_it_is_overdue_the_day_after_and_not_before(cast):
    invoice = send(cast, issue(cast, other(cast)))
    due = invoice.due_date
    assert view(invoice, today=due).state is InvoiceState.OPEN
    late = view(invoice, today=due + dt.timedelta(days=3))
    assert (late.state, late.state_words) == (InvoiceState.OVERDUE, "3 days overdue")


# --- Credit notes ---


def test_a_credit_note_takes_its_part_of_every_tax_off(cast):
    invoice = issue(
        cast,
        other(
            cast,
            asked("A", price="100", percent="20", tax_name="VAT"),
            asked("B", price="100", percent="5", tax_name="VAT"),
        ),
    )
    assert invoice.total == 225
    note = issue(cast, credit(cast, invoice, "45"))
    # A fifth of either: 20 + 4.00 and 20 + 1.00.
    assert [(x.net, x.tax_percent) for x in note.lines.all()] == [(20, 20), (20, 5)]
    assert (note.net, note.tax, note.total) == (40, 5, 45)
    assert (note.due_date, note.number) == (None, f"{note.year}-0002")
    assert note.paper["corrects"].startswith(f"Corrects invoice {invoice.number}")
    assert view(invoice).due == 180


def test_no_more_is_credited_than_was_invoiced(cast):
    invoice = issue(cast, other(cast))
    for amount in ("100.01", "0", "-5", "1.005"):
        with pytest.raises(Refused, match=r"\$100\.00 is left to credit"):
            credit(cast, invoice, amount)
    with pytest.raises(Refused, match="Say why"):
        credit(cast, invoice, "10", reason=" ")
    first, second = credit(cast, invoice, "60"), credit(cast, invoice, "60")
    issue(cast, first)
    with pytest.raises(Refused, match=r"Only \$40\.00"):
        issue(cast, second)
    issue(cast, credit(cast, invoice, "40"))
    assert view(invoice).state is InvoiceState.CREDITED


def test_only_an_issued_invoice_is_credited(cast):
    draft = other(cast)
    with pytest.raises(Refused, match="Only an issued invoice"):
        credit(cast, draft, "10")
    issued = issue(cast, draft)
    note = issue(cast, credit(cast, issued, "10"))
    with pytest.raises(Refused, match="Only an issued invoice"):
        credit(cast, note, "10")


def test_a_part_that_was_credited_whole_is_invoiced_again(cast):
    quote = taxed(cast)
    first = issue(cast, part(cast, quote))
    issue(cast, credit(cast, first, first.total))
    again = issue(cast, part(cast, quote))
    assert (again.kind, again.total) == (first.kind, first.total)
    rest = [issue(cast, part(cast, quote, number)) for number in (2, 3)]
    assert sum(one.net for one in [again, *rest]) == quote.net


# --- Who is told ---


def test_every_line_of_history_is_about_money(cast):
    quote = taxed(cast)
    issued = send(cast, issue(cast, part(cast, quote)))
    issue(cast, credit(cast, issued, "1"))
    send(cast, issue(cast, other(cast)))
    told = HistoryEntry.owned.for_studio(cast.studio).filter(what__icontains="invoice")
    assert told.count() >= 6
    assert not told.filter(is_about_money=False).exists()
