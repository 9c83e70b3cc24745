"""What is typed into a running controller: kiln time, plan and opening follow it."""

import datetime as dt
import threading
from itertools import pairwise

import numpy as np
import pytest
from django.db import connection
from hypothesis import given
from hypothesis import strategies as st

from commissions.selectors.client_page import _kiln_sentence
from firing.firings.documents import controller_sheet, sheet_viewer
from firing.firings.services import running
from firing.firings.services.typed import record_typed, take_back_typed
from firing.kiln_time.services.bookings import KilnTaken
from firing.loads.selectors.firings import firings as all_firings
from firing.loads.selectors.known import known_of, soon
from firing.models import Booking, Firing, TypedProgramme
from firing.physics.schedule import Programme, Segment
from firing.readings.selectors.verdict_inputs import inputs_sha256
from firing.schedules.selectors.charts import charts_of
from firing.schedules.selectors.typed import curve_with_typed
from studio.errors import Refused
from studio.models import HistoryEntry
from studio.selectors.pieces import fresh
from tests.firing import build
from tests.make import NOW

HOUR = dt.timedelta(hours=1)
TYPED_AT = NOW + 20 * HOUR
SAID_AT = TYPED_AT + dt.timedelta(minutes=10)


def programme(*, hold_h=30.0, start_c=450.0):
    """Heat again, soak for long and cool slowly."""
    return Programme(
        start_c=start_c,
        segments=(
            Segment(
                label="anneal soak",
                rate_c_per_h=100.0,
                target_c=516.0,
                hold_s=hold_h * 3600,
            ),
            Segment(label="cooling 1", rate_c_per_h=8.0, target_c=371.0),
            Segment(label="final cooling", rate_c_per_h=60.0, target_c=50.0),
        ),
    )


@pytest.fixture
def firing(cast):
    piece = build.stacked(studio=cast.studio, glass=cast.glass)
    return running.start_firing(
        firing=build.fuse(piece=piece, kiln=cast.kiln), by=None, at=NOW
    )


def typed(firing, *, typed_at=TYPED_AT, at=None, **how):
    return record_typed(
        firing=firing,
        action="re-anneal",
        programme=programme(**how),
        typed_at=typed_at,
        by=None,
        at=at or max(SAID_AT, typed_at),
    )


def take_back(one, *, at=SAID_AT, reason=""):
    take_back_typed(typed=one, reason=reason, by=None, at=at)


def booking_of(firing):
    return Booking.across_studios.get(pk=firing.booking_id)


def drawn(booking, at_s):
    """Return the booking's planned temperature at some moments."""
    return np.interp(at_s, *np.array(booking.planned_curve).T)


def test_kiln_time_opening_and_piece_follow_what_was_typed(cast, firing):
    before = booking_of(firing)
    one = typed(firing)
    after = booking_of(firing)
    assert after.starts_at == before.starts_at
    assert after.opens_at == TYPED_AT + dt.timedelta(seconds=one.curve[-1][0])
    assert after.opens_at > before.opens_at
    assert after.ends_at - after.opens_at == HOUR / 2
    typed_s = (TYPED_AT - NOW).total_seconds()
    until_s = np.linspace(0, typed_s - 1, 50)
    assert drawn(after, until_s) == pytest.approx(drawn(before, until_s), abs=3)
    since_s = np.linspace(60, one.curve[-1][0], 50)
    rescue = np.interp(since_s, *np.array(one.curve).T)
    assert drawn(after, typed_s + since_s) == pytest.approx(rescue, abs=3)
    (item,) = firing.items.all()
    view = fresh(item.piece)
    current = all_firings(cast.studio).get(pk=firing.pk)
    known = known_of(cast.studio, [current], now=SAID_AT)[firing.pk]
    when = soon(known.about, cast.viewer(), SAID_AT)
    assert when in _kiln_sentence(view, cast.viewer(), SAID_AT), "the client reads it"
    told = HistoryEntry.owned.for_studio(cast.studio).latest("pk").what
    assert "anneal it again" in told


def test_taken_back_at_once_everything_is_as_before(firing):
    before, note = booking_of(firing), firing.note
    one = typed(firing)
    take_back(one)
    after = booking_of(firing)
    assert (after.starts_at, after.ends_at, after.planned_curve) == (
        before.starts_at,
        before.ends_at,
        before.planned_curve,
    )
    (item,) = firing.items.all()
    firing.refresh_from_db()
    assert firing.note == note
    with pytest.raises(Refused, match="taken back already"):
        take_back(one)
    typed(firing)  # the same time may be recorded again


def test_late_it_takes_a_reason_and_the_history_keeps_both(cast, firing):
    one = typed(firing)
    late = SAID_AT + HOUR
    with pytest.raises(Refused, match="Say why"):
        take_back(one, at=late)
    take_back(one, at=late, reason="It was the other kiln")
    told = [e.what for e in HistoryEntry.owned.for_studio(cast.studio).order_by("pk")]
    assert told[-1].endswith(": It was the other kiln")
    assert told[-2].startswith("Typed into")


def test_the_kiln_is_held_until_the_next_booking_and_that_is_said(cast, firing):
    following = build.booking(
        kiln=cast.kiln, starts_at=booking_of(firing).ends_at, title="Guests"
    )
    one = typed(firing)
    after = booking_of(firing)
    assert after.ends_at == following.starts_at
    assert after.opens_at > following.starts_at, "the glass takes its time all the same"
    firing.refresh_from_db()
    assert "“Guests” is booked from" in firing.note
    assert "Move that booking" in firing.note
    take_back(one)
    firing.refresh_from_db()
    assert "Guests" not in firing.note


def test_what_is_booked_after_the_rescue_is_not_in_its_way(cast, firing):
    typed(firing)
    with pytest.raises(KilnTaken):
        build.booking(kiln=cast.kiln, starts_at=booking_of(firing).ends_at - HOUR)


def test_a_second_typing_cuts_the_first_and_is_taken_back_first(firing):
    first = typed(firing)
    alone = booking_of(firing)
    second = typed(firing, typed_at=TYPED_AT + 5 * HOUR, hold_h=2)
    assert booking_of(firing).opens_at < alone.opens_at
    with pytest.raises(Refused, match="Take that back first"):
        take_back(first)
    take_back(second, at=TYPED_AT + 5 * HOUR)
    assert booking_of(firing).planned_curve == alone.planned_curve


def test_the_controller_sheet_says_what_runs_now(cast, firing):
    def sheet():
        found = all_firings(cast.studio).get(pk=firing.pk)
        return controller_sheet(found, path="/", origin="")

    before = sheet()
    one = typed(firing)
    now = sheet()
    labels = [row.label.lower() for row in now.segments]
    assert labels == ["anneal soak", "cooling 1", "final cooling"]
    assert now.segments[0].hold == "30:00"
    assert now.starts.endswith(sheet_viewer(firing).clock(TYPED_AT))
    assert dict(now.facts)["This sheet"].startswith(
        "what was typed instead of its rest"
    )
    assert now.opens != before.opens
    take_back_typed(typed=one, reason="", by=None, at=SAID_AT)
    assert sheet() == before


@pytest.mark.parametrize(
    ("typed_at", "at", "told"),
    [
        (SAID_AT + HOUR, SAID_AT, "still to come"),
        (NOW - HOUR, SAID_AT, "was started"),
        (TYPED_AT, SAID_AT, "recorded already"),
    ],
)
def test_a_time_that_cannot_be_is_refused(firing, typed_at, at, told):
    typed(firing)
    with pytest.raises(Refused, match=told):
        typed(firing, typed_at=typed_at, at=at)
    assert TypedProgramme.across_studios.count() == 1


def test_nothing_is_typed_into_a_firing_that_does_not_run(cast, firing):
    planned = build.enamel(
        kiln=cast.kiln, glass=cast.glass, starts_at=booking_of(firing).ends_at
    )
    with pytest.raises(Refused, match="not started"):
        typed(planned)
    Firing.across_studios.filter(pk=firing.pk).update(finished_at=SAID_AT)
    with pytest.raises(Refused, match="unloaded"):
        typed(firing, at=SAID_AT + HOUR)


def test_the_verdict_and_the_chart_know_of_it(cast, firing):
    current = Firing.across_studios.get(pk=firing.pk)
    before = inputs_sha256(current)
    one = typed(firing)
    current = Firing.across_studios.get(pk=firing.pk)
    assert inputs_sha256(current) != before
    charts = charts_of(current, viewer=cast.viewer(), now=SAID_AT, part="soak")
    from_s = (TYPED_AT - NOW).total_seconds()
    assert charts.lasts_s >= from_s + one.curve[-1][0]
    take_back(one)
    current = Firing.across_studios.get(pk=firing.pk)
    assert inputs_sha256(current) == before


points = st.lists(st.floats(20, 900), min_size=2, max_size=150).map(
    lambda heats: [[600.0 * place, c] for place, c in enumerate(heats)]
)


@given(
    original=points, typings=st.lists(st.tuples(st.floats(1, 1e5), points), max_size=4)
)
def test_a_curve_with_typings_is_in_order_few_points_and_ends_with_the_last(
    original, typings
):
    rows, at_s = [], 0.0
    for later_s, curve in typings:
        at_s += later_s
        at = NOW + dt.timedelta(seconds=at_s)
        rows.append(TypedProgramme(at=at, curve=curve))
    found = curve_with_typed(original, rows, NOW)
    times = [s for s, _ in found]
    assert times == sorted(times)
    assert len(found) <= 200
    if rows:
        assert found[-1][1] == rows[-1].curve[-1][1]
        assert found[-1][0] == pytest.approx(at_s + rows[-1].curve[-1][0], abs=0.2)
    else:
        assert found == original


@pytest.mark.django_db(transaction=True)
def test_of_a_rescue_and_a_booking_at_once_neither_overlaps(cast):
    piece = build.stacked(studio=cast.studio, glass=cast.glass)
    firing = running.start_firing(
        firing=build.fuse(piece=piece, kiln=cast.kiln), by=None, at=NOW
    )
    ends_at, problems = booking_of(firing).ends_at, []

    def run(act):
        try:
            act()
        except Refused as problem:
            problems.append(problem)
        finally:
            connection.close()

    acts = (
        lambda: typed(firing),
        lambda: build.booking(kiln=cast.kiln, starts_at=ends_at, title="Guests"),
    )
    threads = [threading.Thread(target=run, args=(act,)) for act in acts]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    standing = list(Booking.across_studios.filter(kiln=cast.kiln).order_by("starts_at"))
    for one, following in pairwise(standing):
        assert one.ends_at <= following.starts_at
    assert TypedProgramme.across_studios.count() == 1, "a rescue is never refused"
    assert len(standing) + len(problems) == 2
