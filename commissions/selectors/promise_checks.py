"""Whether a promised day still holds, in words for those who make it.

The client reads none of this; `shown_day` says what their page shows.
"""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from commissions.models import CheckReason, PromiseCheck, PromiseOutcome, Quote
from studio.models import JobState, Studio
from studio.tenancy import StudioQuerySet
from studio.viewer import day_words


class PromiseStanding(StrEnum):
    """Whether a promised day holds."""

    ASKED = "asked"
    FAILED = "failed"
    HOLDS = "holds"
    TIGHT = "tight"
    BROKEN = "broken"
    OVERDUE = "overdue"


KINDS = {
    PromiseStanding.ASKED: "doing",
    PromiseStanding.FAILED: "stopped",
    PromiseStanding.HOLDS: "done",
    PromiseStanding.TIGHT: "waiting",
    PromiseStanding.BROKEN: "problem",
    PromiseStanding.OVERDUE: "problem",
}
IN_SHORT = {
    PromiseStanding.ASKED: "Being worked out again",
    PromiseStanding.FAILED: "Could not be worked out",
    PromiseStanding.HOLDS: "On time",
    PromiseStanding.TIGHT: "On time only if nothing breaks",
    PromiseStanding.BROKEN: "Cannot be kept",
    PromiseStanding.OVERDUE: "Overdue",
}
WANT_A_HAND = frozenset(
    {PromiseStanding.TIGHT, PromiseStanding.BROKEN, PromiseStanding.OVERDUE}
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PromiseNews:
    """The newest check of a quote's day.

    Attributes
    ----------
    promised_date : date
        As promised, or agreed since.
    words : str
        What was found.
    changes : tuple of str
        What changed since the quote was made.
    to_do : tuple of str
        What the maker can do about it.
    """

    check: PromiseCheck
    standing: PromiseStanding
    promised_date: date
    words: str
    changes: tuple[str, ...]
    to_do: tuple[str, ...]

    @property
    def kind(self) -> str:
        """Return the shape for `_status.html`."""
        return KINDS[self.standing]

    @property
    def in_short(self) -> str:
        """Say it in a few words."""
        return IN_SHORT[self.standing]

    @property
    def wants_a_hand(self) -> bool:
        """Return whether the maker has to decide something."""
        return self.standing in WANT_A_HAND

    @property
    def is_asked(self) -> bool:
        return self.standing is PromiseStanding.ASKED

    @property
    def new_date(self) -> date | None:
        """Return the first day that could be promised now."""
        return self.check.date_80

    @property
    def new_date_words(self) -> str:
        """Say which day is possible now."""
        return _possible_words(self.check)


def day_of_quote(quote: Quote) -> date | None:
    """Return the day that counts: agreed since, else promised."""
    return quote.agreed_date or quote.promised_date


def checks(studio: Studio) -> StudioQuerySet[PromiseCheck]:
    """Return checks, the newest first."""
    return (
        PromiseCheck.owned.for_studio(studio)
        .select_related("quote__commission", "quote__studio", "studio", "job")
        .order_by("-asked_at", "-pk")
    )


def newest_check(quote: Quote) -> PromiseCheck | None:
    """Return the check of a quote that was asked for last, if any."""
    found = quote.promise_checks.all()
    return max(found, key=lambda one: (one.asked_at, one.pk), default=None)


def news_of(quote: Quote | None) -> PromiseNews | None:
    """Return whether a quote's day holds; none where nothing was promised or asked."""
    newest = None if quote is None else newest_check(quote)
    return None if quote is None or newest is None else _news(newest, quote)


def _news(check: PromiseCheck, quote: Quote) -> PromiseNews | None:
    promised = day_of_quote(quote)
    if promised is None:
        return None
    standing = _standing(check, promised)
    is_bad = standing in WANT_A_HAND
    return PromiseNews(
        check=check,
        standing=standing,
        promised_date=promised,
        words=_words(check, quote, standing, promised),
        changes=tuple(check.changes) if is_bad else (),
        to_do=tuple(_to_do(check, quote)) if is_bad else (),
    )


def _standing(check: PromiseCheck, promised: date) -> PromiseStanding:
    if check.made_at is None:
        is_over = check.job is None or check.job.state in {
            JobState.FAILED,
            JobState.DONE,
        }
        return PromiseStanding.FAILED if is_over else PromiseStanding.ASKED
    if check.outcome == PromiseOutcome.OVERDUE:
        return PromiseStanding.OVERDUE
    if check.outcome == PromiseOutcome.CANNOT:
        return PromiseStanding.BROKEN
    if not check.outcome:
        # Worked out before its outcome was kept: the watch has it worked out again.
        return PromiseStanding.ASKED
    if check.date_80 is None or check.date_80 > promised:
        return PromiseStanding.TIGHT
    return PromiseStanding.HOLDS


def _words(
    check: PromiseCheck, quote: Quote, standing: PromiseStanding, promised: date
) -> str:
    day = day_words(promised)
    if standing is PromiseStanding.ASKED:
        return f"{day} is being worked out again: {check.get_why_display()}."
    if standing is PromiseStanding.FAILED:
        return f"Whether {day} can be kept could not be worked out. Work it out again."
    likely = "A likely date is too far off to say."
    if check.date_80:
        likely = f"Likely ready by {day_words(check.date_80)}."
    if standing is PromiseStanding.HOLDS:
        return likely
    if standing is PromiseStanding.TIGHT:
        return f"Promised for {day}. {likely}"
    told = f"{day} cannot be kept."
    if standing is PromiseStanding.OVERDUE:
        told = f"{day} has passed and the work is not finished."
    elif quote.accepted_at is None:
        told = f"The quote's date can no longer be met: {day}."
    return f"{told} {check.reason or check.problem} It {_possible_words(check)}."


def _possible_words(check: PromiseCheck) -> str:
    """Say which date is possible now, after "It"."""
    if check.date_80:
        return f"can be promised for {day_words(check.date_80)} now"
    if check.ready_date:
        return f"is ready on {day_words(check.ready_date)} at the earliest"
    return "can be given no date now"


def _to_do(check: PromiseCheck, quote: Quote) -> list[str]:
    found = list(check.advice)
    if quote.accepted_at is not None:
        found.append("Or agree another day with the client and save it here.")
    elif check.why == CheckReason.CHANGED:
        found.append(
            "The quote stands as it was made: make another version with a new day."
        )
    else:
        found.append(
            "Or send a new version with a later day before the client answers."
        )
    return found


def shown_day(quote: Quote) -> date | None:
    """Return the day that the client may read as planned: one found to hold."""
    news = news_of(quote)
    is_sure = news is not None and news.standing is PromiseStanding.HOLDS
    return day_of_quote(quote) if is_sure else None
