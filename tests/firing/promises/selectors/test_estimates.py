"""Kiln time for quotes: counted from real packing, on the kilns that exist."""

from decimal import Decimal

import pytest

from firing.promises.selectors.estimates import estimate_kiln_time
from studio.errors import Refused
from studio.models import Kiln
from tests import make
from tests.firing import build


def estimate(cast, **changes):
    values = {
        "width_mm": 300,
        "height_mm": 200,
        "layer_count": 20,
        "painted_layer_count": 18,
        "passes_per_layer": 2,
        "glass": cast.glass,
        "is_dammed": True,
    }
    return estimate_kiln_time(studio=cast.studio, **(values | changes))


def test_enamel_firings_are_counted_by_what_the_shelf_takes(cast):
    found = estimate(cast)
    enamel, fuse = found.items
    assert found.stack_height_mm == 60
    # 300 x 200 with 12 mm between, on 560 x 560: four lie round the middle.
    assert "4 to a load" in enamel.explanation
    assert enamel.firing_count == 2 * 5
    # 36 passes at 4 to a load: nine loads' worth of shelf, of ten firings.
    assert enamel.loads == 9
    assert enamel.hours == pytest.approx(9 * enamel.hours_each)
    assert (fuse.kind, fuse.firing_count) == ("full fuse", 1)


def test_what_is_quoted_is_what_will_be_booked(cast):
    fuse = estimate(cast, layer_count=9).items[-1]
    piece = build.stacked(studio=cast.studio, glass=cast.glass, layer_count=9)
    booking = build.fuse(piece=piece, kiln=cast.kiln).booking
    held_h = (booking.ends_at - booking.starts_at).total_seconds() / 3600
    assert fuse.hours_each == pytest.approx(held_h, abs=1e-6)
    assert fuse.kwh_each > 20


def test_clear_work_needs_no_enamel_firing(cast):
    assert [i.kind for i in estimate(cast, painted_layer_count=0).items] == [
        "full fuse"
    ]


def test_the_cheapest_kiln_is_taken(cast):
    cheap = make.kiln(studio=cast.studio, hourly_rate=1)
    assert {i.kiln for i in estimate(cast).items} == {cheap}


def test_where_energy_is_dear_an_hour_that_costs_less_is_not_all_that_counts(cast):
    large = make.kiln(studio=cast.studio, hourly_rate=2, power_w=30000)
    assert estimate(cast).items[-1].kiln == large
    assert estimate(cast, price_per_kwh=Decimal(9)).items[-1].kiln == cast.kiln


def test_a_kiln_that_was_picked_is_taken(cast):
    make.kiln(studio=cast.studio, hourly_rate=0)
    found = estimate(cast, in_kilns={"full fuse": cast.kiln.pk})
    assert found.items[-1].kiln == cast.kiln
    assert found.items[0].kiln != cast.kiln


def test_thicker_takes_longer(cast):
    hours = [estimate(cast, layer_count=n).items[-1].hours for n in (6, 9, 14, 20)]
    assert hours == sorted(hours)
    assert len(set(hours)) == 4


def test_no_kiln_says_why_of_each(cast):
    make.kiln(studio=cast.studio, name="Low", inner_height_mm=100)
    with pytest.raises(Refused, match=r"No kiln can fuse it.*Low: .*high inside"):
        estimate(cast, width_mm=540)
    with pytest.raises(Refused, match="No kiln can burn on its enamel"):
        estimate(cast, width_mm=900)


def test_a_stack_past_the_table_is_refused(cast):
    Kiln.owned.for_studio(cast.studio).update(inner_height_mm=900)
    with pytest.raises(Refused, match="thicker"):
        estimate(cast, layer_count=48)


def test_a_studio_without_kilns_is_told_so(cast):
    cast.kiln.delete()
    with pytest.raises(Refused, match="no kiln yet"):
        estimate(cast)
