"""Background work of the commissions app: handlers that the worker calls by name."""

from typing import TYPE_CHECKING

from django.utils import timezone

from commissions import documents
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
from studio.documents import state_of
from studio.jobs import Finish, handler
from studio.pdf import render_pdf
from studio.services.papers import file_paper

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
    if state_of(key).name in {"ready", "lost"}:
        return None
    lease.renew("Laying out the pages")
    title = f"Quote {paper.number}, {paper.title}"
    pdf = render_pdf(documents.TEMPLATE, documents.paper_context(quote), title=title)

    def finish() -> None:
        file_paper(key=key, title=title, pdf=pdf, at=timezone.now())

    return finish


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
    if state_of(key).name == "ready":
        return None
    lease.renew("Laying out the pages")
    title = f"Quote {paper.paper.number}, {paper.paper.title}, accepted"
    context = documents.paper_context(quote) | {"accepted": paper}
    pdf = render_pdf(documents.TEMPLATE, context, title=title)

    def finish() -> None:
        file_paper(key=key, title=title, pdf=pdf, at=timezone.now())

    return finish


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
