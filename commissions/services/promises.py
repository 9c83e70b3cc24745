"""Promised days: the worker works them out again, or the client agrees to others."""

from dataclasses import dataclass, field
from datetime import date, datetime

from django.db import transaction

from commissions.models import (
    WATCHED,
    CheckReason,
    Commission,
    PromiseCheck,
    PromiseOutcome,
    Quote,
)
from commissions.selectors.promise_checks import checks, day_of_quote, newest_check
from commissions.selectors.quotes import QuoteState, accepted_quote, day_of, view_quotes
from commissions.services.commissions import locked, refuse_closed
from commissions.services.due_dates import tell_due_date
from commissions.services.notes import note
from studio import jobs
from studio.errors import Refused
from studio.models import JobState, Person, Studio

CHECK_JOB = "commissions.check_promise"


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedPromise:
    """What the worker found: days, or why there are none."""

    ready_date: date | None = None
    date_80: date | None = None
    date_95: date | None = None
    problem: str = ""
    reason: str = ""
    changes: list[str] = field(default_factory=list)
    advice: list[str] = field(default_factory=list)


def ask_for_check(*, quote: Quote, why: CheckReason, at: datetime) -> None:
    """Have the worker check a quote's day; does nothing if none is promised.

    Called in the transaction of what happened.
    """
    if day_of_quote(quote) is None:
        return
    check = PromiseCheck.across_studios.create(
        studio=quote.studio, quote=quote, why=why, asked_at=at
    )
    order_check(check)


def order_check(check: PromiseCheck) -> None:
    """Order a check from the worker."""
    check.job = jobs.enqueue(
        studio=check.studio,
        name=CHECK_JOB,
        key=f"promise check {check.pk}",
        check_id=check.pk,
    )
    check.save(update_fields=["job"])


@transaction.atomic
def keep_check(
    *, studio: Studio, check_id: int, found: CheckedPromise, at: datetime
) -> None:
    """Save the worker's result beside what was promised; a deleted quote needs none."""
    check = checks(studio).filter(pk=check_id).first()
    if check is None:
        return
    for name in CheckedPromise.__dataclass_fields__:
        setattr(check, name, getattr(found, name))
    check.made_at = at
    check.outcome = _outcome(check, day_of(studio, at))
    if check.outcome == PromiseOutcome.STANDS:
        check.reason = ""
    check.save()
    # Of what the watch asked for only the last counts; it asks often.
    checks(studio).filter(
        quote=check.quote_id, why__in=WATCHED, pk__lt=check.pk
    ).delete()


def drop_check(*, studio: Studio, check_id: int) -> None:
    """Delete a check of a date that counts no more."""
    checks(studio).filter(pk=check_id).delete()


def _outcome(check: PromiseCheck, today: date) -> PromiseOutcome:
    promised = day_of_quote(check.quote)
    is_accepted = check.quote.accepted_at is not None
    if is_accepted and promised is not None and promised < today:
        return PromiseOutcome.OVERDUE
    ready = check.ready_date
    if promised is None or ready is None or ready > promised:
        return PromiseOutcome.CANNOT
    return PromiseOutcome.STANDS


@transaction.atomic
def check_again(*, commission: Commission, by: Person | None, at: datetime) -> None:
    """Check the day of the accepted or waiting quote again.

    While a check is running, asking again changes nothing.

    Raises
    ------
    Refused
        When it is closed, or no quote of it promises a day.
    """
    current = locked(commission)
    refuse_closed(current)
    quote = _quote_that_counts(current, at)
    if quote is None or day_of_quote(quote) is None:
        raise Refused(
            "No sent quote of this commission promises a day. Write one into the next "
            "version."
        )
    newest = newest_check(quote)
    if newest is not None and newest.made_at is None and _is_on_its_way(newest):
        return
    ask_for_check(quote=quote, why=CheckReason.ASKED, at=at)


def _is_on_its_way(check: PromiseCheck) -> bool:
    job = check.job
    return job is not None and job.state in {JobState.WAITING, JobState.RUNNING}


def ask_after_change(*, commission: Commission, at: datetime) -> None:
    """Have the day checked for the changed brief, if a quote is waiting.

    Called in the transaction of the change.
    """
    quote = _quote_that_counts(commission, at)
    if quote is not None and quote.accepted_at is None:
        ask_for_check(quote=quote, why=CheckReason.CHANGED, at=at)


def ask_after_work_changed(*, commission: Commission, at: datetime) -> None:
    """Have the promised day worked out again after the work itself changed.

    Called in the transaction of the change.
    """
    quote = accepted_quote(commission)
    if quote is not None:
        ask_for_check(quote=quote, why=CheckReason.ASKED, at=at)


def _quote_that_counts(commission: Commission, at: datetime) -> Quote | None:
    """Return the accepted quote, else the one waiting for an answer."""
    accepted = accepted_quote(commission)
    if accepted is not None:
        return accepted
    versions = Quote.owned.for_studio(commission.studio).filter(commission=commission)
    today = day_of(commission.studio, at)
    for view in view_quotes(versions, today=today):
        if view.state is QuoteState.WAITING:
            return view.quote
    return None


@transaction.atomic
def agree_date(
    *, commission: Commission, day: date, by: Person | None, at: datetime
) -> None:
    """Save another day that was agreed with the client; it counts from now on.

    Raises
    ------
    Refused
        When it is closed, nothing is accepted yet, or the day has passed.
    """
    current = locked(commission)
    refuse_closed(current)
    quote = accepted_quote(current)
    if quote is None:
        raise Refused(
            "Nothing is accepted yet: write the day into another version of the quote."
        )
    if day < day_of(current.studio, at):
        raise Refused("That day has passed. Give one from today on.")
    if day_of_quote(quote) == day:
        return
    before = day_of_quote(quote)
    quote.agreed_date, quote.agreed_at = day, at
    quote.save(update_fields=["agreed_date", "agreed_at"])
    tell_due_date(current)
    instead = f" instead of {before:%a %-d %b %Y}" if before else ""
    note(
        current,
        by=by,
        at=at,
        what=f"Agreed with the client: ready by {day:%a %-d %b %Y}{instead}",
    )
    ask_for_check(quote=quote, why=CheckReason.ASKED, at=at)
