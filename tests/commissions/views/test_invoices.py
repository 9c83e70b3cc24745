"""Pages of invoices: from a part of the price to a receipt, and everything refused."""

import csv
import datetime as dt
import io
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from commissions.models import BusinessDetails, Invoice, Payment, Reminder
from commissions.services.business import set_business_details
from commissions.services.payments import pay_back
from studio.models import HistoryEntry
from tests.commissions import build
from tests.commissions.services.test_invoice_money import pay, sent
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


def url(name, *args):
    return reverse(f"commissions:{name}", args=args)


def text(response):
    return response.content.decode()


def form(**changes):
    return {
        "kind": "other",
        "title": "Framing",
        "tax_name": "Sales tax",
        "message": "",
        "rows": "3",
        "line0-label": "Frame",
        "line0-quantity": "2",
        "line0-unit": "",
        "line0-unit_price": "45.50",
        "line0-tax_percent": "6.25",
        **{
            f"line{n}-{name}": value
            for n in (1, 2)
            for name, value in (
                ("label", ""),
                ("quantity", "1"),
                ("unit", ""),
                ("unit_price", ""),
                ("tax_percent", "0"),
            )
        },
    } | changes


def test_from_the_deposit_to_its_receipt(cast, signed_in):
    quote = taxed(cast)
    browser, detail = signed_in("maker"), url("commission_detail", quote.commission_id)
    assert "Invoice the deposit" in text(browser.get(detail))
    deposit = quote.instalments.get(number=1)
    browser.post(url("instalment_invoice", deposit.pk))
    invoice = Invoice.across_studios.get()
    page = text(browser.get(url("invoice_detail", invoice.pk)))
    assert "Issue and send" in page
    assert "Sales tax 6.25 %" in page
    browser.post(url("invoice_issue", invoice.pk), {"send": "1"})
    invoice.refresh_from_db()
    assert invoice.number
    assert invoice.sent_at is not None
    assert "Record the deposit" in text(browser.get(detail))
    pay_url = url("invoice_pay", invoice.pk)
    start = browser.get(pay_url).context["form"]["amount"].value()
    assert Decimal(start) == deposit.amount
    body = {
        "amount": start,
        "received_date": build.day(0).isoformat(),
        "method": "Cash",
    }
    answer = browser.post(pay_url, body, follow=True)
    receipt = Payment.across_studios.get().receipt
    assert f"with receipt {receipt.number}" in text(answer)
    assert f"Receipt {receipt.number}" in text(answer)
    assert "Paid" in text(browser.get(detail))


def test_what_is_issued_only_is_not_sent(cast, signed_in):
    invoice = part(cast, taxed(cast))
    browser = signed_in()
    browser.post(url("invoice_issue", invoice.pk))
    invoice.refresh_from_db()
    assert invoice.number
    assert invoice.sent_at is None
    browser.post(url("invoice_send", invoice.pk))
    browser.post(url("invoice_unsend", invoice.pk), {"reason": ""})
    invoice.refresh_from_db()
    assert invoice.sent_at is None


def test_an_invoice_for_other_work_is_drafted_changed_and_deleted(cast, signed_in):
    client, browser = build.client(cast), signed_in()
    address = url("client_invoice_new", client.pk)
    assert browser.get(address).status_code == 200
    browser.post(address, form())
    invoice = Invoice.across_studios.get()
    assert (invoice.total, invoice.kind) == (Decimal("96.69"), "other")
    edit = url("invoice_edit", invoice.pk)
    shown = browser.get(edit).context["form"]
    assert [row["label"].value() for row in shown.rows] == ["Frame", None, None]
    same = form(title="Framing twice")
    assert browser.post(edit, same).status_code == 302
    invoice.refresh_from_db()
    assert (invoice.title, invoice.total) == ("Framing twice", Decimal("96.69"))
    browser.post(url("invoice_delete", invoice.pk))
    assert not Invoice.across_studios.exists()


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        (
            {"line0-tax_percent": "100"},
            "Line 1, Tax in %: Write a tax from 0 to 99.99 %",
        ),
        ({"line0-tax_percent": "250"}, "0 to 99.99 %"),
        ({"line0-tax_percent": "-1"}, "0 to 99.99 %"),
        ({"line0-quantity": "0"}, "above zero"),
        ({"line0-unit_price": "1.005"}, "Line 1, Each: Write at most 2 decimals"),
        ({"line0-unit_price": "nan"}, "Each: Write an amount, such as 1250.50"),
        ({"line0-unit_price": ""}, "Line 1, Each: Fill this in"),
        ({"line0-unit_price": "0"}, "Nothing is to be paid"),
        ({"line0-label": "", "line0-unit_price": ""}, "at least one line"),
        ({"title": ""}, "required"),
        ({"kind": "deposit"}, "Select a valid choice"),
        ({"rows": "99999999"}, "Line 1, What: Fill this in"),
        ({"rows": "x", "line0-label": ""}, "Line 1, What: Fill this in"),
    ],
)
def test_a_wrong_invoice_is_named_and_kept(cast, signed_in, wrong, words):
    client = build.client(cast)
    body = form(message="Kept words", **wrong)
    if wrong.get("rows") == "99999999":
        body["line0-label"] = ""
    answer = signed_in().post(url("client_invoice_new", client.pk), body)
    assert answer.status_code in {409, 422}
    assert words in text(answer)
    assert "Kept words" in text(answer)
    assert not Invoice.across_studios.exists()


@pytest.mark.parametrize(
    ("currency", "price", "told"),
    [("JPY", "10.5", "JPY has no decimals"), ("KWD", "1.0005", "at most 3 decimals")],
)
def test_a_price_has_the_currencys_decimals(cast, signed_in, currency, price, told):
    cast.studio.currency = currency
    cast.studio.save()
    client = build.client(cast)
    wrong = form(**{"line0-unit_price": price})
    answer = signed_in().post(url("client_invoice_new", client.pk), wrong)
    assert answer.status_code == 422
    assert told in text(answer)


def test_what_is_issued_is_not_edited(cast, signed_in):
    invoice = sent(cast)
    browser = signed_in()
    for answer in (
        browser.get(url("invoice_edit", invoice.pk), follow=True),
        browser.post(url("invoice_edit", invoice.pk), form(title="x"), follow=True),
        browser.post(url("invoice_delete", invoice.pk), follow=True),
    ):
        assert "Correct it by a credit note" in text(answer)
    invoice.refresh_from_db()
    assert invoice.title == "Framing"


def test_issuing_twice_is_told(cast, signed_in):
    invoice = issue(cast, other(cast))
    answer = signed_in().post(url("invoice_issue", invoice.pk), follow=True)
    assert f"issued already, as invoice {invoice.number}" in text(answer)


def test_too_much_is_asked_about_once_and_refunded(cast, signed_in):
    invoice, browser = sent(cast), signed_in()
    address = url("invoice_pay", invoice.pk)
    body = {"amount": "130", "received_date": build.day(0).isoformat()}
    asked_first = browser.post(address, body)
    assert asked_first.status_code == 409
    assert "the rest is a credit" in text(asked_first)
    browser.post(address, body | {"is_credit": "on"})
    assert "$30.00 is the client’s credit" in text(
        browser.get(url("invoice_detail", invoice.pk))
    )
    back = url("invoice_refund", invoice.pk)
    too_much = browser.post(back, {"amount": "31", "reason": "Paid too much"})
    assert too_much.status_code == 409
    assert "$30.00 was paid beyond" in text(too_much)
    assert "Paid too much" in text(too_much)
    browser.post(back, {"amount": "30", "reason": "Paid too much"})
    assert view(invoice).left_over == 0


def test_a_credit_is_carried_to_the_next(cast, signed_in):
    client = build.client(cast)
    over, bill = sent(cast, client=client), sent(cast, client=client)
    pay(cast, over, 130, confirmed={"is_credit"})
    browser = signed_in()
    assert "has a credit of $30.00" in text(browser.get(url("invoice_detail", bill.pk)))
    browser.post(url("invoice_use_credit", bill.pk), {"credit": f"invoice-{over.pk}"})
    assert view(bill).open == 70
    again = browser.post(
        url("invoice_use_credit", bill.pk), {"credit": "x"}, follow=True
    )
    assert "used up" in text(again)


def test_a_credit_note_is_drafted_and_says_why(cast, signed_in):
    invoice, browser = sent(cast), signed_in()
    address = url("invoice_credit", invoice.pk)
    for wrong, words in (
        ({"amount": "100.01", "reason": "Damaged"}, "$100.00 is left to credit"),
        ({"amount": "10", "reason": ""}, "Say why"),
    ):
        answer = browser.post(address, wrong)
        assert answer.status_code in {409, 422}
        assert words in text(answer)
    browser.post(address, {"amount": "10", "reason": "Damaged corner"})
    note = Invoice.across_studios.get(kind="credit")
    page = text(browser.get(url("invoice_detail", note.pk)))
    assert "Damaged corner" in page
    assert f"Corrects invoice {invoice.number}" in page
    # Its amounts follow from the invoice: only its words may be changed.
    browser.post(url("invoice_edit", note.pk), {"title": "Framing", "message": "Bent"})
    note.refresh_from_db()
    assert (note.message, note.total) == ("Bent", 10)


def test_a_payment_of_a_commission_names_its_invoice(cast, signed_in):
    quote = taxed(cast)
    invoice = send(cast, issue(cast, part(cast, quote)))
    browser, address = signed_in(), url("payment_new", quote.commission_id)
    assert invoice.number in text(browser.get(address))
    body = {"amount": "10", "received_date": build.day(0).isoformat()}
    theirs = sent(cast, client=build.client(cast, name="Another"))
    wrong = browser.post(address, body | {"invoice": theirs.pk})
    assert wrong.status_code == 422
    assert "Choose an open invoice of this commission" in text(wrong)
    browser.post(address, body | {"invoice": invoice.pk})
    assert Payment.across_studios.get().invoice == invoice


# --- Overdue, lists, statement ---


def test_what_is_overdue_stands_first_with_its_reminder(cast, signed_in):
    early = sent(cast, asked("Early"))
    long_ago = timezone.now() - dt.timedelta(days=30)
    late = send(cast, issue(cast, other(cast, asked("Late")), at=long_ago))
    browser = signed_in()
    page = browser.get(url("money_list"))
    assert [one.invoice.pk for one in page.context["rows"]] == [late.pk, early.pk]
    assert "days overdue" in text(page)
    shown = text(browser.get(url("invoice_detail", late.pk)))
    assert "is still unpaid. Please pay it in the next few days" in shown
    assert "Reminder%3A%20Invoice" in shown
    assert "still unpaid" not in text(browser.get(url("invoice_detail", early.pk)))


def test_a_letter_that_reminds_of_an_invoice_is_recorded_as_its_reminder(
    cast, signed_in
):
    long_ago = timezone.now() - dt.timedelta(days=30)
    early = sent(cast, asked("Early"))
    late = send(cast, issue(cast, other(cast, asked("Late")), at=long_ago), at=long_ago)
    letter = {"to": "quay@example.org", "subject": "Late", "text": "Please pay soon."}
    browser = signed_in()
    for invoice in (early, late):
        for _ in range(2):
            browser.post(url("invoice_letter", invoice.pk), letter)
    made = Reminder.owned.for_studio(cast.studio).get()
    assert (made.invoice, made.sent_to) == (late, "quay@example.org")
    assert (made.sent_date, made.text) == (build.day(0), "Please pay soon.")


def test_a_reminder_that_went_out_is_noted_and_seen_where_it_matters(cast, signed_in):
    long_ago = timezone.now() - dt.timedelta(days=30)
    client = build.client(cast, email="quay@example.org")
    late = other(cast, asked("Late"), client=client)
    late = send(cast, issue(cast, late, at=long_ago), at=long_ago)
    browser, detail = signed_in("maker"), url("invoice_detail", late.pk)
    address = url("invoice_remind", late.pk)
    assert address in text(browser.get(detail))
    start = browser.get(address).context["form"].initial
    assert start["sent_to"] == "quay@example.org"
    assert "$100.00 is still unpaid" in start["text"]
    # As it was really sent: changed in the mail program, or by post.
    body = {
        "sent_date": build.day(0).isoformat(),
        "sent_to": "By post",
        "text": "Please pay <soon>.",
    }
    told = browser.post(address, body, follow=True)
    assert "The reminder is recorded." in text(told)
    said = f"Reminded {build.day(0):%-d %b}"
    for page in (
        detail,
        url("money_list"),
        url("client_detail", client.pk),
        reverse("studio:today"),
    ):
        assert said in text(browser.get(page)), page
    shown = text(browser.get(detail))
    assert "By post, recorded by" in shown
    assert "Please pay &lt;soon&gt;." in shown
    assert "Reminded" in text(browser.get(reverse("studio:history")))
    reminder = late.reminders.get()
    browser.post(url("reminder_take_back", reminder.pk), {"reason": ""})
    assert said not in text(browser.get(url("money_list")))
    assert "Put it back" in text(browser.get(detail))
    browser.post(url("reminder_put_back", reminder.pk), {"reason": ""})
    assert said in text(browser.get(url("money_list")))
    pay(cast, late, 100)
    assert said not in text(browser.get(url("money_list"), {"show": "all"}))
    assert "Reminders sent" in text(browser.get(detail))


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"sent_date": "2199-01-01"}, "still to come"),
        ({"sent_date": "2020-01-01"}, "was issued on"),
        ({"sent_to": ""}, "required"),
        ({"text": ""}, "required"),
    ],
)
def test_a_wrong_reminder_is_named_and_kept(cast, signed_in, wrong, words):
    invoice = sent(cast)
    body = {
        "sent_date": build.day(0).isoformat(),
        "sent_to": "Kept address",
        "text": "Kept words",
    } | wrong
    answer = signed_in().post(url("invoice_remind", invoice.pk), body)
    assert answer.status_code in {409, 422}
    assert words in text(answer)
    assert "Kept" in text(answer)
    assert not invoice.reminders.exists()


def rows_of(answer):
    lines = answer.content.decode("utf-8-sig").splitlines()
    return list(csv.DictReader(io.StringIO("\n".join(lines))))


def test_the_bookkeepers_lists_of_a_period(cast, signed_in):
    client = build.client(cast, name="=SUM(1)", tax_number="T 1")
    invoice = sent(
        cast,
        asked("A", price="100", percent="20", tax_name="VAT"),
        asked("B", price="100", percent="5", tax_name="VAT"),
        client=client,
    )
    issue(cast, credit(cast, invoice, "45"))
    other(cast)  # a draft is in no list
    pay(cast, invoice, 60)
    period = {"start": build.day(-1).isoformat(), "end": build.day(1).isoformat()}
    browser = signed_in()
    answer = browser.get(url("money_csv"), period | {"what": "invoices"})
    assert answer["Content-Type"] == "text/csv; charset=utf-8"
    rows = rows_of(answer)
    assert [(x["Rate in %"], x["Before tax"], x["Tax amount"]) for x in rows] == [
        ("20", "100.00", "20.00"),
        ("5", "100.00", "5.00"),
        ("20", "-20.00", "-4.00"),
        ("5", "-20.00", "-1.00"),
    ]
    assert sum(Decimal(x["Total"]) for x in rows) == 180
    assert rows[0]["Client"] == "'=SUM(1)"
    paid = rows_of(browser.get(url("money_csv"), period | {"what": "payments"}))
    assert [(x["Amount"], x["Invoice"]) for x in paid] == [("60.00", invoice.number)]
    before = {"start": "2020-01-01", "end": "2020-12-31", "what": "invoices"}
    assert rows_of(browser.get(url("money_csv"), before)) == []


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"start": "2026-05-02", "end": "2026-05-01"}, "before the first day"),
        ({"start": "soon", "end": "2026-05-01"}, "Write a day"),
        ({"what": "everything"}, "Select a valid choice"),
    ],
)
def test_a_wrong_period_is_named(cast, signed_in, wrong, words):
    body = {"start": "2026-05-01", "end": "2026-05-31", "what": "invoices"} | wrong
    answer = signed_in().get(url("money_csv"), body)
    assert answer.status_code == 422
    assert words in text(answer)


def test_a_statement_shows_the_balance(cast, signed_in):
    client = build.client(cast)
    invoice = sent(cast, client=client)
    pay(cast, invoice, 40)
    page = text(signed_in().get(url("client_statement", client.pk)))
    assert "<strong>$60.00</strong>" in page
    assert "to pay</span>" in page
    assert invoice.number in page
    pay(cast, invoice, 60)
    page = text(signed_in().get(url("client_statement", client.pk)))
    assert "<strong>All paid</strong>" in page
    assert "to pay</span>" not in page


def test_what_is_owed_is_said_once_where_all_of_it_is_late_alike(cast, signed_in):
    browser, page = signed_in(), url("money_list")
    long_ago = timezone.now() - dt.timedelta(days=30)
    send(cast, issue(cast, other(cast, asked("Late")), at=long_ago))
    assert "owed to you, overdue" in text(browser.get(page))
    assert "owed-bar" not in text(browser.get(page))
    sent(cast)
    assert "owed to you</span>" in text(browser.get(page))
    assert "owed-bar" in text(browser.get(page))


def test_an_invoice_for_an_exempt_client_starts_without_tax(cast, signed_in):
    build.rates(cast, tax_percent=Decimal(20), tax_name="VAT")
    museum = build.client(cast, name="Mud Museum", tax_status="exempt")
    page = signed_in().get(url("client_invoice_new", museum.pk))
    assert "No tax is charged: Mud Museum is exempt." in text(page)
    rows = page.context["form"].rows
    assert {row["tax_percent"].value() for row in rows} == {"0"}


# --- The studio as a business ---


def test_business_details_are_checked_and_kept(cast, signed_in):
    address, browser = url("business_edit"), signed_in()
    body = {"days_to_pay": "14", "terms": "Kept words"}
    for wrong, words in (
        ({"iban": "DE89 3704 0044 0532 0130 01"}, "wrong digit"),
        ({"bic": "123"}, "8 or 11"),
        ({"payment_link": "javascript:alert(1)"}, "valid URL"),
        ({"days_to_pay": "-1"}, "Write 0 or more"),
    ):
        answer = browser.post(address, body | wrong)
        assert answer.status_code == 422
        assert words in text(answer)
        assert "Kept words" in text(answer)
    assert not BusinessDetails.across_studios.exists()
    good = body | {"iban": "de89 3704 0044 0532 0130 00"}
    assert browser.post(address, good).status_code == 302
    assert BusinessDetails.across_studios.get().iban == "DE89370400440532013000"


# --- The client's page ---


def shared(browser_client, commission):
    return browser_client.get(url("shared_page", build.token(commission)))


def test_the_client_sees_an_invoice_once_it_is_sent(cast, client):
    set_business_details(
        studio=cast.studio,
        by=None,
        at=timezone.now(),
        other_ways="Check to the studio",
        payment_link="https://pay.example.org/studio",
    )
    quote = taxed(cast)
    draft = part(cast, quote)
    token = build.token(quote.commission)
    pdf = url("shared_invoice_pdf", token, draft.pk)
    issued = issue(cast, draft)
    assert issued.number not in text(shared(client, quote.commission))
    assert client.get(pdf).status_code == 404
    send(cast, issued)
    page = text(shared(client, quote.commission))
    assert f"Invoice {issued.number}" in page
    assert "Check to the studio" in page
    assert "https://pay.example.org/studio" in page
    assert client.get(pdf).status_code == 200
    payment = pay(cast, issued, issued.total)
    page = text(shared(client, quote.commission))
    assert "Paid, thank you" in page
    assert f"Receipt {payment.receipt_number}" in page
    receipt = url("shared_receipt_pdf", token, payment.receipt.pk)
    assert client.get(receipt).status_code == 200


def test_no_client_sees_anothers_invoices_and_receipts(cast, client):
    mine, theirs = taxed(cast), taxed(cast)
    bill = send(cast, issue(cast, part(cast, theirs)))
    payment = pay(cast, bill, 10)
    alone = sent(cast, client=mine.commission.client)
    token = build.token(mine.commission)
    assert bill.number not in text(shared(client, mine.commission))
    for wrong in (bill.pk, alone.pk, 999_999):
        assert client.get(url("shared_invoice_pdf", token, wrong)).status_code == 404
    answer = client.get(url("shared_receipt_pdf", token, payment.receipt.pk))
    assert answer.status_code == 404


def test_the_code_of_a_transfer_stands_beside_a_bill_in_euro_only(
    cast, strangers, client
):
    iban = "PT50000201231234567890154"
    for one in (cast, strangers):
        set_business_details(studio=one.studio, by=None, at=timezone.now(), iban=iban)
    for one, has_code in ((cast, False), (strangers, True)):
        quote = taxed(one)
        send(one, issue(one, part(one, quote)))
        page = text(shared(client, quote.commission))
        assert "PT50 0002 0123 1234 5678 9015 4" in page
        assert ("Scan with your bank" in page) is has_code


# --- Who sees none of it ---


@pytest.mark.parametrize("role", ["helper", "technician"])
def test_who_sees_no_money_meets_no_invoice(cast, signed_in, role):
    quote = taxed(cast)
    invoice = send(cast, issue(cast, part(cast, quote)))
    pay(cast, invoice, 10)
    piece = quote.commission.commissioned_pieces.get().piece
    browser = signed_in(role)
    for address in (
        reverse("studio:history"),
        reverse("studio:today"),
        reverse("studio:settings"),
        reverse("studio:piece_detail", args=[piece.pk]),
        reverse("studio:search") + "?q=invoice",
    ):
        page = text(browser.get(address))
        assert invoice.number not in page, address
        assert "$" not in page, address
    told = HistoryEntry.owned.for_studio(cast.studio)
    assert told.filter(what__contains=invoice.number, is_about_money=True).exists()
    assert not told.filter(what__contains="$", is_about_money=False).exists()


def test_today_says_what_is_overdue_once_and_to_whom_it_may_be_said(cast, signed_in):
    long_ago = timezone.now() - dt.timedelta(days=30)
    quote = taxed(cast)
    bill = send(cast, issue(cast, part(cast, quote), at=long_ago), at=long_ago)
    alone = send(cast, issue(cast, other(cast), at=long_ago), at=long_ago)
    page = text(signed_in().get(reverse("studio:today")))
    for one in (bill, alone):
        assert url("invoice_detail", one.pk) in page
    # The part of the price is due as well: the invoice alone says so.
    assert page.count("days overdue") == 2
    assert "is due" not in page
    pay(cast, alone, 100)
    pay(cast, bill, bill.total)
    assert "days overdue" not in text(signed_in().get(reverse("studio:today")))
    assert "overdue" not in text(signed_in("helper").get(reverse("studio:today")))


def test_what_is_paid_back_without_a_credit_note_is_owed_again(cast, signed_in):
    quote = taxed(cast)
    bill = send(cast, issue(cast, part(cast, quote)))
    pay(cast, bill, bill.total)
    browser = signed_in()
    assert browser.get(url("money_list")).context["rows"] == []
    pay_back(
        commission=quote.commission,
        amount=Decimal(5),
        why="Too early",
        by=None,
        at=timezone.now(),
    )
    (row,) = browser.get(url("money_list")).context["rows"]
    assert row.open == 5


def test_the_money_page_finds_by_number_title_and_client(cast, signed_in):
    first = sent(cast, client=build.client(cast, name="Perpetua Vane"))
    sent(cast, client=build.client(cast, name="Another"))
    browser = signed_in()
    for words in (first.number, "Perpetua"):
        (row,) = browser.get(url("money_list"), {"q": words}).context["rows"]
        assert row.invoice == first
    assert len(browser.get(url("money_list"), {"q": "Framing"}).context["rows"]) == 2
    assert len(browser.get(url("money_list"), {"show": "all"}).context["rows"]) == 2
    other(cast)
    (draft,) = browser.get(url("money_list"), {"show": "drafts"}).context["rows"]
    assert draft.invoice.is_draft
