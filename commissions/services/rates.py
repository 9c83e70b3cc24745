"""Sets a studio's rates for future quotes."""

from dataclasses import fields
from datetime import datetime

from django.db import transaction

from commissions.models import PriceBook
from commissions.selectors.rates import StudioRates
from studio.errors import Refused
from studio.labour import Task
from studio.models import Person, Studio
from studio.selectors.bench_times import tasks_of
from studio.services import history
from studio.services.bench_times import set_tasks


@transaction.atomic
def set_rates(
    *, studio: Studio, rates: StudioRates, by: Person | None, at: datetime
) -> PriceBook:
    """Set the rates that the next quote starts from; sent quotes stay as they are.

    Raises
    ------
    Refused
        When deposit and stage payment are more than the whole.
    """
    if rates.deposit_percent + rates.stage_percent > 100:
        raise Refused("Deposit and stage payment together are at most 100 %.")
    prices = {f.name: getattr(rates, f.name) for f in fields(rates)}
    set_tasks(studio=studio, tasks=prices.pop("tasks"))
    book, _ = PriceBook.across_studios.update_or_create(studio=studio, defaults=prices)
    history.record(
        studio=studio, by=by, at=at, what="Changed the rates", is_about_money=True
    )
    return book


@transaction.atomic
def take_over_record(
    *, studio: Studio, task: Task, by: Person | None, at: datetime
) -> None:
    """Let a task go by the rule that the studio's own records give."""
    tasks = [task if one.key == task.key else one for one in tasks_of(studio)]
    set_tasks(studio=studio, tasks=tasks)
    history.record(
        studio=studio,
        by=by,
        at=at,
        what=f"{task.name} goes by the studio's own times",
        is_about_money=True,
    )
