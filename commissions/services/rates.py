"""Sets a studio's rates for future quotes."""

from dataclasses import asdict, fields
from datetime import datetime

from django.db import transaction

from commissions.models import PriceBook
from commissions.selectors.rates import StudioRates
from studio.errors import Refused
from studio.models import Person, Studio
from studio.selectors.bench_times import WorkMinutes
from studio.services import history
from studio.services.bench_times import set_work_minutes


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
    prices = asdict(rates)
    minutes = WorkMinutes(**{f.name: prices.pop(f.name) for f in fields(WorkMinutes)})
    set_work_minutes(studio=studio, minutes=minutes)
    book, _ = PriceBook.across_studios.update_or_create(studio=studio, defaults=prices)
    history.record(
        studio=studio, by=by, at=at, what="Changed the rates", is_about_money=True
    )
    return book
