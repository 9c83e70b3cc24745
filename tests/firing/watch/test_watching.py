"""Running firings are watched: events are kept as the readings tell them, people called
once, with what to do.
"""

import datetime as dt
import itertools
from functools import partial

import numpy as np
import pytest
from django.utils import timezone

from firing.firings.services.running import finish_firing
from firing.models import MAY_BE_OPENED, FiringEvent, FiringWatch, Reading
from firing.physics.judging.watching import EventKind
from firing.watch.services import watching
from studio.models import HistoryEntry, Job
from studio.viewer import Viewer
from tests.firing import build
from tests.firing.physics.readings import without
from tests.firing.watch.replay import (
    HOUR_S,
    anneal_s,
    planned_log,
    pushed,
    running_fuse,
    send,
    with_cut,
)
from tests.worker import run_waiting_jobs

SECOND, MINUTE, HOUR, DAY = (
    dt.timedelta(seconds=1),
    dt.timedelta(minutes=1),
    dt.timedelta(hours=1),
    dt.timedelta(days=1),
)


@pytest.fixture
def told(monkeypatch):
    """What people were told, instead of messages."""
    found = []
    monkeypatch.setattr(watching, "tell", lambda **given: found.append(given))
    return found


@pytest.fixture
def now():
    return timezone.now().replace(microsecond=0)


@pytest.fixture
def firing(cast, now):
    return running_fuse(cast, started=now - 20 * DAY)


def look(firing, at):
    watching.look(firing_id=firing.pk, clock=lambda: at)


def rows(firing):
    return [
        (one.kind, one.begins_at, one.ended_at, round(one.amount, 3))
        for one in FiringEvent.across_studios.filter(
            firing=firing, withdrawn_at__isnull=True
        ).order_by("begins_at")
    ]


def kinds(firing):
    return [kind for kind, *_ in rows(firing)]


def letter(given, cast):
    return given["write"](Viewer.of_member(cast.membership("owner")))


class TestThreeHourCut:
    @pytest.fixture
    def log(self, firing):
        time_s, kiln_c = planned_log(firing)
        at_s = anneal_s(firing, time_s, kiln_c) + 4 * HOUR_S
        return time_s, with_cut(firing, time_s, kiln_c, at_s=at_s, hours=3), at_s

    def sent_until(self, firing, log, until_s, *, at, logger=None):
        time_s, kiln_c, _ = log
        upto = time_s <= until_s
        return send(
            firing, pushed(firing, time_s[upto], kiln_c[upto]), at=at, logger=logger
        )

    def test_calls_once_with_the_advice_when_the_power_is_back(
        self, cast, firing, log, told, now
    ):
        back_s = log[2] + 3 * HOUR_S
        logger = self.sent_until(firing, log, back_s, at=now)
        look(firing, now)
        assert kinds(firing) == [EventKind.CUT]
        assert told == []
        self.sent_until(firing, log, back_s + 360, at=now, logger=logger)
        for seconds in range(3):
            look(firing, now + seconds * SECOND)
        # The consequence is computed by the worker, which then looks again.
        assert told == []
        run_waiting_jobs()
        assert len(told) == 1
        said = letter(told[0], cast)
        assert str(firing.kiln) in said.title
        assert "power cut" in said.title
        assert "fell from" in said.text
        assert "The glass:" in said.text
        assert "°F" in said.text
        assert told[0]["topic"] == "firings"
        assert told[0]["is_urgent"]
        for minutes in range(1, 14):
            look(firing, now + minutes * MINUTE)
        run_waiting_jobs()
        assert len(told) == 1

    def test_says_so_when_it_goes_on_and_again_when_it_is_over(
        self, cast, firing, log, told, now
    ):
        logger = self.sent_until(firing, log, log[2] + HOUR_S, at=now)
        look(firing, now)
        look(firing, now + 9 * MINUTE)
        assert told == []
        look(firing, now + 11 * MINUTE)
        look(firing, now + 12 * MINUTE)
        assert len(told) == 1
        assert "breaker" in letter(told[0], cast).text
        later = now + 13 * MINUTE
        self.sent_until(firing, log, log[2] + 4 * HOUR_S, at=later, logger=logger)
        look(firing, later)
        look(firing, now + 14 * MINUTE)
        look(firing, now + 19 * MINUTE)
        assert [one["key"].endswith("goes on") for one in told] == [True, False]

    def test_is_told_to_whoever_keeps_plan_and_promises(self, firing, log, now, told):
        self.sent_until(firing, log, log[2] + HOUR_S, at=now)
        look(firing, now)
        lines = HistoryEntry.across_studios.filter(subject=f"firing {firing.pk}")
        assert lines.filter(what__startswith="Power cut in").count() == 1

    def test_does_not_wait_for_a_verdict_that_does_not_come(
        self, cast, firing, log, now, told
    ):
        self.sent_until(firing, log, log[2] + 4 * HOUR_S, at=now)
        look(firing, now)
        Job.across_studios.all().delete()
        look(firing, now + 6 * MINUTE)
        assert len(told) == 1
        assert "The glass" not in letter(told[0], cast).text


class TestOrderOfReadings:
    @pytest.fixture
    def parts(self, firing):
        time_s, kiln_c = planned_log(firing, every_s=300.0)
        soak_s = anneal_s(firing, time_s, kiln_c)
        kiln_c = with_cut(firing, time_s, kiln_c, at_s=soak_s + 4 * HOUR_S, hours=3)
        time_s, kiln_c = without(
            time_s, kiln_c, soak_s + 20 * HOUR_S, soak_s + 22 * HOUR_S
        )
        readings = pushed(firing, time_s, kiln_c)
        third = len(readings) // 3
        return readings[:third], readings[third : 2 * third], readings[2 * third :]

    @pytest.mark.parametrize("order", list(itertools.permutations(range(3)))[::2])
    def test_gives_the_same_events(self, firing, parts, order, now, told):
        logger = None
        for step, place in enumerate((*order, order[0])):
            shuffled = list(parts[place])
            np.random.default_rng(step).shuffle(shuffled)
            logger = send(firing, shuffled, at=now, logger=logger)
            look(firing, now)
        assert Reading.across_studios.filter(firing=firing).count() == sum(
            len(part) for part in parts
        )
        found = [row for row in rows(firing) if row[0] != MAY_BE_OPENED]
        assert [kind for kind, *_ in found] == [EventKind.CUT, EventKind.SILENT]
        FiringEvent.across_studios.all().delete()
        look(firing, now)
        assert found == [row for row in rows(firing) if row[0] != MAY_BE_OPENED]

    def test_a_gap_that_is_filled_is_no_event_any_more(self, firing, now, told):
        time_s, kiln_c = planned_log(firing, every_s=300.0)
        soak_s = anneal_s(firing, time_s, kiln_c)
        gap = without(time_s, kiln_c, soak_s, soak_s + 2 * HOUR_S)
        logger = send(firing, pushed(firing, *gap), at=now)
        look(firing, now)
        assert EventKind.SILENT in kinds(firing)
        send(firing, pushed(firing, time_s, kiln_c), at=now, logger=logger)
        look(firing, now)
        assert EventKind.SILENT not in kinds(firing)


class TestSilence:
    def test_calls_once_and_is_over_when_the_logger_speaks(
        self, cast, firing, now, told
    ):
        time_s, kiln_c = planned_log(firing)
        half = anneal_s(firing, time_s, kiln_c) >= time_s
        first = pushed(firing, time_s[half], kiln_c[half])
        logger = send(firing, first, at=now)
        look(firing, now + 10 * MINUTE)
        assert told == []
        for minutes in (16, 17, 40):
            look(firing, now + minutes * MINUTE)
        assert [one["key"] for one in told] == [
            f"firing {firing.pk} event {FiringEvent.across_studios.get().pk}"
        ]
        assert "the last reading was" in letter(told[0], cast).text
        send(firing, first[-1:], at=now + HOUR, logger=logger)
        look(firing, now + HOUR + MINUTE)
        assert kinds(firing) == []
        (kept,) = FiringEvent.across_studios.all()
        assert kept.withdrawn_at is not None

    def test_says_nothing_where_no_logger_sends(self, firing, now, told):
        look(firing, now)
        assert EventKind.SILENT not in kinds(firing)


class TestOpening:
    def test_is_told_once_somebody_may_be_in(self, cast, firing, now, told):
        time_s, kiln_c = planned_log(firing)
        send(firing, pushed(firing, time_s, kiln_c), at=now)
        night, day = _outside_and_inside(cast.studio)
        look(firing, night)
        assert kinds(firing) == [MAY_BE_OPENED]
        assert told == []
        look(firing, day)
        look(firing, day + HOUR)
        assert [one["topic"] for one in told] == ["unloading"]
        assert not told[0]["is_urgent"]
        assert "ready to unload" in letter(told[0], cast).title

    def test_nothing_is_looked_at_after_it(self, firing, now, told):
        time_s, kiln_c = planned_log(firing)
        send(firing, pushed(firing, time_s, kiln_c), at=now)
        finish_firing(
            firing=firing,
            outcomes={item.pk: ("fine", "") for item in firing.items.all()},
            by=None,
            at=now,
            hand=build.READ_COLD,
        )
        look(firing, now)
        assert kinds(firing) == []


def _outside_and_inside(studio):
    """Return an instant outside the studio's hours, and one inside, both to come."""
    from studio.models import AccessHours

    AccessHours.across_studios.filter(studio=studio).delete()
    for weekday in range(7):
        AccessHours.across_studios.create(
            studio=studio, weekday=weekday, opens=dt.time(9), closes=dt.time(17)
        )
    from zoneinfo import ZoneInfo

    tomorrow = timezone.now().astimezone(ZoneInfo(studio.time_zone)) + DAY
    return (
        tomorrow.replace(hour=3, minute=0),
        tomorrow.replace(hour=12, minute=0),
    )


class TestTurns:
    def test_only_one_worker_looks_at_a_time(self, firing, now, told):
        clock = partial(lambda at: at, now)
        assert watching.watch_all(clock=clock) == 1
        assert watching.watch_all(clock=clock) == 0
        assert watching.watch_all(clock=lambda: now + MINUTE) == 1
        assert FiringWatch.across_studios.count() == 1


class TestSeeingToIt:
    @pytest.fixture
    def event(self, firing, now):
        return FiringEvent.across_studios.create(
            studio=firing.studio,
            firing=firing,
            kind=EventKind.STALLED,
            begins_at=now - HOUR,
            begins_c=500,
            worst_c=501,
            amount=3600,
            seen_at=now,
            changed_at=now,
        )

    def test_takes_it_off_today_and_keeps_the_note(self, cast, event, signed_in):
        client = signed_in("maker")
        assert "Stalled in" in client.get("/").content.decode()
        client.post(f"/firings/events/{event.pk}/seen-to/", {"note": "relay tapped"})
        assert "Stalled in" not in client.get("/").content.decode()
        page = client.get(f"/firings/{event.firing_id}/").content.decode()
        assert "relay tapped" in page
        event.refresh_from_db()
        assert event.acknowledged_by == cast.person("maker")

    def test_is_taken_back_with_one_tap(self, event, signed_in):
        client = signed_in("maker")
        client.post(f"/firings/events/{event.pk}/seen-to/", {"note": "hm"})
        client.post(f"/firings/events/{event.pk}/not-seen-to/")
        event.refresh_from_db()
        assert event.acknowledged_at is None
        assert event.note == "hm"
        assert "Stalled in" in client.get("/").content.decode()

    def test_of_another_studio_is_not_found(self, event, strangers, signed_in):
        answer = signed_in("owner", strangers).post(
            f"/firings/events/{event.pk}/seen-to/", {"note": ""}
        )
        assert answer.status_code == 404
