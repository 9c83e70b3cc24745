"""What to type into the controller now, for one of the judge's options."""

import datetime as dt
from types import SimpleNamespace

import pytest

from firing.models import Judgement
from firing.readings.selectors.type_now import STALE_S, type_now
from tests import plain
from tests.firing.old_verdict import OLD, old_judgement
from tests.make import NOW

# The last reading is so long after the start of the booking.
READ_AT = NOW + dt.timedelta(seconds=OLD["last_s"])


@pytest.fixture
def firing():
    """A fuse in a kiln; only its numbers are read, so it needs no row."""
    booking = SimpleNamespace(starts_at=NOW, title="Fuse")
    return SimpleNamespace(
        booking=booking, kiln=plain.kiln(controller_unit="C"), finished_at=None
    )


@pytest.fixture
def judgement(firing):
    judged = old_judgement(None)
    # Not by the constructor: a judgement takes only a row.
    judged._state.fields_cache["firing"] = firing
    return judged


def told(firing, judgement, action="re-anneal", *, now=READ_AT, **how):
    return type_now(firing, judgement, action, viewer=plain.viewer(**how), now=now)


def test_every_segment_is_typed_with_the_time_when_it_ends(firing, judgement):
    found = told(firing, judgement)
    assert [one.row.label for one in found.rows] == [
        one["label"] for one in OLD["options"][1]["segments"]
    ]
    # Readings end on Friday at 2:20 there. Up to 536.1 from 20 °C at 69.44 °C/h takes
    # 7 h 26 min, and the glass is kept there for 44 min more.
    assert found.rows[0].ends == "Fri 10:29"
    assert found.rows[-1].ends == "Sat 21:32"
    assert found.opens == "tomorrow 21:32"
    assert found.option.action == "re-anneal"
    assert found.option.is_recommended


def test_what_was_read_last_is_said_in_the_readers_units(firing, judgement):
    found = told(firing, judgement)
    assert found.kiln_was == "20 °C"
    assert told(firing, judgement, in_fahrenheit=True).kiln_was == "68 °F"
    assert found.read_at == "today 02:20"
    assert found.limits == "3 MPa while hot, 0.5 MPa of what stays"


def test_old_readings_are_said_to_be_old(firing, judgement):
    limit = dt.timedelta(seconds=STALE_S)
    assert not told(firing, judgement, now=READ_AT + limit).is_stale
    later = READ_AT + limit + dt.timedelta(seconds=1)
    assert told(firing, judgement, now=later).is_stale


def test_a_rate_without_a_limit_is_typed_as_full_and_explained(firing, judgement):
    assert told(firing, judgement).has_full_rate
    option = OLD["options"][1]
    slow = [one | {"rate_c_per_h": 50.0} for one in option["segments"]]
    judgement.numbers = OLD | {"options": [option | {"segments": slow}]}
    assert not told(firing, judgement).has_full_rate


def test_an_action_in_an_address_has_underlines_for_its_spaces(firing, judgement):
    option = OLD["options"][1] | {"action": "hold, then go on"}
    judgement.numbers = OLD | {"options": [option]}
    assert told(firing, judgement, "hold,_then_go_on") is not None


def test_a_kiln_that_was_changed_still_gets_its_segments_but_no_times(
    firing, judgement
):
    firing.kiln.max_temperature_c = 300
    found = told(firing, judgement)
    assert len(found.rows) == 5
    assert {one.ends for one in found.rows} == {""}
    assert found.opens == ""


@pytest.mark.parametrize("action", ["", "dance", "go on"])
def test_an_unknown_action_and_one_without_a_schedule_have_no_sheet(
    firing, judgement, action
):
    assert told(firing, judgement, action) is None


def test_what_is_over_or_was_not_judged_has_no_sheet(firing, judgement):
    firing.finished_at = NOW
    assert told(firing, judgement) is None
    firing.finished_at = None
    judgement.verdict = Judgement.NOT_JUDGED
    judgement.numbers = {"problem": "Too short.", "readings": 1}
    assert told(firing, judgement) is None
