"""A studio's rates: prices and minutes set together, for its next quotes only."""

from dataclasses import replace
from decimal import Decimal

import pytest

from commissions.models import PriceBook
from commissions.selectors.rates import studio_rates
from commissions.services.rates import set_rates
from studio.errors import Refused
from studio.models import HistoryEntry
from studio.selectors.bench_times import tasks_of
from tests import plain
from tests.make import NOW


def changed(cast, **changes):
    rates = replace(studio_rates(cast.studio), **changes)
    return set_rates(studio=cast.studio, rates=rates, by=cast.owner, at=NOW)


def test_what_was_set_is_what_the_next_quote_starts_from(cast, strangers):
    before = studio_rates(strangers.studio)
    mine = plain.tasks(stacking=77)
    changed(cast, markup_percent=Decimal(35), tax_name="VAT", tasks=mine)
    found = studio_rates(cast.studio)
    assert (found.markup_percent, found.tax_name) == (35, "VAT")
    assert found.tasks == mine
    assert tasks_of(cast.studio) == mine, "plans use the same"
    assert studio_rates(strangers.studio) == before


def test_setting_them_again_changes_the_same_book(cast):
    first = changed(cast, quote_valid_days=10)
    assert changed(cast, quote_valid_days=20) == first
    assert PriceBook.owned.for_studio(cast.studio).get().quote_valid_days == 20


def test_every_change_is_a_line_about_money(cast):
    changed(cast)
    line = HistoryEntry.owned.for_studio(cast.studio).get(what="Changed the rates")
    assert (line.by, line.at, line.is_about_money) == (cast.owner, NOW, True)


def test_deposit_and_stage_payment_may_be_all_of_it_and_no_more(cast):
    halves = {"deposit_percent": Decimal(50), "stage_percent": Decimal(50)}
    changed(cast, **halves)
    with pytest.raises(Refused, match="at most 100 %"):
        changed(cast, **halves | {"stage_percent": Decimal("50.01"), "tax_name": "X"})
    assert studio_rates(cast.studio).tax_name != "X"
