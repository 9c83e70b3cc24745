"""Watches the promised dates that stand. Whatever may break one has it worked out again.

This is the one place that says when: after anything recorded in the studio that is not
about money, and when the clock alone broke something.
"""

from collections.abc import Sequence
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
from studio.models import HistoryEntry, Job, JobState, Studio
from studio.services.history import on_record
from studio.services.locks import free


@on_record
def watch_what_happens(entry: HistoryEntry) -> None:
    """Have every standing promise worked out again after something was recorded."""
    if entry.is_about_money:
        return
    promises = standing_promises(entry.studio, at=entry.at)
    asked = [(quote, CheckReason.HAPPENED) for quote in promises]
    _ask(entry.studio, asked, entry.at)


@on_sweep
def watch_the_clock(now: datetime) -> None:
    """Have a promise worked out again after a missed load, a late kiln, or a day."""
    for quote, why in promises_the_clock_broke(now):
        with transaction.atomic():
            _ask(quote.studio, [(quote, why)], now)


def _ask(
    studio: Studio, asked: Sequence[tuple[Quote, CheckReason]], at: datetime
) -> None:
    """Ask once for each: a check that has not begun yet will see this too."""
    newest = {quote.pk: newest_check(quote) for quote, _ in asked}
    open_checks = [one for one in newest.values() if one and one.made_at is None]
    jobs = [one.job_id for one in open_checks if one.job_id is not None]
    # Held until this is committed, so that none can begin without seeing it.
    waiting = Job.owned.for_studio(studio).filter(pk__in=jobs, state=JobState.WAITING)
    held = set(free(waiting).values_list("pk", flat=True)) if jobs else set()
    for quote, why in asked:
        last = newest[quote.pk]
        if last is None or last.made_at is not None or last.job_id not in held:
            asked_at = at if last is None else max(at, last.asked_at)
            ask_for_check(quote=quote, why=why, at=asked_at)
