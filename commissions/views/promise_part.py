"""The part of the quote's page that says when the work can be ready."""

from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING, Any

from commissions.forms.quote import QuoteForm
from commissions.selectors.promises import promise_of, promise_of_quote
from commissions.selectors.rates import QuoteChoices
from firing.promises.selectors.promises import StudioPromise
from studio.errors import StudioError
from studio.viewer import Viewer, day_words

if TYPE_CHECKING:
    from commissions.models import Commission, Quote


def choices_typed(form: QuoteForm) -> QuoteChoices | None:
    """Return the rates as typed; none when one of them is not a number.

    A draft just opened has the studio's usual ones.
    """
    if not form.is_bound:
        return form.base
    if not form.is_valid() and form.has_wrong_rate:
        return None
    return form.choices


def when_context(
    commission: "Commission", form: QuoteForm, *, viewer: Viewer, now: datetime
) -> dict[str, Any]:
    """Return what the part shows: a promise, or why there is none."""
    choices = choices_typed(form)
    if choices is None:
        return {"when_problem": "Put right what is marked below."}
    return _context(
        lambda: promise_of(commission=commission, choices=choices, now=now),
        viewer=viewer,
        now=now,
    )


def when_context_of_quote(
    quote: "Quote", *, viewer: Viewer, now: datetime
) -> dict[str, Any]:
    """Return the same for a quote that is not accepted yet, as it was quoted."""
    return _context(
        lambda: promise_of_quote(quote=quote, now=now), viewer=viewer, now=now
    )


def _context(
    find: Callable[[], StudioPromise], *, viewer: Viewer, now: datetime
) -> dict[str, Any]:
    try:
        found = find()
    except StudioError as problem:
        return {"when_problem": str(problem)}
    return {
        "promise": found,
        "planned_kilns": [
            ("enamel_kiln", found.enamel_kiln or ""),
            ("fuse_kiln", found.fuse_kiln or ""),
        ],
        "ready": day_words(found.ready_date),
        "kept_80": day_words(found.date_80) if found.date_80 else "",
        "kept_95": day_words(found.date_95) if found.date_95 else "",
        "maquette_on": day_words(found.maquette_date) if found.maquette_date else "",
        "chain": [
            (viewer.moment(link.until, now), link.what, link.notes)
            for link in found.reasons
        ],
    }
