"""What makers who share the kilns used of them, from real firings and rented time."""

import datetime as dt
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firing.firings.selectors.shared_use import parts_of, shared_use
from firing.firings.services.others_work import add_work
from firing.firings.services.running import finish_firing, start_firing
from firing.kiln_time.services.bookings import cancel_booking, record_rented
from firing.models import Firing
from studio.models import KilnUser
from tests.cast import NOW
from tests.firing import build

D = Decimal
HOUR = dt.timedelta(hours=1)
DAY = 24 * HOUR


@pytest.fixture
def potter(cast):
    return KilnUser.across_studios.create(studio=cast.studio, name="Marl Row")


def fired(cast, *, layers=3, hours=10, title="Ebb", kiln=None) -> Firing:
    """Fire layers of a new piece, for so many hours until unloading."""
    firing = build.enamel(
        kiln=kiln or cast.kiln, glass=cast.glass, layers=layers, title=title
    )
    start_firing(firing=firing, by=None, at=NOW)
    finish(firing, at=NOW + hours * HOUR)
    return firing


def finish(firing, *, at):
    finish_firing(
        firing=Firing.across_studios.get(pk=firing.pk),
        outcomes={item.pk: ("fine", "") for item in firing.items.all()},
        by=None,
        at=at,
        hand=build.READ_COLD,
    )


def used(cast, *, since=NOW - DAY, until=NOW + 30 * DAY):
    return shared_use(cast.studio, since=since, until=until)


def test_the_studios_own_firings_are_nobody_elses(cast, potter):
    fired(cast)
    assert used(cast) == []


def test_work_in_a_shared_load_takes_its_part_of_the_hours_and_the_electricity(
    cast, potter
):
    firing = fired(cast, layers=4, hours=10)  # One of four is a clear cap.
    add_work(firing=firing, description="Bowl", kiln_user=potter, by=None, at=NOW)
    (one,) = used(cast)
    # Of four things whose size is known of three alone, it counts as their mean.
    assert (one.kiln_user, one.share, one.hours) == (potter.pk, 0.25, D("2.50"))
    whole = Firing.across_studios.get(pk=firing.pk).energy_kwh
    assert one.kwh == pytest.approx(D(str(whole)) / 4, abs=D("0.1"))
    assert (one.kiln, one.firing, one.booking) == (cast.kiln, firing.pk, None)
    assert one.what == "Enamel: Bowl"


def test_things_of_one_maker_in_a_load_are_one_use(cast, potter):
    firing = fired(cast, layers=3)
    for thing in ("Bowl", "Two tiles"):
        add_work(firing=firing, description=thing, kiln_user=potter, by=None, at=NOW)
    (one,) = used(cast)
    assert (one.share, one.what) == (0.5, "Enamel: Bowl + Two tiles")


def test_pieces_of_a_maker_who_shares_the_kilns_are_theirs(cast, potter):
    potter.person = cast.maker
    potter.save()
    firing = fired(cast, title="Samphire")
    piece = firing.items.first().of_pass.sheet.layer.piece
    assert used(cast) == []
    piece.maker = cast.maker
    piece.save()
    (one,) = used(cast)
    assert (one.kiln_user, one.share, one.hours) == (potter.pk, 1.0, D("10.00"))
    assert one.what == "Enamel: Samphire"


def test_work_of_which_nobody_said_whose_comes_with_them(cast, potter):
    firing = fired(cast)
    add_work(firing=firing, description="Tiles", kiln_user=None, by=None, at=NOW)
    (one,) = used(cast)
    assert (one.kiln_user, one.what) == (None, "Enamel: Tiles")


def test_a_firing_counts_when_it_is_unloaded_and_a_span_ends_before_its_end(
    cast, potter
):
    firing = fired(cast, hours=10)
    add_work(firing=firing, description="Bowl", kiln_user=potter, by=None, at=NOW)
    unloaded = NOW + 10 * HOUR
    assert len(used(cast, since=unloaded, until=unloaded + HOUR)) == 1
    assert used(cast, since=NOW - DAY, until=unloaded) == []
    assert used(cast, since=unloaded + HOUR) == []


def test_rented_time_counts_as_booked_until_somebody_says_what_was_used(cast, potter):
    booking = build.booking(kiln=cast.kiln, hours=16, title="Bowls")
    (one,) = used(cast)
    assert (one.kiln_user, one.hours, one.kwh) == (None, D("16.00"), None)
    record_rented(
        booking=booking,
        kiln_user=potter,
        used_hours=11.5,
        used_kwh=20.25,
        by=None,
        at=NOW,
    )
    (one,) = used(cast)
    assert (one.kiln_user, one.hours, one.kwh) == (potter.pk, D("11.50"), D("20.3"))
    assert (one.at, one.booking) == (booking.ends_at, booking.pk)


def test_cancelled_rentals_and_maintenance_are_nobodys_use(cast, potter):
    rented = build.booking(kiln=cast.kiln, hours=5)
    cancel_booking(booking=rented, reason="Slip", by=None, at=NOW)
    build.booking(kiln=cast.kiln, hours=5, kind="maintenance")
    assert used(cast) == []


def test_another_studio_sees_none_of_it(cast, strangers):
    build.booking(kiln=cast.kiln)
    assert shared_use(strangers.studio, since=NOW - DAY, until=NOW + DAY) == []


@given(
    whole=st.floats(0, 2000),
    weights=st.lists(st.floats(0.001, 1000), min_size=1, max_size=12),
)
def test_parts_add_up_to_the_whole_and_none_is_off_by_more_than_a_step(whole, weights):
    step = D("0.01")
    shares = [one / sum(weights) for one in weights]
    parts = parts_of(whole, shares, step)
    assert sum(parts) == D(str(whole)).quantize(step, "ROUND_HALF_UP")
    for part, share in zip(parts, shares, strict=True):
        assert part >= 0
        assert abs(float(part) - whole * share) <= 0.01 + 1e-6
