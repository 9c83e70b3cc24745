"""Works out a quote's day again, as things are now. It is slow, so the worker does it."""

from datetime import datetime
from typing import Any

from commissions.models import CheckReason, PromiseCheck
from commissions.selectors.promises import promise_of, promise_of_accepted
from commissions.selectors.rates import QuoteChoices
from firing.plans.selectors.events import NOT_KNOWN, events_between, in_short
from firing.plans.selectors.fact_kinds import (
    Fact,
    Facts,
    OfLayer,
    PieceFact,
    facts_from_json,
)
from firing.plans.selectors.facts import plan_facts
from firing.promises.selectors.promises import StudioPromise
from studio.errors import StudioError
from studio.viewer import Viewer

MISSED_A_LOAD = "A planned load was missed."
NOTHING_HAPPENED = "Time has passed, and less is done than planned."


def found_again(check: PromiseCheck, *, now: datetime) -> dict[str, Any]:
    """Return the days now possible, or why there are none, and what changed since.

    Accepted work counts as it is, with what is painted and fired; a waiting quote is
    worked out for the brief as it is now.
    """
    own, others = _changes(check, now)
    told = {"changes": in_short([*others, *own])}
    try:
        found = _promise(check, now)
    except StudioError as problem:
        return {"problem": str(problem), **told}
    return {
        "ready_date": found.ready_date,
        "date_80": found.date_80,
        "date_95": found.date_95,
        "reason": _reason(check, [*own, *others]),
        "advice": [told for told in (found.relief, found.moves) if told],
        **told,
    }


def _promise(check: PromiseCheck, now: datetime) -> StudioPromise:
    quote = check.quote
    if quote.accepted_at is not None:
        return promise_of_accepted(quote=quote, now=now)
    choices = QuoteChoices.from_json(quote.inputs["choices"])
    return promise_of(commission=quote.commission, choices=choices, now=now)


def _reason(check: PromiseCheck, changes: list[str]) -> str:
    """Return the sentence that explains best why a day cannot be kept."""
    if check.why == CheckReason.MISSED:
        return MISSED_A_LOAD
    return changes[0] if changes else NOTHING_HAPPENED


def _changes(check: PromiseCheck, now: datetime) -> tuple[list[str], list[str]]:
    """Say what changed since the quote was made, to its own layers and otherwise.

    That its own pieces are new, is none.
    """
    quote = check.quote
    if not quote.promise_facts:
        return [], []
    before = facts_from_json(quote.promise_facts)
    if before is None:
        return [], [NOT_KNOWN]
    rows = quote.commission.commissioned_pieces.values_list("piece", flat=True)
    own = set(rows)
    after = plan_facts(quote.studio, now)
    viewer = Viewer.of_studio(quote.studio)

    def told(before: Facts, after: Facts) -> list[str]:
        return events_between(before, after, viewer=viewer, now=now)

    of_own = {key: fact for key, fact in after.items() if _is_of(fact, own)}
    others = {key: fact for key, fact in after.items() if key not in of_own}
    return told(
        {}, {k: f for k, f in of_own.items() if not isinstance(f, PieceFact)}
    ), told(before, others)


def _is_of(fact: Fact, pieces: set[int]) -> bool:
    if isinstance(fact, PieceFact):
        return fact.pk in pieces
    return isinstance(fact, OfLayer) and fact.piece in pieces
