"""Drafts, sends, accepts and declines quotes.

A version is frozen when it is drafted. Answers lock the commission's row first, so that
of two answers at once the second one finds the first.
"""

import json
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from django.core.serializers.json import DjangoJSONEncoder
from django.db import transaction

from commissions import documents
from commissions.models import (
    CheckReason,
    Commission,
    Instalment,
    Quote,
    QuoteLine,
)
from commissions.selectors.prices import Priced, price_work
from commissions.selectors.quotes import (
    QuoteState,
    accepted_quote,
    accepted_words,
    day_of,
    options_of,
    view_quote,
)
from commissions.selectors.rates import (
    QuoteChoices,
    RatesFrom,
    asked_of,
    choices_for,
    price_book,
)
from commissions.services.commissions import locked, refuse_closed
from commissions.services.due_dates import tell_due_date
from commissions.services.notes import note
from commissions.services.papers import ask_for_paper
from commissions.services.pieces import make_pieces, set_sizes, take_over
from commissions.services.promises import ask_for_check
from commissions.services.sharing import make_share_link
from firing.plans.selectors.fact_kinds import facts_as_json
from firing.plans.selectors.facts import plan_facts
from studio.errors import Refused
from studio.models import Person
from studio.money import format_money

FOUR_PLACES = Decimal("0.0001")
DUE_ON = {
    "Deposit": Instalment.DueOn.ACCEPTED,
    "Stage payment": Instalment.DueOn.STACKED,
    "Balance": Instalment.DueOn.FINISHED,
}


@transaction.atomic
def draft_quote(
    *,
    commission: Commission,
    by: Person | None,
    at: datetime,
    choices: QuoteChoices | None = None,
    message: str = "",
    promised_date: date | None = None,
    valid_until_date: date | None = None,
    shows_lines: bool = False,
    form_key: str = "",
) -> Quote:
    """Price the commission and save the result as its next version.

    Without choices it has those of the version before, else the studio's. A form that
    is sent a second time, by its key, returns what the first made.

    Raises
    ------
    StudioError
        When the commission is closed or accepted, no kiln can take the work, a date
        has passed, or a number is out of range.
    """
    current = locked(commission)
    _refuse_settled(current)
    return keep_draft(
        current,
        priced=price_work(commission=current, choices=choices or choices_for(current)),
        by=by,
        at=at,
        message=message,
        promised_date=promised_date,
        valid_until_date=valid_until_date,
        shows_lines=shows_lines,
        form_key=form_key,
    )


def keep_draft(
    current: Commission,
    *,
    priced: Priced,
    by: Person | None,
    at: datetime,
    message: str = "",
    promised_date: date | None = None,
    valid_until_date: date | None = None,
    shows_lines: bool = False,
    adds_to: Quote | None = None,
    terms: RatesFrom | None = None,
    form_key: str = "",
    beside: Quote | None = None,
    option: str = "",
    option_name: str = "",
) -> Quote:
    """Save a price as the next version, or as an option `beside` a draft.

    Called while the commission is held.

    Raises
    ------
    Refused
        When a date has passed.
    """
    today = day_of(current.studio, at)
    if valid_until_date is None:
        days = price_book(current.studio).quote_valid_days
        valid_until_date = today + timedelta(days=days)
    for word, day in (("valid until", valid_until_date), ("promised", promised_date)):
        if day is not None and day < today:
            raise Refused(f"The date {word} has passed. Give one from today on.")
    facts = {}
    if promised_date is not None:
        facts = facts_as_json(plan_facts(current.studio, at))
    inputs = {
        **priced.as_json(),
        "asked": {name: str(value) for name, value in asked_of(current).items()},
        **({"terms": str(terms)} if terms else {}),
        **({"form": form_key} if form_key else {}),
    }
    said = {
        "inputs": json.loads(json.dumps(inputs, cls=DjangoJSONEncoder)),
        "promised_date": promised_date,
        "valid_until_date": valid_until_date,
        "message": message,
    }
    if (made := _made_by_form(current, form_key, said)) is not None:
        return made
    newest: Quote | None = (
        Quote.across_studios.filter(commission=current).order_by("-version").first()
    )
    quote: Quote = Quote.across_studios.create(
        studio=current.studio,
        commission=current,
        version=_version(newest, beside),
        option=option,
        option_name=option_name,
        adds_to=adds_to,
        currency=priced.price.currency,
        net=priced.price.net,
        tax=priced.price.tax,
        tax_name=priced.tax_names[0],
        total=priced.price.total,
        to_studio=priced.price.to_studio,
        promise_facts=facts,
        **said,
        made_at=at,
        made_by=by,
    )
    _keep_lines(quote, priced, shown=shows_lines)
    _keep_instalments(quote, priced)
    note(
        current,
        by=by,
        at=at,
        what=f"Drafted {quote.name}: {format_money(quote.total, quote.currency)}",
    )
    return quote


def _version(newest: Quote | None, beside: Quote | None) -> int:
    if beside is not None:
        return beside.version
    return 1 if newest is None else newest.version + 1


def _made_by_form(
    commission: Commission, form_key: str, said: dict[str, Any]
) -> Quote | None:
    """Return what the same form made, saying the same, when it was sent before.

    Sent again with something else in it, it makes another version.
    """
    if not form_key:
        return None
    made: Quote | None = (
        Quote.across_studios.filter(commission=commission, inputs__form=form_key)
        .order_by("-version")
        .first()
    )
    if made is None or any(getattr(made, name) != one for name, one in said.items()):
        return None
    return made


def _keep_lines(quote: Quote, priced: Priced, *, shown: bool) -> None:
    QuoteLine.across_studios.bulk_create(
        QuoteLine(
            studio_id=quote.studio_id,
            quote=quote,
            number=number,
            section=str(line.section),
            key=line.key[:40],
            label=line.label[:120],
            explanation=line.explanation,
            # The amount is exact already; the quantity is stored as it is read.
            quantity=line.quantity.quantize(FOUR_PLACES),
            unit=line.unit[:20],
            unit_price=line.unit_price,
            amount=line.amount,
            is_shown=shown,
        )
        for number, line in enumerate(priced.price.lines, start=1)
    )


def _keep_instalments(quote: Quote, priced: Priced) -> None:
    Instalment.across_studios.bulk_create(
        Instalment(
            studio_id=quote.studio_id,
            quote=quote,
            number=number,
            label=payment.label,
            due_on=DUE_ON[payment.label],
            percent=payment.percent,
            amount=payment.amount,
        )
        for number, payment in enumerate(priced.plan, start=1)
    )


@transaction.atomic
def send_quote(*, quote: Quote, by: Person | None, at: datetime) -> Quote:
    """Show a quote to the client, who can read and answer it on their link from now on.

    Its options are sent with it. It replaces an earlier version that waits for an answer.

    Raises
    ------
    Refused
        When it is no draft any more, a newer one was sent, or it has run out.
    """
    commission = locked(quote.commission)
    refuse_closed(commission)
    view = view_quote(Quote.across_studios.get(pk=quote.pk), at=at)
    if quote.adds_to_id is None:
        _refuse_settled(commission)
    if view.state is not QuoteState.DRAFT:
        raise Refused(
            f"Quote {quote.version} cannot be sent: {view.state_words.lower()}."
        )
    sent = view.quote
    if sent.valid_until_date < day_of(sent.studio, at):
        raise Refused(
            f"Quote {sent.version} expired before it was sent. Make a new one."
        )
    for one in options_of(sent):
        one.sent_at = at
        one.paper = documents.written_paper(one).as_json()
        one.save(update_fields=["sent_at", "paper"])
        ask_for_paper(quote=one)
    sent.refresh_from_db()
    make_share_link(commission=commission, by=by, at=at)
    # An addendum is for work that is in the plan already, and cannot be checked anew.
    if sent.adds_to_id is None:
        ask_for_check(quote=sent, why=CheckReason.SENT, at=at)
    note(commission, by=by, at=at, what=f"Sent {sent.name}")
    return sent


@transaction.atomic
def accept_quote(*, quote: Quote, name: str, at: datetime) -> Quote:
    """Record that the client accepts, and make the piece and its layers.

    Once a quote is accepted, accepting it or another version again changes nothing and
    returns the accepted one, which says by whom and when. Only an addendum to it is
    accepted after it, and its terms count from then on.

    Raises
    ------
    Refused
        When the quote no longer stands: the message says why.
    """
    commission = locked(quote.commission)
    current: Quote = Quote.across_studios.get(pk=quote.pk)
    accepted = accepted_quote(commission)
    if accepted is not None and current.adds_to_id != accepted.pk:
        return accepted
    if not name.strip():
        raise Refused("Write your name, so that the studio knows who accepts.")
    _refuse_unanswerable(commission, current, at)
    take_effect(
        current, commission=commission, name=name, accepted_at=at, by=None, at=at
    )
    return current


def take_effect(
    current: Quote,
    *,
    commission: Commission,
    name: str,
    accepted_at: datetime,
    by: Person | None,
    at: datetime,
) -> None:
    """Let a quote be what is accepted; called while the commission is held."""
    current.accepted_at = accepted_at
    current.accepted_by_name = " ".join(name.split())[:160]
    current.save()
    piece = None
    if current.adds_to_id is None:
        piece = make_pieces(commission=commission, quote=current, at=at)
    else:
        take_over(commission, current)
        set_sizes(commission=commission, quote=current, by=by, at=at)
    tell_due_date(commission)
    ask_for_check(quote=current, why=CheckReason.ACCEPTED, at=at)
    note(
        commission,
        by=by,
        at=at,
        what=f"{current.accepted_by_name} accepted {current.name}"
        + (f": {current.accepted_how}" if current.accepted_how else ""),
        piece=piece,
    )


@transaction.atomic
def decline_quote(*, quote: Quote, reason: str, at: datetime) -> Quote:
    """Record that the client does not accept; the studio may make another version.

    Raises
    ------
    Refused
        When the quote no longer stands: the message says why.
    """
    commission = locked(quote.commission)
    current: Quote = Quote.across_studios.get(pk=quote.pk)
    if current.declined_at is not None:
        return current
    _refuse_unanswerable(commission, current, at)
    for one in options_of(current):
        one.declined_at = at
        one.declined_reason = reason.strip()[:400]
        one.save(update_fields=["declined_at", "declined_reason"])
    current.refresh_from_db()
    words = f": {current.declined_reason}" if current.declined_reason else ""
    note(
        commission,
        by=None,
        at=at,
        what=f"The client declined {current.name}{words}",
    )
    return current


def _refuse_settled(commission: Commission) -> None:
    refuse_closed(commission)
    if (accepted := accepted_quote(commission)) is not None:
        raise Refused(
            f"Quote {accepted.version} is accepted, so its price stands. Change the "
            "request and make an addendum to it."
        )


def _refuse_unanswerable(commission: Commission, quote: Quote, at: datetime) -> None:
    """Refuse in words for the client, who reads them on their page."""
    if commission.closed_at is not None:
        raise Refused("This commission is closed. Please ask the studio.")
    accepted = accepted_quote(commission)
    if accepted is not None and quote.adds_to_id != accepted.pk:
        raise Refused(accepted_words(accepted))
    state = view_quote(quote, at=at).state
    problems = {
        QuoteState.DRAFT: "This quote is not ready to be answered yet.",
        QuoteState.DECLINED: (
            "This quote was declined. Please ask the studio for a new one."
        ),
        QuoteState.RUN_OUT: (
            "This quote has expired. Please ask the studio for a new one."
        ),
        QuoteState.REPLACED: (
            "The studio has replaced this quote. Please read the newer one first."
        ),
    }
    if state in problems:
        raise Refused(problems[state])
