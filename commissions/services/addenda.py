"""Drafts addenda: a change of accepted work, with its own price and its own day.

Sending and answering an addendum is as for any quote: `commissions.services.quotes`.
"""

from datetime import date, datetime
from typing import Any

from django.db import transaction

from commissions.models import Commission, Quote
from commissions.selectors.prices import price_work
from commissions.selectors.promise_checks import day_of_quote
from commissions.selectors.quotes import accepted_quote
from commissions.selectors.rates import (
    QuoteChoices,
    RatesFrom,
    choices_for,
    is_as_quoted,
)
from commissions.services.commissions import locked, refuse_closed
from commissions.services.notes import note
from commissions.services.pieces import take_over
from commissions.services.quotes import keep_draft
from studio.errors import Refused
from studio.models import Person


@transaction.atomic
def draft_addendum(
    *,
    commission: Commission,
    terms: RatesFrom,
    by: Person | None,
    at: datetime,
    choices: QuoteChoices | None = None,
    promised_date: date | None = None,
    **words: Any,
) -> Quote:
    """Price what is asked for now and save it as an addendum to the accepted quote.

    Its total is the whole price. At the terms of the accepted quote, materials and
    kilns cost what they cost in it.

    Raises
    ------
    StudioError
        When the commission is closed or not accepted, nothing differs, its currency is
        another by now, its day is left out, or as for any other quote.
    """
    current = locked(commission)
    refuse_closed(current)
    accepted = _accepted(current)
    if accepted.currency != current.studio.currency:
        raise Refused(
            f"Quote {accepted.version} is in {accepted.currency}, and the studio's "
            f"prices are in {current.studio.currency} now. Take the change in as a "
            "commission of its own."
        )
    chosen = choices or choices_for(current, terms)
    before = QuoteChoices.from_json(accepted.inputs["choices"])
    agreed = day_of_quote(accepted)
    is_same_work = is_as_quoted(current, accepted) and chosen == before
    if is_same_work and promised_date == agreed:
        raise Refused(
            f"Nothing differs from what was accepted with {accepted.name}. Change the "
            "request first."
        )
    if agreed is not None and promised_date is None:
        raise Refused(
            f"Say the day for the changed work. Agreed so far: {agreed:%a %-d %b %Y}."
        )
    return keep_draft(
        current,
        priced=price_work(
            commission=current,
            choices=chosen,
            at_prices_of=accepted if terms is RatesFrom.VERSION else None,
        ),
        by=by,
        at=at,
        promised_date=promised_date,
        adds_to=accepted,
        terms=terms,
        **words,
    )


@transaction.atomic
def keep_as_agreed(*, commission: Commission, by: Person | None, at: datetime) -> None:
    """Give up a change of accepted work: the request is as it was accepted again.

    Raises
    ------
    Refused
        When nothing is accepted.
    """
    current = locked(commission)
    accepted = _accepted(current)
    take_over(current, accepted)
    note(
        current,
        by=by,
        at=at,
        what=f"Set {current.title} back to what was accepted with {accepted.name}",
    )


def _accepted(commission: Commission) -> Quote:
    accepted = accepted_quote(commission)
    if accepted is None:
        raise Refused("Nothing is accepted yet: make another version of the quote.")
    return accepted
