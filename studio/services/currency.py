"""Changes the studio's currency: no price is ever read as another currency's.

Each price is converted at a rate that the owner types. What was quoted or paid keeps its
own currency.
"""

from datetime import datetime
from decimal import ROUND_HALF_UP, Decimal

from django.db import transaction

from studio.errors import Refused
from studio.models import CurrencyChange, Kiln, Person, Studio
from studio.money import known_currency, plain_number
from studio.selectors.prices_held import HeldPrice, last_currency_change, prices_held
from studio.services import history
from studio.services.locks import held
from studio.services.stock_costs import scale_costs
from studio.undo import because, checked_reason
from studio.viewer import count_words

# Prices are stored with four decimals, and fourteen digits in all.
STEP = Decimal("0.0001")
TOO_MUCH = Decimal(10) ** 10


@transaction.atomic
def change_currency(
    *,
    studio: Studio,
    was: str,
    currency: str,
    rate: Decimal | None,
    by: Person | None,
    at: datetime,
) -> CurrencyChange:
    """Set the studio's currency and convert every price it holds.

    Parameters
    ----------
    was
        The currency that the owner was shown; another one by now is refused.
    rate
        How much of the new currency one unit of the old is; needed where prices exist.

    Raises
    ------
    Refused
        When the currency is unknown, the same, or changed meanwhile, prices exist and
        there is no rate, or a price would become nothing or too long.
    """
    current = _held(studio)
    if current.currency != was:
        raise Refused(
            f"The currency is {current.currency} by now. Look at the prices again."
        )
    if not known_currency(currency):
        raise Refused(f"{currency!r} is no currency. Write one such as USD or EUR.")
    if currency == was:
        raise Refused(f"The prices are in {was} already. Write another currency.")
    prices = prices_held(current)
    if prices and (rate is None or rate <= 0):
        raise Refused(
            f"{count_words(len(prices), 'price')} in {was} would be read as {currency}. "
            f"Write how many {currency} one {was} is."
        )
    changed = []
    for price in prices:
        before = price.amount
        now = _converted(price, rate or Decimal(1), currency)
        _set(price, now)
        changed.append([*price.key, str(before), str(now)])
    if rate is not None:
        scale_costs(current, rate)
    _set_currency(current, currency)
    change: CurrencyChange = CurrencyChange.across_studios.create(
        studio=current,
        before=was,
        after=currency,
        rate=rate if prices else None,
        prices=changed,
        made_at=at,
        made_by=by,
    )
    at_rate = (
        f"; {count_words(len(prices), 'price')} converted, "
        f"1 {was} = {plain_number(rate)} {currency}"
        if prices and rate is not None
        else ""
    )
    _note(current, f"Changed the currency from {was} to {currency}{at_rate}", by, at)
    return change


@transaction.atomic
def take_back_currency(
    *, studio: Studio, reason: str, by: Person | None, at: datetime
) -> None:
    """Take the last change of currency back: every price is what it was before.

    Raises
    ------
    Refused
        When there is none, a price was changed or entered since, or it is late and no
        reason is given.
    """
    current = _held(studio)
    change = last_currency_change(current)
    if change is None or change.after != current.currency:
        raise Refused("The currency was not changed.")
    why = checked_reason(reason, recorded_at=change.made_at, now=at)
    prices = {price.key: price for price in prices_held(current)}
    then = {
        (m, pk, f): (Decimal(was), Decimal(now)) for m, pk, f, was, now in change.prices
    }
    if {key: price.amount for key, price in prices.items()} != {
        key: now for key, (_, now) in then.items()
    }:
        raise Refused(
            f"Prices were changed since, in {change.after}. Change the currency again "
            "at a rate."
        )
    for key, price in prices.items():
        _set(price, then[key][0])
    if change.rate:
        scale_costs(current, 1 / change.rate)
    _set_currency(current, change.before)
    change.taken_back_at = at
    change.save(update_fields=["taken_back_at"])
    what = f"Took back the change of currency to {change.after}{because(why)}"
    _note(current, what, by, at)


def _held(studio: Studio) -> Studio:
    """Hold the studio after its kilns, as DEVELOPERS.md orders it, and read it again."""
    list(held(Kiln.owned.for_studio(studio)).order_by("pk"))
    return held(Studio.objects).get(pk=studio.pk)


def _converted(price: HeldPrice, rate: Decimal, currency: str) -> Decimal:
    now = (price.amount * rate).quantize(STEP, ROUND_HALF_UP)
    if not 0 < now < TOO_MUCH:
        raise Refused(
            f"At this rate, {price.record} would cost {plain_number(now)} {currency}. "
            "Look at the rate again."
        )
    return now


def _set(price: HeldPrice, amount: Decimal) -> None:
    setattr(price.record, price.field, amount)
    # The studio's usual prices are a record of its own from now on.
    is_new = price.record.pk is None
    price.record.save(update_fields=None if is_new else [price.field])


def _set_currency(studio: Studio, currency: str) -> None:
    studio.currency = currency
    studio.save(update_fields=["currency"])


def _note(studio: Studio, what: str, by: Person | None, at: datetime) -> None:
    history.record(studio=studio, by=by, at=at, what=what, is_about_money=True)
