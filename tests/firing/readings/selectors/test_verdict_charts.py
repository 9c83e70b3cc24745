"""The judge's drawings, and which pieces wait for its re-anneal."""

import datetime as dt
from types import SimpleNamespace

import numpy as np
import pytest

from firing.firings.services import running
from firing.loads.selectors.firings import firings
from firing.models import Judgement
from firing.readings.selectors.verdict_charts import (
    judged_charts,
    re_anneal_links,
    tension_input,
)
from tests import plain
from tests.firing import build
from tests.firing.old_verdict import OLD, old_judgement
from tests.make import NOW

LATER = NOW + dt.timedelta(days=4)
TRACE = {"time_s": [0.0, 3600.0, 7200.0], "tension_mpa": [0.0, 1.5, 0.5]}
BAND = {"tension_low_mpa": [0.0, 1.0, 0.25], "tension_high_mpa": [0.0, 2.0, 0.75]}


def given(**changes):
    booking = SimpleNamespace(starts_at=NOW, title="Reed bed")
    judgement = Judgement(**({"numbers": OLD, "trace": TRACE} | changes))
    firing = SimpleNamespace(booking=booking)
    return tension_input(firing, judgement, plain.viewer(), NOW)


def test_a_kept_course_is_drawn_in_pascals_beside_the_limits_it_was_judged_by():
    found = given(numbers=OLD | {"limits": OLD["limits"] | {"temporary_mpa": 2.5}})
    assert (found.limit_pa, found.warning_pa) == (2.5e6, 7e6)
    assert found.title == "Computed tension"
    (series,) = found.series
    assert series.tension_pa == pytest.approx([0, 1.5e6, 0.5e6])
    assert found.show_when(NOW + dt.timedelta(hours=1)) == "today 05:00"


def test_a_course_has_a_band_where_one_was_kept():
    (without,) = given().series
    assert without.band is None
    band = given(trace=TRACE | BAND).series[0].band
    assert band.low_pa == pytest.approx([0, 1e6, 0.25e6])
    assert band.high_pa == pytest.approx([0, 2e6, 0.75e6])
    assert np.array_equal(band.time_s, TRACE["time_s"])


@pytest.fixture
def fused(cast):
    piece = build.stacked(studio=cast.studio, glass=cast.glass, layer_count=3)
    return build.fuse(piece=piece, kiln=cast.kiln)


def finished(cast, firing, outcome="redo"):
    """Take a firing out of its kiln, with an outcome for the piece in it."""
    running.start_firing(firing=firing, by=None, at=NOW)
    told = {item.pk: (outcome, "power cut") for item in firing.items.all()}
    running.finish_firing(
        firing=firing, outcomes=told, by=None, at=LATER, hand=build.READ_COLD
    )
    return firings(cast.studio).get(pk=firing.pk)


def test_only_a_kept_course_has_a_tension_chart(cast, fused):
    firing = firings(cast.studio).get(pk=fused.pk)

    def drawn(trace):
        judgement = old_judgement(firing, trace=trace)
        return judged_charts(
            firing, judgement, viewer=cast.viewer(), now=NOW, part="cooling"
        )

    assert drawn({})["tension"] is None
    shown = drawn(TRACE)
    assert len(shown["tension"].lines) == len(shown["tension_narrow"].lines) == 1
    assert shown["charts"].wide.from_s > 0, "only the cooling"
    wide = shown["charts"].wide
    assert wide.alarms == ()
    assert [name.words for name in wide.gap_names] == [gap.words for gap in wide.gaps]
    assert wide.gaps[0].words.startswith("Power cut")


def test_a_piece_waits_for_its_re_anneal_from_when_it_is_out_until_it_is_booked(
    cast, fused
):
    assert re_anneal_links(fused, old_judgement(fused)) == []
    firing = finished(cast, fused)
    (piece,) = re_anneal_links(firing, old_judgement(firing))
    assert piece == fused.items.get().piece
    build.fuse(piece=piece, kiln=cast.kiln, starts_at=LATER, kind="re-anneal")
    assert re_anneal_links(firing, old_judgement(firing)) == []


def test_a_cracked_piece_waits_for_nothing(cast, fused):
    firing = finished(cast, fused, "cracked")
    assert re_anneal_links(firing, old_judgement(firing)) == []


def test_readings_that_stop_in_the_hot_kiln_offer_no_re_anneal_to_book(cast, fused):
    firing = finished(cast, fused)
    hot = old_judgement(firing, numbers=OLD | {"is_over": False})
    assert re_anneal_links(firing, hot) == []
    unread = old_judgement(firing, verdict=Judgement.NOT_JUDGED, numbers={})
    assert re_anneal_links(firing, unread) == []
