"""Makes, issues, sends and corrects invoices. Issued ones are never changed.

An invoice of a commission is decided on while the commission is held, one that stands
alone while its own row is; the series of numbers is held last.
"""

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db import transaction
from django.utils.text import capfirst

from commissions import invoice_papers
from commissions.invoicing import (
    EXEMPT,
    UNTAXED,
    LineAsked,
    Net,
    Tax,
    TaxCategory,
    left_of,
    line_net,
    part_of,
    totals,
)
from commissions.models import (
    Client,
    Commission,
    Instalment,
    Invoice,
    InvoiceKind,
    InvoiceLine,
    NumberSeries,
    TaxStatus,
)
from commissions.selectors.business import business_details
from commissions.selectors.commissions import view_commission
from commissions.selectors.invoices import credited_so_far, issued_nets, nets_of
from commissions.selectors.parts import (
    KIND_OF,
    asked_by_moment,
    commission_invoices,
    missing_by_part,
    nets_of_quote,
)
from commissions.selectors.payers import payer_of
from commissions.selectors.quotes import day_of
from commissions.services.commissions import locked, refuse_closed
from commissions.services.notes import note, note_client
from commissions.services.numbers import next_number
from studio.errors import Refused
from studio.models import KilnUser, Person, Studio
from studio.money import format_money
from studio.services.locks import held
from studio.tenancy import same_studio
from studio.undo import because, checked_reason

ONE = Decimal(1)
MOST_LINES = 40
EXEMPT_WORDS = {
    TaxStatus.EXEMPT: "Exempt",
    TaxStatus.RESALE: "For resale",
}


@transaction.atomic
def make_part_invoice(
    *, instalment: Instalment, by: Person | None, at: datetime
) -> Invoice:
    """Draft the invoice for a part of the accepted price, or return the one drafted.

    Raises
    ------
    Refused
        When the part is of a price that no longer counts, or is invoiced already.
    InvoiceProblem
        When the quote's taxes make no invoice.
    """
    commission = locked(instalment.quote.commission)
    drafted = Invoice.owned.for_studio(commission.studio).filter(
        instalment=instalment, issued_at=None
    )
    if (draft := drafted.exclude(kind=InvoiceKind.CREDIT).first()) is not None:
        return draft
    refuse_closed(commission)
    found = commission_invoices(commission)
    _, nets, rounding = _part(commission, instalment, found, at)
    is_first = not asked_by_moment(found).get(instalment.due_on)
    kind = KIND_OF[Instalment.DueOn(instalment.due_on)]
    invoice = save_draft(
        Invoice(
            studio=commission.studio,
            client=payer_of(commission),
            commission=commission,
            instalment=instalment,
            kind=kind if is_first else InvoiceKind.ADDENDUM,
            title=f"{instalment.label}, {commission.title}"[:200],
            currency=instalment.quote.currency,
            rounding=rounding,
            made_at=at,
            made_by=by,
        ),
        [line_of(instalment.label, one) for one in nets],
    )
    note(commission, by=by, at=at, what=f"Drafted the invoice {invoice.title}")
    return invoice


def _part(
    commission: Commission,
    instalment: Instalment,
    found: Sequence[Invoice],
    at: datetime,
) -> tuple[Decimal, tuple[Net, ...], Decimal]:
    """Return what is to be invoiced of a part, its nets, and its rounding amount."""
    view = view_commission(commission, at=at)
    accepted = view.accepted
    if accepted is None or instalment.quote_id != accepted.quote.pk:
        raise Refused(
            "This part belongs to a price that no longer counts. Open the commission "
            "and invoice the part that it has now."
        )
    quote = accepted.quote
    missing = missing_by_part(view.money.instalments, found)
    amount = missing[instalment.pk]
    if amount <= 0:
        raise Refused(f"{instalment.label} is invoiced already.")
    issued = [one for one in found if not one.is_draft]
    asked = sum(
        (-one.total if one.is_credit else one.total for one in issued), Decimal(0)
    )
    part = part_of(
        left_of(nets_of_quote(quote), issued_nets(issued)),
        amount=amount,
        of=quote.to_studio - asked,
        currency=quote.currency,
    )
    return amount, part.nets, part.rounding


def line_of(label: str, one: Net) -> InvoiceLine:
    """Return a line of one net, unsaved."""
    return InvoiceLine(
        label=label[:200],
        quantity=ONE,
        unit_price=one.net,
        net=one.net,
        tax_category=one.tax.category.value,
        tax_name=one.tax.name[:40],
        tax_percent=one.tax.percent,
    )


def save_draft(invoice: Invoice, lines: Sequence[InvoiceLine]) -> Invoice:
    """Save a draft with its totals and lines."""
    _add_up(invoice, lines)
    invoice.save()
    _keep_lines(invoice, lines)
    return invoice


def _add_up(invoice: Invoice, lines: Sequence[InvoiceLine]) -> None:
    sums = totals(nets_of(lines), invoice.currency, rounding=invoice.rounding)
    invoice.net, invoice.tax, invoice.total = sums.net, sums.tax, sums.due


def _keep_lines(invoice: Invoice, lines: Sequence[InvoiceLine]) -> None:
    for number, line in enumerate(lines, start=1):
        line.studio_id, line.invoice, line.number = invoice.studio_id, invoice, number
    InvoiceLine.across_studios.bulk_create(lines)


@transaction.atomic
def make_invoice(
    *,
    client: Client,
    kind: InvoiceKind,
    title: str,
    lines: Sequence[LineAsked],
    by: Person | None,
    at: datetime,
    message: str = "",
    kiln_user: KilnUser | None = None,
    kiln_month: date | None = None,
) -> Invoice:
    """Draft an invoice for other work or kiln rental, in the studio's currency.

    Parameters
    ----------
    kiln_user, kiln_month : KilnUser and date, or None
        Whose use of the kilns in which month it is for.

    Raises
    ------
    Refused
        When it has no line, or nothing is to be paid.
    InvoiceProblem
        When a tax is 100 % or more, or a figure does not fit the currency.
    """
    if kind not in {InvoiceKind.OTHER, InvoiceKind.KILN}:
        raise Refused("Parts of a commission are invoiced from the commission.")
    studio = client.studio
    invoice = Invoice(
        studio=studio,
        client=client,
        kind=kind,
        title=title[:200],
        message=message,
        currency=studio.currency,
        kiln_user=kiln_user,
        kiln_month=kiln_month,
        made_at=at,
        made_by=by,
    )
    save_draft(invoice, _asked_lines(client, lines, studio))
    note_client(client, by=by, at=at, what=f"Drafted the invoice {invoice.title}")
    return invoice


def _asked_lines(
    client: Client, asked: Sequence[LineAsked], studio: Studio
) -> list[InvoiceLine]:
    if not asked or len(asked) > MOST_LINES:
        raise Refused(f"An invoice has from 1 to {MOST_LINES} lines.")
    taxes = [_tax(client, one) for one in asked]
    is_taxed = any(tax.category is not TaxCategory.OUTSIDE for tax in taxes)
    lines = []
    for one, tax in zip(asked, taxes, strict=True):
        if is_taxed and tax.category is TaxCategory.OUTSIDE:
            tax = EXEMPT
        line = line_of(
            one.label,
            Net(tax=tax, net=line_net(one.quantity, one.unit_price, studio.currency)),
        )
        line.quantity, line.unit = one.quantity, one.unit[:20]
        line.unit_price = one.unit_price
        lines.append(line)
    if sum((line.net for line in lines), Decimal(0)) <= 0:
        raise Refused("Nothing is to be paid. Write what it costs.")
    return lines


def _tax(client: Client, one: LineAsked) -> Tax:
    """Return the tax of a line; a client who is exempt is charged none."""
    if words := EXEMPT_WORDS.get(TaxStatus(client.tax_status), ""):
        return Tax(category=TaxCategory.EXEMPT, name=words)
    if one.tax_percent == 0:
        return UNTAXED
    return Tax(
        category=TaxCategory.TAXED,
        percent=one.tax_percent,
        name=one.tax_name.strip()[:40] or "Tax",
    )


@transaction.atomic
def change_draft(
    *,
    invoice: Invoice,
    by: Person | None,
    at: datetime,
    title: str | None = None,
    message: str | None = None,
    lines: Sequence[LineAsked] | None = None,
) -> Invoice:
    """Change a draft; the lines only of one that stands alone.

    Raises
    ------
    Refused
        When it is issued, or its lines follow from the accepted price.
    """
    current = hold_invoice(invoice)
    _refuse_issued(current)
    if title is not None:
        current.title = title[:200]
    if message is not None:
        current.message = message
    if lines is not None:
        if current.commission_id is not None or current.is_credit:
            raise Refused(
                "These amounts follow from the price. Change the message only."
            )
        made = _asked_lines(current.client, lines, current.studio)
        _add_up(current, made)
        InvoiceLine.across_studios.filter(invoice=current).delete()
        _keep_lines(current, made)
    current.save()
    tell_of(current, by=by, at=at, what=f"Changed the draft {current.title}")
    return current


@transaction.atomic
def delete_draft(*, invoice: Invoice, by: Person | None, at: datetime) -> None:
    """Delete a draft, which has no number; an issued invoice stays.

    Raises
    ------
    Refused
        When it is issued.
    """
    current = hold_invoice(invoice)
    _refuse_issued(current)
    tell_of(current, by=by, at=at, what=f"Deleted the draft {current.title}")
    current.delete()


def _refuse_issued(invoice: Invoice) -> None:
    if not invoice.is_draft:
        raise Refused(
            f"{capfirst(invoice.name)} is issued and stays as it is. Correct it by a "
            "credit note."
        )


@transaction.atomic
def issue_invoice(*, invoice: Invoice, by: Person | None, at: datetime) -> Invoice:
    """Give a draft its number and day, and freeze it: amounts, words and paper.

    Raises
    ------
    Refused
        When it is issued already, or what it asks for has changed since it was drafted.
    """
    current = hold_invoice(invoice)
    if not current.is_draft:
        raise Refused(f"It is issued already, as {current.name}.")
    _refuse_outdated(current, at)
    studio = current.studio
    day = day_of(studio, at)
    current.issued_at, current.issued_by, current.issued_date = at, by, day
    current.due_date = due_on(studio, day) if not current.is_credit else None
    current.year, current.serial, current.number = next_number(
        studio=studio, name=NumberSeries.Name.INVOICE, day=day
    )
    current.paper = invoice_papers.written_paper(current).as_json()
    current.save()
    invoice_papers.order_invoice(current)
    amount = format_money(current.total, current.currency)
    what = f"Issued {current.name}, {current.title}: {amount}"
    tell_of(current, by=by, at=at, what=what)
    return current


def due_on(studio: Studio, day: date) -> date:
    """Return by when an invoice of a day is to be paid."""
    return day + timedelta(days=business_details(studio).days_to_pay)


def _refuse_outdated(invoice: Invoice, at: datetime) -> None:
    """Refuse a draft that asks for another amount than is still to be asked for."""
    if invoice.is_credit and invoice.corrects is not None:
        left = invoice.corrects.total - credited_so_far(invoice.corrects)
        if invoice.total > left:
            raise Refused(
                f"Only {format_money(left, invoice.currency)} of {invoice.corrects.name} "
                "is left to credit. Delete this draft and make another."
            )
    elif invoice.commission is not None and invoice.instalment is not None:
        refuse_closed(invoice.commission)
        found = commission_invoices(invoice.commission)
        amount, _, _ = _part(invoice.commission, invoice.instalment, found, at)
        if amount != invoice.total:
            raise Refused(
                "The price or its invoices have changed since this was drafted. Delete "
                "the draft and make it again."
            )


@transaction.atomic
def send_invoice(*, invoice: Invoice, by: Person | None, at: datetime) -> Invoice:
    """Let the client see it: on their page from now on, where they have one.

    Raises
    ------
    Refused
        When it is a draft, or sent already.
    """
    current = hold_invoice(invoice)
    if current.is_draft:
        raise Refused("Issue it first: a draft has no number.")
    if current.sent_at is not None:
        raise Refused(f"{capfirst(current.name)} is sent already.")
    current.sent_at = at
    current.save(update_fields=["sent_at"])
    tell_of(current, by=by, at=at, what=f"Sent {current.name}")
    return current


@transaction.atomic
def take_back_sent(
    *, invoice: Invoice, reason: str, by: Person | None, at: datetime
) -> None:
    """Take an invoice off the client's page that was sent by mistake; it stays issued.

    Raises
    ------
    Refused
        When it is not sent, or it is late and no reason is given.
    """
    current = hold_invoice(invoice)
    if current.sent_at is None:
        raise Refused("It is not sent.")
    why = checked_reason(reason, recorded_at=current.sent_at, now=at)
    current.sent_at = None
    current.save(update_fields=["sent_at"])
    what = f"Took {current.name} off the client's page{because(why)}"
    tell_of(current, by=by, at=at, what=what)


def hold_invoice(invoice: Invoice) -> Invoice:
    """Hold an invoice's account, and return the invoice as it is now."""
    same_studio(invoice.studio, invoice.client)
    if invoice.commission is not None:
        locked(invoice.commission)
    elif invoice.corrects is not None:
        held(Invoice.across_studios).get(pk=invoice.corrects.pk)
    found: Invoice | None = (
        held(Invoice.across_studios)
        .select_related(
            "studio", "client", "commission__studio", "instalment__quote", "corrects"
        )
        .filter(pk=invoice.pk)
        .first()
    )
    if found is None:
        raise Refused("This draft was deleted meanwhile.")
    return found


def tell_of(invoice: Invoice, *, by: Person | None, at: datetime, what: str) -> None:
    """Add a line to the history, of its commission or else of its client."""
    if invoice.commission is not None:
        note(invoice.commission, by=by, at=at, what=what)
    else:
        note_client(invoice.client, by=by, at=at, what=what)
