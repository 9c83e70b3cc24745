"""Payments of invoices: part, over and double; refunds; credit carried; receipts."""

from decimal import Decimal

import pytest
from django.utils import timezone

from commissions.models import NumberSeries, Payment, Receipt
from commissions.selectors.commissions import view_commission
from commissions.selectors.credits import credits_of
from commissions.selectors.invoices import InvoiceState
from commissions.selectors.money import Question
from commissions.selectors.statements import statements
from commissions.services import credits as credit_services
from commissions.services import payments
from commissions.services.closing import close_commission
from commissions.services.payments import PaymentQuestion
from studio.errors import Refused
from studio.models import HistoryEntry
from tests.commissions import build
from tests.commissions.services.test_invoices import (
    asked,
    credit,
    issue,
    other,
    part,
    send,
    taxed,
    view,
)
from tests.threads import at_once


def pay(cast, invoice, amount, *, at=None, **more) -> Payment:
    return payments.record_invoice_payment(
        invoice=invoice,
        amount=Decimal(amount),
        received_date=build.day(0, of=cast),
        by=cast.owner,
        at=at or timezone.now(),
        **more,
    )


def refund(cast, invoice, amount, reason="Paid too much") -> Payment:
    return credit_services.refund(
        invoice=invoice,
        amount=Decimal(amount),
        reason=reason,
        by=cast.owner,
        at=timezone.now(),
    )


def sent(cast, *lines, **more):
    return send(cast, issue(cast, other(cast, *lines, **more)))


# --- Part, over, double ---


def test_a_part_then_the_rest(cast):
    invoice = sent(cast)
    pay(cast, invoice, 40)
    assert (view(invoice).open, view(invoice).state) == (60, InvoiceState.OPEN)
    pay(cast, invoice, 60)
    assert view(invoice).state is InvoiceState.PAID


def test_more_than_is_asked_for_is_asked_about_and_becomes_a_credit(cast):
    invoice = sent(cast)
    with pytest.raises(PaymentQuestion, match=r"more than the \$100\.00") as question:
        pay(cast, invoice, 130)
    assert question.value.question is Question.CREDIT
    pay(cast, invoice, 130, confirmed={Question.CREDIT})
    found = view(invoice)
    assert (found.paid, found.open, found.left_over) == (100, 0, 30)


def test_the_same_twice_is_asked_about(cast):
    invoice, now = sent(cast), timezone.now()
    pay(cast, invoice, 50, at=now)
    with pytest.raises(PaymentQuestion, match="Did it come twice"):
        pay(cast, invoice, 50, at=now)
    pay(cast, invoice, 50, at=now, confirmed={Question.TWICE})
    assert view(invoice).open == 0


@pytest.mark.parametrize("amount", ["0", "-1", "1.001"])
def test_a_wrong_amount_is_refused(cast, amount):
    invoice = sent(cast)
    with pytest.raises(Refused):
        pay(cast, invoice, amount)
    assert not Payment.across_studios.exists()


def test_a_draft_and_a_credit_note_take_no_payment(cast):
    draft = other(cast)
    with pytest.raises(Refused, match="Issue it before"):
        pay(cast, draft, 1)
    invoice = issue(cast, draft)
    note = issue(cast, credit(cast, invoice, 10))
    with pytest.raises(Refused, match="asks for no payment"):
        pay(cast, note, 1)


def test_a_payment_to_another_clients_invoice_is_refused(cast):
    quote, theirs = taxed(cast), sent(cast, client=build.client(cast, name="Another"))
    with pytest.raises(Refused, match="is Another's, for Framing"):
        payments.record_payment(
            commission=quote.commission,
            invoice=theirs,
            amount=Decimal(1),
            received_date=build.day(0),
            by=None,
            at=timezone.now(),
        )
    assert not Payment.across_studios.exists()


def test_a_commissions_payment_counts_for_it_and_for_its_invoice(cast):
    quote = taxed(cast)
    invoice = send(cast, issue(cast, part(cast, quote)))
    pay(cast, invoice, invoice.total)
    assert view(invoice).state is InvoiceState.PAID
    money = view_commission(quote.commission, at=timezone.now()).money
    assert money.paid == invoice.total


def test_money_that_came_before_the_invoice_pays_for_it(cast):
    quote = taxed(cast)
    payments.record_payment(
        commission=quote.commission,
        amount=Decimal(10),
        received_date=build.day(0),
        by=None,
        at=timezone.now(),
    )
    invoice = send(cast, issue(cast, part(cast, quote)))
    assert view(invoice).paid == 10


def test_what_is_over_is_carried_to_the_next_of_the_commission(cast):
    quote = taxed(cast)
    first = send(cast, issue(cast, part(cast, quote)))
    pay(cast, first, first.total + 25)
    second = send(cast, issue(cast, part(cast, quote, 2)))
    assert view(second).paid == 25
    assert view(second).left_over == 0


def test_a_payment_taken_back_is_owed_again(cast):
    invoice = sent(cast)
    payment = pay(cast, invoice, 100)
    payments.take_back_payment(payment=payment, reason="", by=None, at=timezone.now())
    assert view(invoice).open == 100
    payments.put_back_payment(payment=payment, reason="", by=None, at=timezone.now())
    assert view(invoice).open == 0
    told = HistoryEntry.owned.for_studio(cast.studio).filter(what__startswith="Took")
    assert told.get().is_about_money


# --- Receipts ---


def test_each_payment_gets_a_numbered_receipt(cast):
    invoice = sent(cast)
    first, second = pay(cast, invoice, 40), pay(cast, invoice, 60)
    year = first.recorded_at.year
    assert [one.receipt_number for one in (first, second)] == [
        f"R{year}-0001",
        f"R{year}-0002",
    ]
    assert first.receipt.paper["amount"] == "$40.00"
    assert first.receipt.paper["invoice"] == f"Invoice {invoice.number}"


def test_what_is_paid_back_or_carried_gets_none(cast):
    client = build.client(cast)
    over, next_one = sent(cast, client=client), sent(cast, client=client)
    pay(cast, over, 150, confirmed={Question.CREDIT})
    credit_services.use_credit_on(
        invoice=next_one, key=f"invoice-{over.pk}", by=None, at=timezone.now()
    )
    assert Receipt.across_studios.count() == 1


@pytest.mark.django_db(transaction=True)
def test_receipts_have_no_gaps_under_eight_threads(cast):
    bills = [sent(cast) for _ in range(8)]
    found = at_once(
        *(lambda one=one: pay(cast, one, 100).receipt_number for one in bills)
    )
    year = timezone.now().year
    assert sorted(map(str, found)) == [f"R{year}-{n:04d}" for n in range(1, 9)]
    assert NumberSeries.across_studios.get(name="receipt").last == 8


# --- Refunds ---


def test_only_what_is_over_is_paid_back(cast):
    invoice = sent(cast)
    pay(cast, invoice, 130, confirmed={Question.CREDIT})
    for amount in ("30.01", "500"):
        with pytest.raises(Refused, match=r"\$30\.00 was paid beyond"):
            refund(cast, invoice, amount)
    with pytest.raises(Refused, match="Say why"):
        refund(cast, invoice, 30, reason=" ")
    refund(cast, invoice, 30)
    assert view(invoice).left_over == 0
    with pytest.raises(Refused, match=r"\$0\.00 was paid beyond"):
        refund(cast, invoice, 1)


def test_after_a_credit_note_it_is_paid_back(cast):
    quote = taxed(cast)
    invoice = send(cast, issue(cast, part(cast, quote)))
    pay(cast, invoice, invoice.total)
    issue(cast, credit(cast, invoice, invoice.total))
    assert view(invoice).left_over == invoice.total
    refund(cast, invoice, invoice.total)
    assert view(invoice).left_over == 0
    assert view_commission(quote.commission, at=timezone.now()).money.paid == 0


@pytest.mark.django_db(transaction=True)
def test_of_two_refunds_at_once_one_is_refused(cast):
    invoice = sent(cast)
    pay(cast, invoice, 130, confirmed={Question.CREDIT})
    found = at_once(*[lambda: refund(cast, invoice, 30)] * 2)
    assert sum(isinstance(one, Refused) for one in found) == 1


# --- Credit for other work ---


def test_a_credit_is_used_for_another_invoice_of_the_client(cast):
    client = build.client(cast)
    over = sent(cast, client=client)
    pay(cast, over, 130, confirmed={Question.CREDIT})
    bill = sent(cast, asked(price="20"), client=client)
    (found,) = credits_of(client, currency="USD", at=timezone.now())
    payment = credit_services.use_credit_on(
        invoice=bill, key=found.key, by=None, at=timezone.now()
    )
    assert payment.amount == 20
    assert view(bill).state is InvoiceState.PAID
    assert view(over).left_over == 10
    payments.take_back_payment(payment=payment, reason="", by=None, at=timezone.now())
    assert (view(bill).open, view(over).left_over) == (20, 30)


def test_a_credit_of_a_closed_commission_is_used(cast):
    quote = taxed(cast)
    payments.record_payment(
        commission=quote.commission,
        amount=Decimal(50),
        received_date=build.day(0),
        by=None,
        at=timezone.now(),
    )
    close_commission(
        commission=quote.commission,
        reason="Withdrawn",
        money="credited",
        money_reason="Agreed",
        by=None,
        at=timezone.now(),
    )
    bill = sent(cast, client=quote.commission.client)
    (found,) = credits_of(bill.client, currency="USD", at=timezone.now())
    credit_services.use_credit_on(
        invoice=bill, key=found.key, by=None, at=timezone.now()
    )
    assert view(bill).open == 50
    assert credits_of(bill.client, currency="USD", at=timezone.now()) == []


def test_nobody_uses_another_clients_credit(cast):
    over = sent(cast, client=build.client(cast, name="Another"))
    pay(cast, over, 130, confirmed={Question.CREDIT})
    bill = sent(cast)
    with pytest.raises(Refused, match="used up"):
        credit_services.use_credit_on(
            invoice=bill, key=f"invoice-{over.pk}", by=None, at=timezone.now()
        )


# --- Statements ---


def test_a_statement_adds_up(cast):
    client = build.client(cast)
    first = sent(cast, client=client)
    pay(cast, first, 130, confirmed={Question.CREDIT})
    second = sent(cast, asked(price="50"), client=client)
    issue(cast, credit(cast, second, 5))
    credit_services.use_credit_on(
        invoice=second, key=f"invoice-{first.pk}", by=None, at=timezone.now()
    )
    (one,) = statements(client, today=build.day(0))
    # 100 + 50 - 5 invoiced, 130 paid; what was carried moved no money.
    assert one.balance == 15
    assert len(one.lines) == 4
    assert one.lines[-1].balance == sum(line.amount for line in one.lines)


def test_another_clients_money_is_on_no_statement(cast):
    sent(cast, client=build.client(cast, name="Another"))
    other(cast, client=(client := build.client(cast)))  # a draft
    assert statements(client, today=build.day(0)) == []


def test_a_statement_names_what_is_open_and_what_is_not_used(cast):
    client = build.client(cast)
    over, late, soon = (sent(cast, client=client) for _ in range(3))
    pay(cast, over, 130, confirmed={Question.CREDIT})
    pay(cast, late, 40)
    (one,) = statements(client, today=build.day(400))
    assert [view.invoice for view in one.open] == [late, soon]
    assert [view.open for view in one.open] == [60, 100]
    assert all(view.days_overdue for view in one.open)
    assert (one.balance, one.unused) == (130, 30)


def test_what_a_gallery_pays_for_a_commission_is_on_its_own_statement(cast):
    gallery = build.client(cast, name="Long Quay")
    commission = build.commission(cast, gallery=gallery, gallery_sells=True)
    build.accepted(cast, of=commission)
    payments.record_payment(
        commission=commission,
        amount=Decimal(20),
        received_date=build.day(0),
        by=cast.owner,
        at=timezone.now(),
    )
    today = build.day(0)
    assert [one.balance for one in statements(gallery, today=today)] == [-20]
    assert statements(commission.client, today=today) == []
