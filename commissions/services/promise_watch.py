"""Watches the promised dates that stand. Whatever may break one has it worked out again.

This is the one place that says when: after anything recorded in the studio that is not
about money, and when the clock alone broke something.
"""

from datetime import datetime

from django.db import transaction

from commissions.models import CheckReason, Quote
from commissions.selectors.promise_checks import newest_check
from commissions.selectors.standing_promises import (
    promises_the_clock_broke,
    standing_promises,
)
from commissions.services.promises import ask_for_check
from studio.jobs import on_sweep
from studio.models import HistoryEntry, Job, JobState
from studio.services.history import on_record
from studio.services.locks import free


@on_record
def watch_what_happens(entry: HistoryEntry) -> None:
    """Have every standing promise worked out again after something was recorded."""
    if entry.is_about_money:
        return
    for quote in standing_promises(entry.studio, at=entry.at):
        _ask(quote, CheckReason.HAPPENED, entry.at)


@on_sweep
def watch_the_clock(now: datetime) -> None:
    """Have a promise worked out again after a missed load, a late kiln, or a day."""
    for quote, why in promises_the_clock_broke(now):
        with transaction.atomic():
            _ask(quote, why, now)


def _ask(quote: Quote, why: CheckReason, at: datetime) -> None:
    """Ask once: a check that has not begun yet will see this too."""
    newest = newest_check(quote)
    if newest is not None and newest.made_at is None and newest.job is not None:
        # Held until this is committed, so that it cannot begin without seeing it.
        waiting = Job.owned.for_studio(quote.studio).filter(
            pk=newest.job.pk, state=JobState.WAITING
        )
        if free(waiting).first() is not None:
            return
    ask_for_check(
        quote=quote, why=why, at=at if newest is None else max(at, newest.asked_at)
    )
