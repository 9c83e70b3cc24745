"""How full a shelf is and what more would fit, against counting by hand."""

import datetime as dt

import pytest

from firing.firings.services import running
from firing.kiln_time.selectors.booking_loads import booking_loads
from firing.kiln_time.selectors.load_fill import fill_of, fill_words
from firing.loads.selectors.loads import waiting_passes
from firing.models import Firing
from tests import make
from tests.firing import build
from tests.make import NOW

HOUR = dt.timedelta(hours=1)


def load_of(cast, kiln, count):
    """Book a load of so many sheets of 300 by 200 mm."""
    firing = build.enamel(
        kiln=kiln, glass=cast.glass, layers=count + 1, starts_at=NOW + HOUR
    )
    booking = Firing.across_studios.select_related("booking__kiln").get(pk=firing.pk)
    booking = booking.booking
    return booking, booking_loads(cast.studio, [booking])[booking.pk]


def waiting_sheets(cast, count, **more):
    piece = make.piece(
        studio=cast.studio, glass=cast.glass, layers=count + 1, title="Flood", **more
    )
    return build.painted(piece)


@pytest.fixture
def shelf(cast):
    """A shelf for six such sheets, two by three, and not a seventh."""
    return make.kiln(
        studio=cast.studio,
        inner_width_mm=700,
        inner_depth_mm=700,
        shelf_width_mm=612,
        shelf_depth_mm=624,
    )


def test_the_share_is_glass_over_shelf(cast, shelf):
    _, load = load_of(cast, shelf, 4)
    fill = fill_of(shelf, load, [])
    assert fill.share == pytest.approx(4 * 300 * 200 / (612 * 624))
    assert fill.words == "63 % of the shelf is used"


@pytest.mark.parametrize(
    ("inside", "waits", "more", "said"),
    [
        (4, 5, 2, "2 more of the 5 waiting layers would fit"),
        (4, 1, 1, "1 more of the 1 waiting layer would fit"),
        (6, 3, 0, "none of the waiting layers would fit as well"),
    ],
)
def test_what_fits_beside_everything_that_lies_there(
    cast, shelf, inside, waits, more, said
):
    _, load = load_of(cast, shelf, inside)
    waiting_sheets(cast, waits)
    fill = fill_of(shelf, load, list(waiting_passes(cast.studio)))
    assert fill.more == more
    assert said in fill.words


def test_a_glass_of_another_programme_does_not_wait_for_this_load(cast, shelf):
    _, load = load_of(cast, shelf, 2)
    cast.glass.pk, cast.glass.name = None, "Softer"
    cast.glass.enamel_c -= 40
    cast.glass.save()
    waiting_sheets(cast, 3)
    fill = fill_of(shelf, load, list(waiting_passes(cast.studio)))
    assert fill.waiting == fill.more == 0


def test_only_loads_that_can_still_take_something_are_told(cast, shelf):
    booking, _ = load_of(cast, shelf, 2)
    rental = build.booking(kiln=cast.kiln, starts_at=NOW + HOUR)
    both = [booking, rental]

    def told(now=NOW):
        loads = booking_loads(cast.studio, both)
        return fill_words(both, loads, cast.viewer(), now)

    assert list(told()) == [booking.pk]
    assert told(booking.ends_at + HOUR) == {}
    running.start_firing(firing=booking.firing, by=None, at=NOW)
    both[0] = type(booking).across_studios.select_related("firing").get(pk=booking.pk)
    assert told() == {}
