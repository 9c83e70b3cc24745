"""A studio's currency is changed: no price is read as another currency's."""

import datetime as dt
from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal
from threading import Barrier

import pytest
from django.db import connection
from django.utils import timezone

from commissions.models import PriceBook, Quote
from commissions.selectors.commissions import view_commission
from commissions.selectors.rates import price_book
from commissions.services import payments
from studio.errors import Refused
from studio.models import CurrencyChange, Glass, HistoryEntry, Kiln, Material, Studio
from studio.selectors.prices_held import kept_words, prices_held, prices_words
from studio.selectors.stock_costs import material_costs
from studio.services.currency import change_currency, take_back_currency
from studio.services.keeping import keep
from tests import make
from tests.commissions import build
from tests.commissions.selectors.test_costs import painted_passes
from tests.patience import LONG_S


@pytest.fixture
def priced(cast):
    """A cast whose studio holds a price of every kind."""
    build.enamel(cast, cost_per_unit=Decimal("0.12"))
    build.rates(cast, labour_rate_per_hour=Decimal(35))
    Kiln.across_studios.filter(studio=cast.studio).update(hourly_rate=Decimal(4))
    Glass.across_studios.filter(studio=cast.studio).update(cost_per_m2=Decimal(80))
    return cast


def change(cast, *, currency="EUR", rate=Decimal("0.9"), was="USD", at=None):
    return change_currency(
        studio=cast.studio,
        was=was,
        currency=currency,
        rate=rate,
        by=cast.owner,
        at=at or timezone.now(),
    )


def take_back(cast, *, reason="", at=None):
    take_back_currency(
        studio=cast.studio, reason=reason, by=cast.owner, at=at or timezone.now()
    )


def all_prices(cast):
    return {price.key: price.amount for price in prices_held(cast.studio)}


def test_every_price_is_converted_at_the_rate_and_counted_before(priced):
    assert prices_words(priced.studio) == [
        "1 price of glass",
        "1 price of a material",
        "1 price of a kiln hour",
        "2 rates for quotes",
    ]
    change(priced)
    assert Studio.objects.get(pk=priced.studio.pk).currency == "EUR"
    assert Glass.across_studios.get().cost_per_m2 == Decimal(72)
    assert Kiln.across_studios.get().hourly_rate == Decimal("3.6")
    assert Material.across_studios.get().cost_per_unit == Decimal("0.108")
    assert PriceBook.across_studios.get().labour_rate_per_hour == Decimal("31.5")
    line = HistoryEntry.across_studios.get()
    assert "5 prices converted, 1 USD = 0.9 EUR" in line.what
    assert line.is_about_money


def test_what_was_quoted_and_paid_keeps_its_currency(priced):
    quote = build.accepted(priced)
    payments.record_payment(
        commission=quote.commission,
        amount=Decimal(100),
        received_date=build.day(0),
        by=priced.owner,
        at=timezone.now(),
    )
    assert kept_words(priced.studio) == ["1 accepted quote", "1 payment"]
    change(priced)
    again = Quote.across_studios.get()
    assert (again.currency, again.total) == ("USD", quote.total)
    view = view_commission(quote.commission, at=timezone.now())
    assert (view.money.currency, view.money.paid) == ("USD", Decimal(100))


def test_money_that_came_in_before_any_quote_is_still_what_it_was(priced):
    commission = build.commission(priced)
    payments.record_payment(
        commission=commission,
        amount=Decimal(100),
        received_date=build.day(0),
        by=priced.owner,
        at=timezone.now(),
    )
    change(priced)
    commission.studio.refresh_from_db()
    view = view_commission(commission, at=timezone.now())
    assert (view.money.currency, view.money.paid) == ("USD", Decimal(100))
    assert payments.currency_of(commission) == "USD"


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"rate": None}, "5 prices in USD would be read as EUR"),
        ({"rate": Decimal(0)}, "how many EUR one USD is"),
        ({"rate": Decimal("0.00001")}, "Look at the rate again"),
        ({"rate": Decimal("1e9")}, "Look at the rate again"),
        ({"currency": "XQX"}, "is no currency"),
        ({"currency": "USD"}, "in USD already"),
        ({"was": "GBP"}, "is USD by now"),
    ],
)
def test_what_makes_no_sense_changes_nothing(priced, changes, words):
    before = all_prices(priced)
    with pytest.raises(Refused, match=words):
        change(priced, **changes)
    assert all_prices(priced) == before
    assert Studio.objects.get(pk=priced.studio.pk).currency == "USD"


def test_without_prices_it_takes_no_rate(cast):
    Glass.across_studios.filter(studio=cast.studio).update(cost_per_m2=0)
    Kiln.across_studios.filter(studio=cast.studio).update(hourly_rate=0)
    build.rates(cast, labour_rate_per_hour=0, energy_price_per_kwh=0)
    assert prices_words(cast.studio) == []
    change(cast, rate=None)
    assert CurrencyChange.across_studios.get().rate is None


def test_another_studios_prices_stay(priced, strangers):
    other = Glass.across_studios.create(
        **{
            field.attname: getattr(priced.glass, field.attname)
            for field in Glass._meta.concrete_fields
            if field.attname not in {"id", "studio_id", "cost_per_m2"}
        },
        studio=strangers.studio,
        cost_per_m2=Decimal(80),
    )
    change(priced)
    other.refresh_from_db()
    assert other.cost_per_m2 == Decimal(80)


def test_it_is_taken_back_exactly(priced):
    build.enamel(priced, name="Fine white", cost_per_unit=Decimal("0.0007"))
    before = all_prices(priced)
    change(priced, rate=Decimal("0.9137"))
    take_back(priced)
    assert all_prices(priced) == before
    assert Studio.objects.get(pk=priced.studio.pk).currency == "USD"
    with pytest.raises(Refused, match="was not changed"):
        take_back(priced)


def test_what_was_taken_is_worth_the_same_in_another_currency(priced):
    painted_passes(make.piece(studio=priced.studio, glass=priced.glass), 1)
    before = material_costs(priced.studio)
    assert set(before.values()) == {Decimal("4.8")}  # 0.06 m² at 80
    change(priced, rate=Decimal("0.5"))
    assert "delivery" not in " ".join(prices_words(priced.studio))
    assert set(material_costs(priced.studio).values()) == {Decimal("2.4")}
    later = make.piece(studio=priced.studio, glass=priced.glass)
    painted_passes(later, 1)
    take_back(priced)
    assert material_costs(priced.studio) == before | {later.pk: Decimal("4.8")}


def test_late_it_takes_a_reason_and_not_once_a_price_was_changed(priced):
    change(priced)
    later = timezone.now() + dt.timedelta(hours=1)
    with pytest.raises(Refused, match="Say why"):
        take_back(priced, at=later)
    Material.across_studios.update(cost_per_unit=Decimal("0.2"))
    with pytest.raises(Refused, match="Prices were changed since, in EUR"):
        take_back(priced, at=later, reason="Wrong rate")


@pytest.mark.django_db(transaction=True)
def test_of_two_changes_at_once_one_converts_the_prices(priced):
    gate = Barrier(2)

    def convert(currency: str) -> bool:
        try:
            gate.wait(timeout=LONG_S)
            change(priced, currency=currency)
        except Refused:
            return False
        finally:
            connection.close()
        return True

    with ThreadPoolExecutor(2) as pool:
        done = list(pool.map(convert, ["EUR", "GBP"]))
    assert sorted(done) == [False, True]
    assert Glass.across_studios.get().cost_per_m2 == Decimal(72)


def test_rates_that_nobody_set_are_converted_as_well(cast):
    usual = price_book(cast.studio).labour_rate_per_hour
    assert "2 rates for quotes" in prices_words(cast.studio)
    change(cast, currency="JPY", rate=Decimal(150))
    assert price_book(cast.studio).labour_rate_per_hour == usual * 150
    take_back(cast)
    assert price_book(cast.studio).labour_rate_per_hour == usual


def test_a_form_open_meanwhile_does_not_bring_the_old_currency_back(priced):
    stale = Studio.objects.get(pk=priced.studio.pk)
    change(priced)
    stale.name = "Renamed"
    keep(studio=stale, record=stale, changed=["name"], by=None, at=timezone.now())
    found = Studio.objects.get(pk=stale.pk)
    assert (found.name, found.currency) == ("Renamed", "EUR")
