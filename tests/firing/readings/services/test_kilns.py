"""Setting a kiln to what its firings say: what is written, and what is refused."""

import datetime as dt

import pytest
from django.core.cache import cache

from firing.readings.selectors import kiln_record as selector
from firing.readings.selectors.kiln_record import kiln_record
from firing.readings.services.kilns import use_measured_values
from studio.errors import Refused
from studio.models import HistoryEntry
from tests.firing import recorded
from tests.make import NOW

LATER = NOW + dt.timedelta(days=30)
WEEK = dt.timedelta(days=7)


@pytest.fixture(autouse=True)
def _nothing_is_kept_from_other_tests():
    cache.clear()


def use(cast):
    use_measured_values(kiln=cast.kiln, by=cast.technician, at=LATER)
    cast.kiln.refresh_from_db()


def test_the_kiln_takes_what_its_firings_say(cast):
    recorded.finished(kiln=cast.kiln, glass=cast.glass)
    use(cast)
    assert cast.kiln.cooling_time_constant_s == pytest.approx(
        recorded.TRUE_COOLING_S, rel=0.01
    )
    assert cast.kiln.cooling_time_constant_s % 60 == 0
    assert cast.kiln.holding_fraction == pytest.approx(recorded.TRUE_HOLDING, abs=0.01)
    line = HistoryEntry.owned.for_studio(cast.studio).order_by("-pk").first()
    assert line.by == cast.technician
    assert line.subject == f"kiln {cast.kiln.pk}"
    assert f"Changed kiln {cast.kiln} as measured from 1 firing" in line.what
    assert "cooling time from 6 h to " in line.what
    assert "holding power from 50.0 % to 7" in line.what


def test_it_is_refused_a_second_time(cast):
    recorded.finished(kiln=cast.kiln, glass=cast.glass)
    use(cast)
    with pytest.raises(Refused, match="already"):
        use(cast)


def test_what_cannot_be_known_stays_as_it_is_set(cast):
    strong = recorded.true_kiln(cast.kiln, holding_fraction=0.15)
    recorded.finished(kiln=cast.kiln, glass=cast.glass, model=strong)
    use(cast)
    assert cast.kiln.cooling_time_constant_s == pytest.approx(
        recorded.TRUE_COOLING_S, rel=0.01
    )
    assert cast.kiln.holding_fraction == 0.5


def test_nothing_recorded_is_refused_in_words(cast):
    with pytest.raises(Refused, match="Nothing is measured yet"):
        use(cast)


def test_a_kiln_that_no_longer_gets_there_is_refused(cast):
    tired = recorded.true_kiln(cast.kiln, holding_fraction=1.2)
    recorded.finished(kiln=cast.kiln, glass=cast.glass, model=tired)
    with pytest.raises(Refused, match="elements"):
        use(cast)
    assert cast.kiln.holding_fraction == 0.5
    assert cast.kiln.cooling_time_constant_s == 6 * 3600


def test_only_finished_firings_of_this_kiln_count_and_the_last_ones(cast, strangers):
    recorded.finished(kiln=strangers.kiln, glass=strangers.glass)
    recorded.finished(kiln=cast.kiln, glass=cast.glass, is_unloaded=False)
    assert kiln_record(cast.kiln).firing_count == 0


def test_new_readings_are_seen_at_once(cast):
    recorded.finished(kiln=cast.kiln, glass=cast.glass)
    assert kiln_record(cast.kiln).fit.cooling_time_constant_s.firings == 1
    recorded.finished(kiln=cast.kiln, glass=cast.glass, starts_at=NOW + WEEK)
    assert kiln_record(cast.kiln).fit.cooling_time_constant_s.firings == 2
    assert kiln_record(cast.kiln).fit.holding_fraction.firings == 2


def test_only_the_last_firings_are_used(cast, monkeypatch):
    monkeypatch.setattr("firing.readings.selectors.kiln_record.FIRINGS_USED", 1)
    recorded.finished(kiln=cast.kiln, glass=cast.glass)
    younger = recorded.true_kiln(cast.kiln, cooling_time_constant_s=5 * 3600.0)
    recorded.finished(
        kiln=cast.kiln, glass=cast.glass, starts_at=NOW + WEEK, model=younger
    )
    found = kiln_record(cast.kiln)
    assert found.firing_count == 1
    assert found.fit.cooling_time_constant_s.value == pytest.approx(5 * 3600, rel=0.01)


def test_a_log_too_short_says_so(cast):
    rows = "\n".join(f"{60 * n},{20 + n}" for n in range(30))
    data = f"Seconds,Temp (°C)\n{rows}\n".encode()
    recorded.finished(kiln=cast.kiln, glass=cast.glass, data=data)
    found = kiln_record(cast.kiln)
    assert found.fit is None
    assert "falls freely" in found.problem


def test_a_fit_of_an_earlier_engine_is_not_taken_for_one_of_this(cast, monkeypatch):
    recorded.finished(kiln=cast.kiln, glass=cast.glass)
    fitted = []

    def counted(kiln, firings):
        fitted.append(kiln.pk)
        return really(kiln, firings)

    really = selector._fitted
    monkeypatch.setattr(selector, "_fitted", counted)
    kiln_record(cast.kiln)
    kiln_record(cast.kiln)
    assert len(fitted) == 1
    monkeypatch.setattr(selector, "ENGINE", selector.ENGINE + 1)
    kiln_record(cast.kiln)
    assert len(fitted) == 2
