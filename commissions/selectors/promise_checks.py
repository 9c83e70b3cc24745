"""Whether a promised day still holds, in words for those who make it.

The client reads none of this; `shown_day` says what their page shows.
"""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from commissions.models import CheckReason, PromiseCheck, Quote
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


KINDS = {
    PromiseStanding.ASKED: "doing",
    PromiseStanding.FAILED: "stopped",
    PromiseStanding.HOLDS: "done",
    PromiseStanding.TIGHT: "waiting",
    PromiseStanding.BROKEN: "problem",
}
IN_SHORT = {
    PromiseStanding.ASKED: "The day is being worked out",
    PromiseStanding.FAILED: "The day could not be worked out",
    PromiseStanding.HOLDS: "The day holds",
    PromiseStanding.TIGHT: "The day holds only if nothing is lost",
    PromiseStanding.BROKEN: "The day cannot be kept",
}


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
        return self.standing in {PromiseStanding.TIGHT, PromiseStanding.BROKEN}

    @property
    def is_asked(self) -> bool:
        return self.standing is PromiseStanding.ASKED

    @property
    def new_date(self) -> date | None:
        """Return the day that could be promised now."""
        return self.check.date_80


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


def news_of(quote: Quote | None) -> PromiseNews | None:
    """Return whether a quote's day holds; none where nothing was promised or asked."""
    if quote is None:
        return None
    newest = max(
        quote.promise_checks.all(), key=lambda one: (one.asked_at, one.pk), default=None
    )
    return None if newest is None else _news(newest, quote)


def _news(check: PromiseCheck, quote: Quote) -> PromiseNews | None:
    promised = day_of_quote(quote)
    if promised is None:
        return None
    standing = _standing(check, promised)
    is_bad = standing in {PromiseStanding.TIGHT, PromiseStanding.BROKEN}
    return PromiseNews(
        check=check,
        standing=standing,
        promised_date=promised,
        words=_words(check, standing, promised),
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
    if check.problem or check.ready_date is None or check.ready_date > promised:
        return PromiseStanding.BROKEN
    if check.date_80 is None or check.date_80 > promised:
        return PromiseStanding.TIGHT
    return PromiseStanding.HOLDS


def _words(check: PromiseCheck, standing: PromiseStanding, promised: date) -> str:
    day = day_words(promised)
    if standing is PromiseStanding.ASKED:
        return f"{day} is being worked out again, as {check.get_why_display()}."
    if standing is PromiseStanding.FAILED:
        return f"Whether {day} holds could not be worked out. Work it out again."
    if check.problem:
        return f"{day} was promised, and no day can be given any more. {check.problem}"
    later = (
        f"In 80 of 100 cases it is ready by {day_words(check.date_80)}"
        if check.date_80
        else "A day that is kept in 80 of 100 cases lies later than can be reckoned"
    )
    ready = day_words(check.ready_date) if check.ready_date else ""
    if standing is PromiseStanding.BROKEN:
        return (
            f"{day} cannot be kept: with nothing lost and nothing late it is ready on "
            f"{ready}. {later}."
        )
    if standing is PromiseStanding.TIGHT:
        return (
            f"{day} is kept only if nothing is lost and nothing takes longer: then it "
            f"is ready on {ready}. {later}."
        )
    return f"{day} holds. {later}."


def _to_do(check: PromiseCheck, quote: Quote) -> list[str]:
    found = list(check.advice)
    if quote.accepted_at is not None:
        found.append("Or agree on another day with the client and write it down here.")
    elif check.why == CheckReason.CHANGED:
        found.append(
            "The quote stands as it was made: make another version with a new day."
        )
    else:
        found.append(
            "Or make another version with a later day before the client answers."
        )
    return found


def shown_day(quote: Quote) -> date | None:
    """Return the day that the client's page may show for accepted work: one that holds.

    A day agreed since counts at once; a promised one once a check says that it holds.
    """
    if quote.agreed_date is not None:
        return quote.agreed_date
    news = news_of(quote)
    is_sure = news is not None and news.standing is PromiseStanding.HOLDS
    return quote.promised_date if is_sure else None
