"""Background work of the commissions app: handlers that the worker calls by name."""

from datetime import date
from typing import TYPE_CHECKING, Any

from django.utils import timezone

from commissions import (
    consignment_papers,
    documents,
    invoice_papers,
    statement_papers,
)
from commissions.selectors.clients import clients
from commissions.selectors.commissions import commissions
from commissions.selectors.invoices import invoices, receipts
from commissions.selectors.promise_checks import checks
from commissions.selectors.promised_again import found_again
from commissions.selectors.quotes import quotes
from commissions.selectors.standing_promises import is_standing
from commissions.services.promises import (
    CHECK_JOB,
    CheckedPromise,
    drop_check,
    keep_check,
)
from studio.documents import PaperKey
from studio.jobs import Finish, handler
from studio.services.papers import lay_out

if TYPE_CHECKING:
    from studio.jobs import Lease
    from studio.models import Studio


@handler(documents.RENDER_JOB, is_slow=True)
def render_quote(
    studio: "Studio", *, lease: "Lease", quote_id: int, **_: object
) -> Finish | None:
    """Lay out a quote's PDF outside any transaction; its finish files it."""
    quote = quotes(studio).get(pk=quote_id)
    paper = documents.quote_paper(quote)
    key = documents.paper_key(quote, paper)
    return lay_out(
        key=key,
        lease=lease,
        template=documents.TEMPLATE,
        title=f"Quote {paper.number}, {paper.title}",
        context=lambda: documents.paper_context(quote),
        clock=timezone.now,
    )


@handler(documents.RENDER_ACCEPTED_JOB, is_slow=True)
def render_accepted_quote(
    studio: "Studio", *, lease: "Lease", quote_id: int, **_: object
) -> Finish | None:
    """Lay out a quote's PDF with its acceptance; its finish files it."""
    quote = quotes(studio).get(pk=quote_id)
    if quote.accepted_at is None:
        return None
    paper = documents.accepted_paper(quote)
    key = documents.accepted_key(quote, paper)
    return lay_out(
        key=key,
        lease=lease,
        template=documents.TEMPLATE,
        title=f"Quote {paper.paper.number}, {paper.paper.title}, accepted",
        context=lambda: documents.paper_context(quote) | {"accepted": paper},
        clock=timezone.now,
    )


@handler(invoice_papers.RENDER_JOB, is_slow=True)
def render_invoice(
    studio: "Studio", *, lease: "Lease", invoice_id: int, **_: object
) -> Finish | None:
    """Lay out an invoice's PDF; its finish files it, once for good if it is issued."""
    invoice = invoices(studio).filter(pk=invoice_id).first()
    if invoice is None:
        return None
    key = invoice_papers.paper_key(invoice)
    context = invoice_papers.paper_context(invoice)
    return _about_money(key, lease, invoice_papers.TEMPLATE, context)


@handler(invoice_papers.RENDER_RECEIPT_JOB, is_slow=True)
def render_receipt(
    studio: "Studio", *, lease: "Lease", receipt_id: int, **_: object
) -> Finish | None:
    """Lay out a receipt's PDF; its finish files it."""
    receipt = receipts(studio).get(pk=receipt_id)
    key = invoice_papers.receipt_key(receipt)
    context = {"paper": invoice_papers.receipt_paper(receipt)}
    return _about_money(key, lease, invoice_papers.RECEIPT_TEMPLATE, context)


@handler(consignment_papers.RENDER_JOB, is_slow=True)
def render_consignment(
    studio: "Studio", *, lease: "Lease", commission_id: int, **_: object
) -> Finish | None:
    """Lay out a consignment note's PDF; its finish files it."""
    commission = commissions(studio).get(pk=commission_id)
    key = consignment_papers.consignment_key(commission)
    context = {"paper": consignment_papers.consignment_paper(commission)}
    return _about_money(key, lease, consignment_papers.TEMPLATE, context)


@handler(statement_papers.RENDER_JOB, is_slow=True)
def render_statement(
    studio: "Studio", *, lease: "Lease", client_id: int, day: str, **_: object
) -> Finish | None:
    """Lay out the PDF of a client's statement of a day; its finish files it."""
    client = clients(studio).get(pk=client_id)
    client.studio = studio
    paper = statement_papers.statement_paper(client, today=date.fromisoformat(day))
    key = statement_papers.statement_key(client, paper)
    context = statement_papers.paper_context(paper)
    return _about_money(key, lease, statement_papers.TEMPLATE, context)


def _about_money(
    key: PaperKey, lease: "Lease", template: str, context: dict[str, Any]
) -> Finish | None:
    """Lay out a tagged paper, unless it is there or was and is lost."""
    return lay_out(
        key=key,
        lease=lease,
        template=template,
        title=f"{context['paper'].name}, {context['paper'].title}",
        context=lambda: context,
        clock=timezone.now,
        variant=invoice_papers.VARIANT,
    )


@handler(CHECK_JOB, is_slow=True)
def check_promise(
    studio: "Studio", *, lease: "Lease", check_id: int, **_: object
) -> Finish | None:
    """Check a promised day as things are now; its finish saves the result."""
    check = checks(studio).filter(pk=check_id).first()
    if check is None or check.made_at is not None:
        return None
    now = timezone.now()
    if not is_standing(check.quote, at=now):
        return lambda: drop_check(studio=studio, check_id=check_id)
    lease.renew("Looking for room in the kilns")
    found = CheckedPromise(**found_again(check, now=now))

    def finish() -> None:
        keep_check(studio=studio, check_id=check_id, found=found, at=now)

    return finish
