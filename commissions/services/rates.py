"""Sets a studio's rates for the quotes to come."""

from dataclasses import asdict
from datetime import datetime

from django.db import transaction

from commissions.models import PriceBook
from commissions.selectors.rates import StudioRates
from studio.errors import Refused
from studio.models import Person, Studio
from studio.services import history


@transaction.atomic
def set_rates(
    *, studio: Studio, rates: StudioRates, by: Person | None, at: datetime
) -> PriceBook:
    """Set the rates that the next quote starts from; issued quotes stay as they are.

    Raises
    ------
    Refused
        When deposit and stage payment are more than the whole.
    """
    if rates.deposit_percent + rates.stage_percent > 100:
        raise Refused("Deposit and stage payment together are at most 100 %.")
    book, _ = PriceBook.across_studios.update_or_create(
        studio=studio, defaults=asdict(rates)
    )
    history.record(
        studio=studio, by=by, at=at, what="Changed the rates", is_about_money=True
    )
    return book
