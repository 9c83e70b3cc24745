"""Works out a quote's day again, as things are now. It is slow, so the worker does it."""

from datetime import datetime
from typing import Any

from commissions.models import PromiseCheck
from commissions.selectors.promises import promise_of, promise_of_accepted
from commissions.selectors.rates import QuoteChoices
from firing.plans.selectors.events import NOT_KNOWN, events_between, in_short
from firing.plans.selectors.fact_kinds import PieceFact, facts_from_json
from firing.plans.selectors.facts import plan_facts
from firing.promises.selectors.promises import StudioPromise
from studio.errors import StudioError
from studio.viewer import Viewer


def found_again(check: PromiseCheck, *, now: datetime) -> dict[str, Any]:
    """Return the days now possible, or why there are none, and what changed since.

    Accepted work counts as it is, with what is painted and fired; a waiting quote is
    worked out for the brief as it is now.
    """
    changes = _changes(check, now)
    try:
        found = _promise(check, now)
    except StudioError as problem:
        return {"problem": str(problem), "changes": changes}
    return {
        "ready_date": found.ready_date,
        "date_80": found.date_80,
        "date_95": found.date_95,
        "changes": changes,
        "advice": [told for told in (found.relief, found.moves) if told],
    }


def _promise(check: PromiseCheck, now: datetime) -> StudioPromise:
    quote = check.quote
    if quote.accepted_at is not None:
        return promise_of_accepted(quote=quote, now=now)
    choices = QuoteChoices.from_json(quote.inputs["choices"])
    return promise_of(commission=quote.commission, choices=choices, now=now)


def _changes(check: PromiseCheck, now: datetime) -> list[str]:
    """Say what changed since the quote was made; its own pieces are no news."""
    quote = check.quote
    if not quote.promise_facts:
        return []
    rows = quote.commission.commissioned_pieces.values_list("piece", flat=True)
    before = facts_from_json(quote.promise_facts)
    if before is None:
        return [NOT_KNOWN]
    own = {(PieceFact.kind, pk) for pk in rows}
    facts = plan_facts(quote.studio, now)
    after = {key: fact for key, fact in facts.items() if key not in own}
    viewer = Viewer.of_studio(quote.studio)
    return in_short(events_between(before, after, viewer=viewer, now=now))
