"""The statement of a client's account on paper: its words, tags and code."""

import io
from decimal import Decimal

import pypdf
import pytest
from django.urls import reverse
from django.utils import timezone

from commissions.invoice_papers import VARIANT
from commissions.selectors.money import Question
from commissions.services.business import set_business_details
from commissions.statement_papers import TEMPLATE, paper_context, statement_paper
from studio.documents import words_sha256
from studio.models import Document
from studio.pdf import render_pdf
from tests.commissions import build
from tests.commissions.services.test_invoice_money import pay, sent
from tests.commissions.services.test_invoices import asked, credit, issue
from tests.commissions.test_invoice_papers import IBAN, walk
from tests.papers import needs_pango, read_pdf
from tests.worker import run_waiting_jobs


@pytest.fixture
def in_euro(strangers):
    set_business_details(
        studio=strangers.studio,
        by=None,
        at=timezone.now(),
        iban=IBAN,
        account_holder="Fernhaven",
        other_ways="Cash at the studio.",
    )
    return strangers


def paper_of(client, *, day=0):
    return statement_paper(client, today=build.day(day))


def pdf_of(browser, client) -> bytes:
    address = reverse("commissions:client_statement_pdf", args=[client.pk])
    browser.post(address)
    run_waiting_jobs()
    return b"".join(browser.get(address).streaming_content)


@needs_pango
def test_the_words_and_tags_of_a_statement(in_euro, signed_in):
    """ISO 14289-1 (PDF/UA-1), as in `test_invoice_papers`. From memory."""
    client = build.client(in_euro, name="Quay House")
    first = sent(in_euro, asked("Panel", price="1234.50"), client=client)
    pay(in_euro, first, 1000)
    second = sent(in_euro, asked("Stand", price="80"), client=client)
    issue(in_euro, credit(in_euro, second, 5))
    content = pdf_of(signed_in("maker", in_euro), client)
    count, words = read_pdf(content)
    assert count == 1
    for told in (
        "Statement of account",
        "Quay House",
        "€309.50 to be paid",
        f"Invoice {first.number}, Framing €1,234.50 €1,234.50",
        "-€1,000.00",
        "Still to be paid",
        "€234.50",
        "€75.00",
        "PT50 0002 0123 1234 5678 9015 4",
        f"Invoices {first.number}, {second.number}",
        "Cash at the studio.",
    ):
        assert told in words, told
    reader = pypdf.PdfReader(io.BytesIO(content))
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"].value is True
    assert root["/Lang"] == "en"
    assert reader.metadata.title.startswith("Statement of account, ")
    found = list(walk(root["/StructTreeRoot"]))
    kinds = {one.get("/S") for one in found}
    assert {"/Document", "/H1", "/H2", "/H3", "/Table", "/TR", "/TH", "/TD"} <= kinds
    (figure,) = [one for one in found if one.get("/S") == "/Figure"]
    assert "IBAN PT50 0002 0123" in str(figure["/Alt"])


def test_a_code_asks_for_the_balance_and_names_the_invoices(in_euro):
    client = build.client(in_euro)
    over, bill = sent(in_euro, client=client), sent(in_euro, client=client)
    pay(in_euro, over, 130, confirmed={Question.CREDIT})
    (account,) = paper_of(client).accounts
    assert account.transfer["amount"] == "70"
    assert account.transfer["text"] == f"Invoice {bill.number}"
    assert account.due[1:] == (
        ("Less your credit", "-€30.00"),
        ("To pay", "€70.00"),
    )


def test_a_reference_that_no_bank_would_take_whole_is_the_statement_itself(in_euro):
    """EPC069-12: at most 140 characters of remittance information. From memory."""
    client = build.client(in_euro)
    for _ in range(14):
        sent(in_euro, client=client)
    (account,) = paper_of(client).accounts
    assert account.transfer["text"].startswith("Statement ")


@pytest.mark.parametrize(
    ("paid", "told"), [(100, "Nothing to be paid"), (130, "€30.00 in credit")]
)
def test_what_is_paid_asks_for_nothing(in_euro, paid, told):
    client = build.client(in_euro)
    pay(in_euro, sent(in_euro, client=client), paid, confirmed={Question.CREDIT})
    paper = paper_of(client)
    (account,) = paper.accounts
    assert account.balance == told
    assert account.due == account.pay == ()
    assert account.transfer == {}
    assert paper.other_ways == ""


def test_each_currency_is_a_part_and_only_euro_has_a_code(in_euro):
    client = build.client(in_euro)
    sent(in_euro, client=client)
    in_euro.studio.currency = "USD"
    in_euro.studio.save()
    sent(in_euro, client=client)
    accounts = paper_of(client).accounts
    assert [one.balance for one in accounts] == [
        "€100.00 to be paid",
        "$100.00 to be paid",
    ]
    assert [bool(one.transfer) for one in accounts] == [True, False]


def test_what_is_overdue_says_since_when(in_euro):
    client = build.client(in_euro)
    invoice = sent(in_euro, client=client)
    late = (build.day(400) - invoice.due_date).days
    ((words, amount), _) = paper_of(client, day=400).accounts[0].due
    assert words.endswith(f", {late} days overdue")
    assert amount == "€100.00"


def test_another_day_or_payment_is_another_paper(in_euro):
    client = build.client(in_euro)
    invoice = sent(in_euro, client=client)
    first = paper_of(client)
    assert paper_of(client).sha256 == first.sha256
    assert first.sha256 == words_sha256(first.as_json(), layout=first.layout)
    assert paper_of(client, day=1).sha256 != first.sha256
    pay(in_euro, invoice, Decimal(1))
    assert paper_of(client).sha256 != first.sha256


def test_without_invoices_there_is_no_paper(cast, signed_in):
    client, browser = build.client(cast), signed_in()
    page = browser.get(reverse("commissions:client_statement", args=[client.pk]))
    assert "Statement (PDF)" not in page.content.decode()
    address = reverse("commissions:client_statement_pdf", args=[client.pk])
    answer = browser.post(address, follow=True)
    assert "There is nothing to state yet" in answer.content.decode()
    assert not Document.across_studios.exists()


@needs_pango
def test_a_long_statement_repeats_its_headings_and_leaves_no_page_half_empty(in_euro):
    client = build.client(in_euro)
    for number in range(22):
        invoice = sent(in_euro, client=client)
        if number % 2:
            pay(in_euro, invoice, 40 + number)
    context = paper_context(paper_of(client))
    count, words = read_pdf(
        render_pdf(TEMPLATE, context, title="Statement", variant=VARIANT)
    )
    assert count == 3
    assert words.count("Amount Balance") == 2
    second = words.partition("Page 1 of 3")[2].partition("Page 2 of 3")[0]
    assert "Still to be paid" in second
