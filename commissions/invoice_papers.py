"""What an invoice, a credit note or a receipt says on paper, and whether its PDF exists.

An issued invoice keeps every text of its paper, and its PDF is made once from these.
"""

from dataclasses import asdict, dataclass
from datetime import date
from decimal import Decimal
from typing import Any, Self

import segno

from commissions.bank import code_svg, may_have_code, spaced, transfer_code
from commissions.invoicing import totals
from commissions.models import (
    BusinessDetails,
    Client,
    Commission,
    Invoice,
    InvoiceLine,
    Payment,
    Receipt,
)
from commissions.selectors.business import (
    business_address,
    business_details,
    business_name,
)
from commissions.selectors.client_invoices import receipts_of, sent_invoices
from commissions.selectors.invoices import InvoiceView, nets_of, view_invoices
from studio.amounts import in_words
from studio.documents import PaperKey, PaperState, order, state_of, words_sha256
from studio.models import PaperSize
from studio.money import format_money, format_unit_price, plain_number
from studio.pdf import pdf_available
from studio.viewer import Viewer, day_words

KIND = "invoice"
RECEIPT_KIND = "receipt"
TEMPLATE = "pdf/invoice.html"
RECEIPT_TEMPLATE = "pdf/receipt.html"
RENDER_JOB = "commissions.render_invoice"
RENDER_RECEIPT_JOB = "commissions.render_receipt"
# Tagged for readers who listen, ISO 14289-1; the layout engine writes the tags.
VARIANT = "pdf/ua-1"
# Raise this when the layout changes; issued papers stay as they were made.
LAYOUT = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class BusinessPaper:
    """Who writes and to whom, as every paper about money says it."""

    number: str
    studio_name: str
    studio_address: str
    studio_tax_number: str
    client_name: str
    client_address: str
    client_tax_number: str
    title: str
    is_demo: bool
    size: str = PaperSize.A4
    layout: int = LAYOUT

    def as_json(self) -> dict[str, Any]:
        """Return the texts to keep."""
        return asdict(self)

    @property
    def sha256(self) -> str:
        """Return the hash under which the PDF is filed."""
        return words_sha256(asdict(self), layout=self.layout)


@dataclass(frozen=True, slots=True, kw_only=True)
class InvoicePaper(BusinessPaper):
    """Every text of an invoice or a credit note, already written out."""

    kind: str
    issued_on: str
    due_on: str
    corrects: str
    message: str
    lines: tuple[tuple[str, str, str, str, str], ...]
    """Label, how much, each, tax, amount."""
    totals: tuple[tuple[str, str], ...]
    pay: tuple[tuple[str, str], ...]
    other_ways: str
    link: str
    terms: str
    transfer: dict[str, str]
    """What a QR code of a transfer in euro holds; empty where there is none."""

    @classmethod
    def from_json(cls, stored: dict[str, Any]) -> Self:
        """Return the texts as they were issued."""
        rows = ("lines", "totals", "pay")
        return cls(
            **stored
            | {name: tuple(tuple(row) for row in stored[name]) for name in rows}
        )

    @property
    def name(self) -> str:
        """Return what stands at its head: "Invoice 2026-0001"."""
        return f"{self.kind} {self.number}" if self.number else f"{self.kind}, draft"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReceiptPaper(BusinessPaper):
    """Every text of a receipt."""

    received_on: str
    amount: str
    method: str
    invoice: str

    @classmethod
    def from_json(cls, stored: dict[str, Any]) -> Self:
        """Return the texts as they were written."""
        return cls(**stored)

    @property
    def name(self) -> str:
        """Return what stands at its head."""
        return f"Receipt {self.number}"


def invoice_paper(invoice: Invoice) -> InvoicePaper:
    """Return the paper of an invoice: as it was issued, or what a draft says now."""
    if not invoice.paper:
        return written_paper(invoice)
    return InvoicePaper.from_json(invoice.paper)


def written_paper(invoice: Invoice) -> InvoicePaper:
    """Write the paper of an invoice; reads its lines and the studio's details."""
    viewer = Viewer.of_studio(invoice.studio)
    details = business_details(invoice.studio)
    currency = invoice.currency
    lines = list(invoice.lines.all())
    sums = totals(nets_of(lines), currency, rounding=invoice.rounding)

    def money(amount: Decimal) -> str:
        return viewer.money(amount, currency)

    rows = [("Before tax", money(sums.net))] if sums.tax else []
    are_several = len(sums.taxes) > 1
    rows += [
        (
            one.tax.words + (f" on {money(one.taxable)}" if are_several else ""),
            money(one.amount),
        )
        for one in sums.taxes
        if one.amount or are_several
    ]
    rows += [("Rounding", money(sums.rounding))] if sums.rounding else []
    rows.append(("Taken off" if invoice.is_credit else "To pay", money(sums.due)))
    asks = not invoice.is_credit
    return InvoicePaper(
        **head_of(details, invoice.client, viewer),
        number=invoice.number,
        title=invoice.title,
        kind="Credit note" if invoice.is_credit else "Invoice",
        issued_on=day_words(invoice.issued_date) if invoice.issued_date else "",
        due_on=day_words(invoice.due_date) if invoice.due_date else "",
        corrects=_corrects(invoice),
        message=invoice.message,
        lines=tuple(_written(line, viewer, currency) for line in lines),
        totals=tuple(rows),
        pay=pay_rows(details, reference_of(invoice)) if asks else (),
        other_ways=details.other_ways if asks else "",
        link=details.payment_link if asks else "",
        terms=details.terms if asks else "",
        transfer=_transfer(details, invoice) if asks else {},
    )


def reference_of(invoice: Invoice) -> str:
    """Return what a payment of it should be marked with."""
    return f"Invoice {invoice.number}".strip()


def head_of(details: BusinessDetails, client: Client, viewer: Viewer) -> dict[str, Any]:
    """Return who writes and to whom, as every paper about money starts."""
    return {
        "studio_name": business_name(details),
        "studio_address": business_address(details),
        "studio_tax_number": details.tax_number,
        "client_name": client.name,
        "client_address": client.address,
        "client_tax_number": client.tax_number,
        "is_demo": viewer.studio.is_demo,
        "size": viewer.studio.paper_size,
    }


def _corrects(invoice: Invoice) -> str:
    of = invoice.corrects
    if of is None or of.issued_date is None:
        return ""
    return f"Corrects invoice {of.number} of {day_words(of.issued_date)}"


def _written(
    line: InvoiceLine, viewer: Viewer, currency: str
) -> tuple[str, str, str, str, str]:
    how_much = (
        in_words(line.quantity, line.unit) if line.unit else plain_number(line.quantity)
    )
    (net,) = nets_of([line])
    return (
        line.label,
        how_much,
        format_unit_price(line.unit_price, currency),
        net.tax.words,
        viewer.money(line.net, currency),
    )


def pay_rows(details: BusinessDetails, reference: str) -> tuple[tuple[str, str], ...]:
    """Return the bank details as pairs; none without an IBAN."""
    if not details.iban:
        return ()
    rows = [
        ("Account holder", details.account_holder or business_name(details)),
        ("IBAN", spaced(details.iban)),
        ("BIC", details.bic),
        ("Reference", reference),
    ]
    return tuple(row for row in rows if row[1])


def _transfer(details: BusinessDetails, invoice: Invoice) -> dict[str, str]:
    may = may_have_code(
        currency=invoice.currency, iban=details.iban, amount=invoice.total
    )
    if not may or not invoice.number:
        return {}
    return transfer_of(details, amount=invoice.total, text=reference_of(invoice))


def transfer_of(
    details: BusinessDetails, *, amount: Decimal, text: str
) -> dict[str, str]:
    """Return what the QR code of a transfer to the studio holds."""
    return {
        "holder": details.account_holder or business_name(details),
        "iban": details.iban,
        "bic": details.bic,
        "amount": plain_number(amount),
        "text": text,
    }


def transfer_svg(transfer: dict[str, str], *, amount: Decimal) -> str:
    """Draw the QR code of a transfer, of what is still to be paid."""
    if not transfer or amount <= 0:
        return ""
    return code_svg(code_of(transfer, amount=amount))


def code_of(transfer: dict[str, str], *, amount: Decimal) -> segno.QRCode:
    """Return the QR code of a transfer."""
    return transfer_code(
        holder=transfer["holder"],
        iban=transfer["iban"],
        bic=transfer["bic"],
        text=transfer["text"],
        amount=amount,
    )


def paper_context(invoice: Invoice) -> dict[str, Any]:
    """Return what the template of the paper needs."""
    paper = invoice_paper(invoice)
    return {"paper": paper, "code": transfer_data(paper.transfer)}


def transfer_data(transfer: dict[str, str]) -> str:
    """Return the same drawing as a picture's address, for a paper with tags."""
    if not transfer:
        return ""
    code = code_of(transfer, amount=Decimal(transfer["amount"]))
    return code.svg_data_uri(scale=4, border=4, dark="#000", light="#fff")


def paper_key(invoice: Invoice) -> PaperKey:
    """Return the key of an invoice's paper; issued, it is made once and no more."""
    return PaperKey(
        studio=invoice.studio,
        kind=KIND,
        subject_id=invoice.pk,
        sha256=invoice_paper(invoice).sha256,
        is_contract=not invoice.is_draft,
    )


def paper_state(invoice: Invoice) -> PaperState:
    """Return whether the PDF of an invoice is there, and the last order for it."""
    return state_of(paper_key(invoice))


def order_invoice(invoice: Invoice) -> None:
    """Ask the worker for the PDF of an invoice."""
    order(paper_key(invoice), job_name=RENDER_JOB, invoice_id=invoice.pk)


def may_offer(state: PaperState) -> bool:
    """Return whether a client who asks for the PDF gets one: it exists or can be made."""
    if state.document is not None:
        return True
    return state.name not in {"failed", "lost"} and pdf_available()


def written_receipt(payment: Payment, number: str) -> ReceiptPaper:
    """Write the paper of a receipt."""
    studio, invoice, commission = payment.studio, payment.invoice, payment.commission
    viewer = Viewer.of_studio(studio)
    if invoice is not None:
        client, title = invoice.client, invoice.title
    else:
        assert commission is not None  # noqa: S101 - held by a constraint
        client, title = commission.client, commission.title
    return ReceiptPaper(
        **head_of(business_details(studio), client, viewer),
        number=number,
        title=title,
        received_on=day_words(payment.received_date),
        amount=viewer.money(payment.amount, payment.currency),
        method=payment.method,
        invoice=reference_of(invoice) if invoice is not None else "",
    )


def receipt_paper(receipt: Receipt) -> ReceiptPaper:
    """Return the paper of a receipt, as it was written."""
    return ReceiptPaper.from_json(receipt.paper)


def receipt_key(receipt: Receipt) -> PaperKey:
    """Return the key of a receipt's paper."""
    return PaperKey(
        studio=receipt.studio,
        kind=RECEIPT_KIND,
        subject_id=receipt.pk,
        sha256=receipt_paper(receipt).sha256,
        is_contract=True,
    )


def receipt_state(receipt: Receipt) -> PaperState:
    """Return whether the PDF of a receipt is there, and the last order for it."""
    return state_of(receipt_key(receipt))


def order_receipt(receipt: Receipt) -> None:
    """Ask the worker for the PDF of a receipt."""
    order(receipt_key(receipt), job_name=RENDER_RECEIPT_JOB, receipt_id=receipt.pk)


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedInvoice:
    """An invoice as the client's page shows it."""

    view: InvoiceView
    paper: InvoicePaper
    receipts: tuple[Receipt, ...]
    open: str
    """What is still to be paid, written out; empty when nothing is."""
    code: str
    """The drawing of a QR code for the rest, where there is one."""


def shared_invoices(
    commission: Commission, *, today: date
) -> dict[str, list[SharedInvoice]]:
    """Return the invoices of the client's page: those to be paid, and the others."""
    found = view_invoices(commission.studio, sent_invoices(commission), today=today)
    shown = []
    for view in found:
        paper = invoice_paper(view.invoice)
        amount = format_money(view.open, view.invoice.currency) if view.open > 0 else ""
        shown.append(
            SharedInvoice(
                view=view,
                paper=paper,
                receipts=tuple(receipts_of(view.invoice)),
                open=amount,
                code=transfer_svg(paper.transfer, amount=view.open),
            )
        )
    return {
        "open": [one for one in shown if one.open],
        "done": [one for one in reversed(shown) if not one.open],
    }
