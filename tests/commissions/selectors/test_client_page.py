"""The sentence at the top of the client's page while the kiln is closed."""

import datetime as dt

import pytest
from django.utils import timezone

from commissions.selectors.client_page import client_page
from firing.firings.services.running import start_firing
from firing.models import Reading
from tests.commissions import build
from tests.commissions.services.test_payments import stack
from tests.firing import build as heat

HOUR = 3600
# Up in 8 h, held for 1 h, then down: what a running firing's booking keeps.
CURVE = [[0, 20], [8 * HOUR, 816], [9 * HOUR, 816], [60 * HOUR, 45]]


@pytest.fixture
def fusing(cast):
    """Return an accepted commission and the fuse of its piece, started a moment ago."""
    commission = build.accepted(
        cast, of=build.commission(cast, passes_per_layer=1)
    ).commission
    piece = commission.commissioned_pieces.get().piece
    stack(cast, piece)
    now = (timezone.now() + dt.timedelta(hours=1)).replace(
        minute=7, second=0, microsecond=0
    )
    firing = start_firing(
        firing=heat.fuse(piece=piece, kiln=cast.kiln, starts_at=now), by=None, at=now
    )
    booking = firing.booking
    booking.planned_curve, booking.ends_at = CURVE, now + dt.timedelta(hours=61)
    booking.save()
    return commission, firing


def told(cast, commission, firing, hours_in):
    at = firing.started_at + dt.timedelta(hours=hours_in)
    return client_page(commission, viewer=cast.viewer(), at=at, address=str).sentence


@pytest.mark.parametrize(
    ("hours_in", "words"),
    [
        (3, "Your piece is being fused. The kiln stays closed until about"),
        (20, "Your piece is cooling in the kiln. The kiln stays closed until about"),
        (80, "which should be cool by now and opens next"),
    ],
)
def test_heating_cooling_and_cool_are_told_apart(cast, fusing, hours_in, words):
    assert words in told(cast, *fusing, hours_in)


def test_the_opening_is_rounded_outward_to_a_quarter(cast, fusing):
    assert told(cast, *fusing, 20).endswith(":15.")


def test_a_kiln_read_hot_is_never_told_to_be_cool(cast, fusing):
    commission, firing = fusing
    Reading.across_studios.create(
        studio=cast.studio,
        firing=firing,
        at=firing.started_at + dt.timedelta(hours=79),
        temperature_c=57,
    )
    sentence = told(cast, commission, firing, 80)
    assert "cooling in the kiln. The kiln stays closed until about" in sentence
    later = told(cast, commission, firing, 200)
    assert later.endswith("The kiln stays closed until it is cool.")
