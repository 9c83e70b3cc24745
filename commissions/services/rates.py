"""What is done to a studio's rates: set, for quotes made from then on."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from commissions.models import PriceBook
from studio.errors import Refused
from studio.models import Person, Studio
from studio.services import history


@dataclass(frozen=True, slots=True, kw_only=True)
class Rates:
    """Every rate a studio sets; minutes are for the unit in the name."""

    labour_rate_per_hour: Decimal
    energy_price_per_kwh: Decimal
    waste_percent: Decimal
    overhead_percent: Decimal
    remake_percent: Decimal
    margin_percent: Decimal
    tax_name: str
    tax_percent: Decimal
    deposit_percent: Decimal
    stage_percent: Decimal
    quote_valid_days: int
    cutting_minutes_per_layer: int
    painting_minutes_per_pass: int
    loading_minutes_per_firing: int
    assembly_minutes: int
    coldwork_minutes: int


@transaction.atomic
def set_rates(
    *, studio: Studio, rates: Rates, by: Person | None, at: datetime
) -> PriceBook:
    """Set the rates that the next quote starts from; issued quotes stay as they are.

    Raises
    ------
    Refused
        When deposit and stage payment are more than the whole.
    """
    if rates.deposit_percent + rates.stage_percent > 100:
        raise Refused("Deposit and stage payment together are at most 100 %.")
    values = {name: getattr(rates, name) for name in Rates.__dataclass_fields__}
    book, _ = PriceBook.across_studios.update_or_create(studio=studio, defaults=values)
    history.record(
        studio=studio, by=by, at=at, what="Changed the rates", is_about_money=True
    )
    return book
