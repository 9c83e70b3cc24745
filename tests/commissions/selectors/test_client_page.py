"""The sentence at the top of the client's page while the kiln is closed."""

import datetime as dt
from types import SimpleNamespace

import pytest
from django.utils import timezone

from commissions.selectors.client_page import client_page
from studio.services.pieces import note_into_kiln
from tests.commissions import build
from tests.commissions.services.test_payments import stack

HOUR = 3600


@pytest.mark.parametrize(
    ("hours_in", "words"),
    [
        (3, "Your piece is being fused. The kiln stays closed until about"),
        (20, "Your piece is cooling in the kiln. The kiln stays closed until about"),
        (80, "which should be cool by now and opens next"),
    ],
)
def test_heating_cooling_and_cool_are_told_apart(cast, monkeypatch, hours_in, words):
    commission = build.accepted(
        cast, of=build.commission(cast, passes_per_layer=1)
    ).commission
    piece = commission.commissioned_pieces.get().piece
    stack(cast, piece)
    started = timezone.now()
    note_into_kiln(
        piece=piece,
        firing_kind="full fuse",
        closed_until=started + dt.timedelta(hours=60),
        by=None,
        at=started,
    )
    # Up in 8 h, held for 1 h, then down: what a running firing's booking keeps.
    curve = [[0, 20], [8 * HOUR, 816], [9 * HOUR, 816], [60 * HOUR, 45]]
    running = SimpleNamespace(
        started_at=started, booking=SimpleNamespace(planned_curve=curve)
    )
    monkeypatch.setattr(
        "commissions.selectors.client_page.running_firing_of", lambda piece: running
    )
    at = started + dt.timedelta(hours=hours_in)
    page = client_page(commission, viewer=cast.viewer(), at=at)
    assert words in page.sentence
