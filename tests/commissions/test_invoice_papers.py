"""Papers of invoices and receipts: their words, their tags, and that they stay."""

import hashlib
import io
from decimal import Decimal

import numpy as np
import pypdf
import pytest
import segno
from django.utils import timezone

from commissions import invoice_papers
from commissions.models import Invoice
from commissions.selectors.invoices import invoices, receipts
from commissions.services.business import set_business_details
from commissions.services.clients import change_client
from commissions.tasks import render_invoice, render_receipt
from studio.models import Document, PaperSize
from studio.pdf import render_pdf
from tests.commissions.services.test_invoice_money import pay
from tests.commissions.services.test_invoices import asked, credit, issue, other, send
from tests.papers import (
    needs_pango,
    paper_faces,
    paper_sizes,
    picture_of,
    read_pdf,
)

DARK = 128
IBAN = "PT50000201231234567890154"


class Lease:
    def renew(self, *_):
        pass


def bytes_of(document):
    with document.file.open("rb") as file:
        return file.read()


def made(invoice) -> Document:
    """Lay an invoice's paper out as the worker does, and file it."""
    finish = render_invoice(invoice.studio, lease=Lease(), invoice_id=invoice.pk)
    if finish is not None:
        finish()
    return Document.across_studios.get(kind="invoice", subject_id=invoice.pk)


def two_rates(cast) -> Invoice:
    return issue(
        cast,
        other(
            cast,
            asked("Glass panel", price="1234.55", percent="23", tax_name="IVA"),
            asked(
                "Fittings", quantity="3", price="33.335", percent="23", tax_name="IVA"
            ),
            asked(
                "Printed book", quantity="4", price="12.49", percent="6", tax_name="IVA"
            ),
        ),
    )


@pytest.fixture
def in_euro(strangers):
    set_business_details(
        studio=strangers.studio,
        by=None,
        at=timezone.now(),
        iban=IBAN,
        account_holder="Fernhaven",
        tax_number="F 1",
        terms="Kept until paid.",
    )
    return strangers


def walk(element):
    """Yield every structure element of a tagged PDF, from its tree."""
    element = element.get_object()
    if isinstance(element, pypdf.generic.DictionaryObject):
        yield element
        kids = element.get("/K", [])
        kids = kids.get_object() if hasattr(kids, "get_object") else kids
        kids = kids if isinstance(kids, list) else [kids]
        for kid in kids:
            if not isinstance(kid, int | pypdf.generic.NumberObject):
                yield from walk(kid)


@needs_pango
def test_the_words_of_an_invoice_with_two_rates(in_euro):
    """The example worked by hand in `test_invoicing`, without what was paid before."""
    count, words = read_pdf(bytes_of(made(two_rates(in_euro))))
    assert count == 1
    for told in (
        "Fernhaven",
        "Tax number F 1",
        "€1,234.55",
        "€100.01",
        "€49.96",
        "IVA 23 % on €1,334.56 €306.95",
        "IVA 6 % on €49.96 €3.00",
        "Before tax €1,384.52",
        "To pay €1,694.47",
        "PT50 0002 0123 1234 5678 9015 4",
        "Kept until paid.",
    ):
        assert told in words, told


@needs_pango
def test_a_paper_is_tagged_for_listening(in_euro):
    """ISO 14289-1 (PDF/UA-1): 7.1 tags in a structure tree and the file marked as
    tagged, 7.1 a title that is shown, 7.2 a natural language, 7.3 figures with an
    alternative, 7.5 tables with headers; 5 the identifier in its metadata. From memory.
    """
    reader = pypdf.PdfReader(io.BytesIO(bytes_of(made(two_rates(in_euro)))))
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"].value is True
    assert root["/Lang"] == "en"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"].value is True
    assert reader.metadata.title.startswith("Invoice ")
    metadata = root["/Metadata"].get_object().get_data().decode()
    assert 'pdfuaid:part="1"' in metadata or "<pdfuaid:part>1" in metadata
    found = list(walk(root["/StructTreeRoot"]))
    kinds = {one.get("/S") for one in found}
    assert {"/Document", "/H1", "/H2", "/P", "/Table", "/TR", "/TH", "/TD"} <= kinds
    (figure,) = [one for one in found if one.get("/S") == "/Figure"]
    assert "IBAN PT50 0002 0123" in str(figure["/Alt"])


@needs_pango
@pytest.mark.parametrize("size", PaperSize)
def test_each_paper_is_on_the_studios_size_in_one_face(in_euro, size):
    in_euro.studio.paper_size = size
    in_euro.studio.save()
    invoice = two_rates(in_euro)
    note = issue(in_euro, credit(in_euro, invoice, "5"))
    points = {PaperSize.A4: (595, 842), PaperSize.LETTER: (612, 792)}
    for one in (invoice, note):
        content = bytes_of(made(one))
        assert paper_sizes(content) == {points[size]}
        assert paper_faces(content) == {"Varta"}


@needs_pango
def test_a_credit_note_says_what_it_corrects_and_asks_for_nothing(in_euro):
    invoice = two_rates(in_euro)
    note = issue(in_euro, credit(in_euro, invoice, "5", reason="One book was bent"))
    _, words = read_pdf(bytes_of(made(note)))
    assert f"Corrects invoice {invoice.number}" in words
    assert "One book was bent" in words
    assert "Taken off €5.00" in words
    assert "IBAN" not in words


@needs_pango
def test_the_bytes_stay_whatever_changes(in_euro):
    invoice = two_rates(in_euro)
    first = made(invoice)
    before = bytes_of(first)
    assert first.pdf_sha256 == hashlib.sha256(before).hexdigest()
    change_client(
        client=invoice.client,
        name="Another name",
        email="",
        phone="",
        address="",
        note="",
        by=None,
        at=timezone.now(),
    )
    set_business_details(studio=in_euro.studio, by=None, at=timezone.now(), iban="")
    again = made(invoices(in_euro.studio).get(pk=invoice.pk))
    assert (again.pk, bytes_of(again)) == (first.pk, before)


@needs_pango
def test_a_lost_or_changed_paper_is_told_and_not_made_again(in_euro):
    invoice = two_rates(in_euro)
    document = made(invoice)
    with document.file.storage.open(document.file.name, "wb") as file:
        file.write(b"%PDF-1.7 another")
    state = invoice_papers.paper_state(invoice)
    assert state.name == "lost"
    assert document.pdf_sha256 in state.problem
    invoice_papers.order_invoice(invoice)
    assert render_invoice(in_euro.studio, lease=Lease(), invoice_id=invoice.pk) is None


@needs_pango
def test_the_code_is_drawn_as_a_camera_reads_it(in_euro):
    """Every module of the picture on the page, against the code of EPC069-12's text."""
    invoice = two_rates(in_euro)
    payload = (
        f"BCD\n002\n1\nSCT\n\nFernhaven\n{IBAN}\nEUR1694.47\n\n\n"
        f"Invoice {invoice.number}"
    )
    expected = segno.make_qr(payload.encode(), error="m", boost_error=False)
    picture = np.asarray(picture_of(bytes_of(made(invoice)))) < DARK
    # Nothing else on the right of the lower half is dark but the code and its caption.
    lower, right = picture.shape[0] // 2, picture.shape[1] * 2 // 3
    part = picture[lower:, right:]
    rows = np.flatnonzero(part.any(axis=1))
    top = rows[0]
    below = np.flatnonzero(~part[top:].any(axis=1))[0]
    code = part[top : top + below]
    columns = np.flatnonzero(code.any(axis=0))
    code = code[:, columns[0] : columns[-1] + 1]
    assert abs(code.shape[0] - code.shape[1]) <= 2
    size = len(expected.matrix)
    middles = ((np.arange(size) + 0.5) * code.shape[0] / size).astype(int)
    assert (code[np.ix_(middles, middles)] == np.array(expected.matrix)).all()


@needs_pango
def test_a_receipt_says_what_came_in(in_euro):
    invoice = send(in_euro, two_rates(in_euro))
    payment = pay(in_euro, invoice, Decimal("694.47"), method="Bank transfer")
    studio = in_euro.studio
    render_receipt(studio, lease=Lease(), receipt_id=payment.receipt.pk)()
    document = Document.across_studios.get(kind="receipt")
    _, words = read_pdf(bytes_of(document))
    for told in (payment.receipt_number, "€694.47", "Bank transfer", invoice.number):
        assert told in words
    root = pypdf.PdfReader(io.BytesIO(bytes_of(document))).trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"].value is True
    assert receipts(studio).get().paper["amount"] == "€694.47"


@needs_pango
def test_a_long_invoice_repeats_its_headings_on_the_next_page(cast):
    lines = [asked(f"Line {n}", price="1") for n in range(40)]
    invoice = issue(cast, other(cast, *lines))
    count, words = read_pdf(
        render_pdf(
            invoice_papers.TEMPLATE,
            invoice_papers.paper_context(invoice),
            title="Invoice",
            variant=invoice_papers.VARIANT,
        )
    )
    assert count == 2
    assert words.count("How much") == 2
    assert "To pay $40.00" in words


def test_a_drafts_paper_follows_its_words(cast):
    draft = other(cast)
    first = invoice_papers.paper_key(draft)
    assert not first.is_contract
    draft.title = "Another"
    assert invoice_papers.paper_key(draft).sha256 != first.sha256
