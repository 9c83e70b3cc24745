"""Kilns and kinds of firing as the planner gets them: nothing here needs a database."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firing.models import ScheduleRule
from firing.planning.problem import practice
from firing.plans.selectors.ids import kiln_id
from firing.plans.selectors.workshop import SLOT_S, PlanWorkshop, slots
from studio.errors import Refused
from studio.units import celsius_to_fahrenheit
from tests import plain


def kiln(pk, **changes):
    return plain.kiln(pk=pk, **changes)


def glass(pk, **changes):
    return plain.glass(pk=pk, **({"enamel_c": 780.0} | changes))


def workshop(kilns, glasses):
    return PlanWorkshop(kilns, glasses, plain.viewer(), rule=ScheduleRule.NEXT_ROW)


def fits(shop, **changes):
    facts = {
        "kind": "full fuse",
        "thickness_mm": 18,
        "width_mm": 300,
        "height_mm": 200,
        "glass": glass(1),
        "is_dammed": False,
    }
    return shop.stack_fits(**(facts | changes))


@given(st.floats(min_value=0, max_value=1e6))
def test_enough_whole_slots_and_never_one_too_many(seconds):
    found = slots(seconds)
    assert found >= 1
    assert found * SLOT_S >= seconds - 1e-5
    assert found == 1 or (found - 1) * SLOT_S < seconds


def test_glasses_that_may_share_a_firing_are_one_kind_named_by_the_hottest():
    hot, near, cool = (
        glass(pk, enamel_c=c) for pk, c in ((1, 780), (2, 778), (3, 700))
    )
    shop = workshop([kiln(1)], [cool, near, hot])
    assert [one.pk for one in shop.glasses] == [1, 2, 3]
    assert shop.kind_of == {1: "enamel 1", 2: "enamel 1", 3: "enamel 2"}
    first, second = shop.kinds
    assert first.temp_f == celsius_to_fahrenheit(780)
    assert second.temp_f == celsius_to_fahrenheit(700)
    assert (first.load, first.unload) == (1, 1)
    assert first.gap_mm == practice.SHEET_GAP_MM


def test_a_glass_that_no_kiln_is_hot_enough_for_has_no_kind():
    shop = workshop([kiln(1, max_temperature_c=600)], [glass(1)])
    assert shop.kinds == ()
    assert shop.kind_of == {}
    assert isinstance(shop.enamel(glass(1), shop.kilns[0]), str), "it says why"
    (planned,) = shop.planned_kilns({})
    assert planned.kwh_per_enamel_firing == planned.kwh_per_day_fuse == 0


def test_a_kind_lasts_as_long_as_in_its_slowest_kiln():
    quick = kiln(1, cooling_time_constant_s=3 * 3600)
    slow = kiln(2, cooling_time_constant_s=20 * 3600)
    alone = [workshop([one], [glass(1)]).kinds[0].run for one in (quick, slow)]
    both = workshop([quick, slow], [glass(1)]).kinds[0].run
    assert alone[0] < alone[1] == both


def test_a_kiln_brings_its_shelf_its_energy_and_when_it_is_closed():
    shop = workshop([kiln(1), kiln(2)], [glass(1)])
    first, second = shop.planned_kilns({2: ((4, 8),)})
    assert (first.maintenance, second.maintenance) == ((), ((4, 8),))
    assert first.id == kiln_id(1)
    assert (first.width_mm, first.depth_mm, first.height_mm) == (560, 560, 300)
    assert first.max_temp_f == celsius_to_fahrenheit(930)
    assert first.kwh_per_enamel_firing > 0
    assert first.kwh_per_day_fuse > 0


def test_sheets_are_kept_out_of_a_kiln_too_small_or_too_cool_for_any_of_them():
    hot, cool = glass(1, enamel_c=780), glass(2, enamel_c=700)
    small = kiln(2, shelf_width_mm=250, shelf_depth_mm=250)
    cold = kiln(3, max_temperature_c=740)
    shop = workshop([kiln(1), small, cold], [hot, cool])
    both = shop.layers_not_in([hot, cool], width_mm=300, height_mm=200)
    assert both == {kiln_id(2), kiln_id(3)}
    assert shop.layers_not_in([cool], width_mm=200, height_mm=200) == frozenset()
    # A sheet may be turned to fit.
    narrow = kiln(4, shelf_width_mm=220, shelf_depth_mm=400)
    shop = workshop([narrow], [hot])
    assert shop.layers_not_in([hot], width_mm=380, height_mm=200) == frozenset()


def test_where_no_kiln_will_do_each_says_why():
    small = kiln(1, shelf_width_mm=250, shelf_depth_mm=250)
    cold = kiln(2, max_temperature_c=600)
    shop = workshop([small, cold], [glass(1)])
    with pytest.raises(Refused) as refusal:
        shop.layers_not_in([glass(1)], width_mm=300, height_mm=200)
    told = str(refusal.value)
    assert told.startswith("No kiln can burn on its enamel. Kiln 1: Its shelf is 250")
    assert "Kiln 2: " in told
    with pytest.raises(Refused, match=r"No kiln can fuse it\. Kiln 1: "):
        fits(shop)


def test_without_a_kiln_the_studio_is_told_to_add_one():
    shop = workshop([], [glass(1)])
    with pytest.raises(Refused, match="no kiln in use"):
        shop.layers_not_in([glass(1)], width_mm=300, height_mm=200)
    with pytest.raises(Refused, match="no kiln in use"):
        fits(shop)


def test_a_fuse_lasts_as_long_as_in_the_slowest_kiln_that_takes_it():
    quick = kiln(1, cooling_time_constant_s=3 * 3600)
    slow = kiln(2, cooling_time_constant_s=60 * 3600)
    alone = [fits(workshop([one], [glass(1)])).fuse.run for one in (quick, slow)]
    assert alone[0] < alone[1]
    both = fits(workshop([quick, slow], [glass(1)]))
    assert (both.fuse.run, both.not_in) == (alone[1], frozenset())
    slow.inner_height_mm = 60
    without = fits(workshop([quick, slow], [glass(1)]))
    assert (without.fuse.run, without.not_in) == (alone[0], {kiln_id(2)})
    assert without.height_mm == (practice.BELOW_STACK_MM + 18 + practice.ABOVE_STACK_MM)
    assert (without.fuse.load, without.fuse.unload) == (2, 1)


def test_dams_make_a_stack_wider():
    shop = workshop([kiln(1, shelf_width_mm=380, shelf_depth_mm=380)], [glass(1)])
    assert fits(shop).not_in == frozenset()
    with pytest.raises(Refused, match="with its dams"):
        fits(shop, is_dammed=True)
