"""Free kiln time of a studio: access hours in its zone, closures, clock changes."""

import datetime as dt

import pytest

from firing.firings.services.running import start_firing
from firing.kiln_time.selectors.access import access_spans
from firing.kiln_time.selectors.bookings import is_attended, may_open_at
from firing.kiln_time.selectors.free_starts import earliest_free_start, next_free_span
from firing.kiln_time.services.bookings import KilnTaken
from firing.planning.spans.free_time import NoRoom
from firing.plans.services.replace_planned import book_over_plan
from studio.models import AccessHours, Closure
from tests import make
from tests.cast import NOW
from tests.firing import build, planned_time

HOUR = dt.timedelta(hours=1)


def local(cast, at):
    return at.astimezone(cast.viewer().zone)


def test_access_hours_are_by_the_studios_clock(cast):
    first = access_spans(cast.studio, NOW, NOW + 24 * HOUR)[0]
    assert local(cast, first.starts_at).hour == 8
    assert local(cast, first.ends_at).hour == 20


def test_hours_follow_a_clock_change(cast):
    # New York goes to summer time on 8 March 2026.
    before = dt.datetime(2026, 3, 7, tzinfo=dt.UTC)
    spans = access_spans(cast.studio, before, before + 72 * HOUR)
    utc_hours = {s.starts_at.hour for s in spans}
    assert utc_hours == {12, 13}
    assert {local(cast, s.starts_at).hour for s in spans} == {8}


def test_spans_asked_for_by_the_local_clock_are_true_spans(cast):
    zone = cast.viewer().zone
    starts = dt.datetime(2026, 3, 7, tzinfo=zone)
    spans = access_spans(cast.studio, starts, dt.datetime(2026, 3, 10, tzinfo=zone))
    assert {span.starts_at.tzinfo for span in spans} == {dt.UTC}
    night = spans[1].starts_at - spans[0].ends_at
    assert night == 11 * HOUR, "20:00 to 08:00 less the hour that is left out"


def test_hours_until_the_last_minute_run_on_past_midnight(cast):
    hours = AccessHours.owned.for_studio(cast.studio)
    hours.update(opens=dt.time(0), closes=dt.time(23, 59))
    (span,) = access_spans(cast.studio, NOW, NOW + 48 * HOUR)
    assert span.starts_at <= NOW
    assert span.ends_at >= NOW + 48 * HOUR


def test_without_set_hours_somebody_may_always_be_in(cast):
    AccessHours.owned.for_studio(cast.studio).delete()
    (span,) = access_spans(cast.studio, NOW, NOW + HOUR)
    assert (span.starts_at, span.ends_at) == (NOW, NOW + HOUR)


def test_a_closed_studio_is_not_loaded(cast):
    Closure.across_studios.create(
        studio=cast.studio, starts_at=NOW, ends_at=NOW + 72 * HOUR, reason="Fair"
    )
    found = earliest_free_start(kiln=cast.kiln, lasts_s=3600, after=NOW)
    assert found >= NOW + 72 * HOUR


def test_loading_waits_for_the_morning_and_the_kiln(cast):
    # 09:00 UTC is 04:00 in the studio, which opens at 08:00.
    found = earliest_free_start(kiln=cast.kiln, lasts_s=50 * 3600, after=NOW)
    assert local(cast, found).hour == 8
    build.booking(kiln=cast.kiln, starts_at=NOW, hours=20)
    later = earliest_free_start(kiln=cast.kiln, lasts_s=50 * 3600, after=NOW)
    assert local(cast, later).day == local(cast, found).day + 1
    assert local(cast, later).hour == 8


def test_what_is_offered_instead_begins_when_somebody_is_in(cast):
    # The kiln is free from 05:00 UTC, midnight in the studio.
    build.booking(kiln=cast.kiln, starts_at=NOW, hours=20)
    found = next_free_span(kiln=cast.kiln, lasts_s=3600, after=NOW, now=NOW)
    assert found.starts_at > NOW + 20 * HOUR
    assert local(cast, found.starts_at).hour == 8


def test_nothing_free_in_half_a_year_is_said(cast):
    Closure.across_studios.create(
        studio=cast.studio,
        kiln=cast.kiln,
        starts_at=NOW,
        ends_at=NOW + dt.timedelta(days=400),
        reason="Moved",
    )
    with pytest.raises(NoRoom):
        earliest_free_start(kiln=cast.kiln, lasts_s=3600, after=NOW)
    assert next_free_span(kiln=cast.kiln, lasts_s=3600, after=NOW, now=NOW) is None


def test_a_kiln_cold_at_night_is_opened_in_the_morning(cast):
    at_night = dt.datetime(2026, 3, 5, 7, tzinfo=dt.UTC)
    assert local(cast, may_open_at(cast.studio, at_night)).hour == 8
    at_noon = dt.datetime(2026, 3, 5, 17, tzinfo=dt.UTC)
    assert may_open_at(cast.studio, at_noon) == at_noon


def test_attended_means_the_whole_span(cast):
    opens = dt.datetime(2026, 3, 4, 13, tzinfo=dt.UTC)
    assert is_attended(cast.studio, opens, 3600)
    assert not is_attended(cast.studio, opens - HOUR / 2, 3600)


@pytest.fixture
def planned_in_a_week(cast):
    """A planned load of unpainted layers, and a plan with nothing else."""
    piece = make.piece(studio=cast.studio, glass=cast.glass)
    return planned_time.keep(
        planned_time.standing(cast.studio),
        piece,
        starts_at=NOW + 150 * HOUR,
        kiln=cast.kiln,
        hours=14,
    )


def test_a_refusal_names_a_time_that_is_free(cast, planned_in_a_week):
    kept, wish = planned_in_a_week, 3 * HOUR
    with pytest.raises(KilnTaken) as refusal:
        book_over_plan(
            studio=cast.studio,
            kiln=cast.kiln,
            kind="rental",
            title="Bowls",
            starts_at=kept.starts_at + 2 * HOUR,
            ends_at=kept.starts_at + 2 * HOUR + wish,
            by=None,
            at=NOW,
        )
    free = refusal.value.next_free
    assert free.starts_at >= kept.ends_at, "the load may still happen"


def test_free_time_ends_at_what_can_happen(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass)
    soon = NOW + 4 * HOUR + HOUR / 4
    plan = planned_time.standing(cast.studio)
    planned_time.keep(plan, piece, starts_at=soon, kiln=cast.kiln, hours=14)
    found = next_free_span(
        kiln=cast.kiln, lasts_s=5 * 3600, after=NOW + 4 * HOUR, now=NOW + 4 * HOUR
    )
    assert (found.starts_at, found.ends_at) == (NOW + 4 * HOUR, None)


def test_a_kiln_that_runs_today_is_free_next_week_at_once(cast):
    firing = build.enamel(kiln=cast.kiln, glass=cast.glass, starts_at=NOW)
    start_firing(firing=firing, by=None, at=NOW)
    wanted = NOW + 7 * 24 * HOUR + 5 * HOUR
    found = earliest_free_start(
        kiln=cast.kiln, lasts_s=3600, after=wanted, now=NOW + HOUR
    )
    assert found == wanted
