"""New limits have every firing judged again, one order and one transaction at a time."""

import datetime as dt

import pytest
from django.db import connection
from django.utils import timezone

from firing.firings.services.running import start_firing
from firing.models import Firing
from firing.physics.limits import Limits
from firing.readings.selectors.verdict_inputs import JUDGE_JOB
from firing.readings.services import limits
from firing.readings.services.readings import import_readings
from firing.schedules.selectors.limits import JUDGE_ALL_JOB
from studio import jobs
from studio.models import Job, JobState
from tests.firing import build
from tests.make import NOW, kiln

STRICT = Limits(temporary_pa=2.5e6, residual_pa=0.4e6, warning_pa=6e6)


def fired(cast, count: int) -> list[Firing]:
    """Start firings and import readings of each."""
    made = []
    for number in range(count):
        own = kiln(studio=cast.studio, name=f"Kiln of firing {number}")
        firing = build.enamel(kiln=own, glass=cast.glass)
        start_firing(firing=firing, by=None, at=NOW)
        import_readings(
            firing=firing,
            data=f"Seconds,Temp (\xb0C)\n0,{20 + number}\n3600,200\n".encode(),
            file_name="a.csv",
            unit="C",
            by=None,
            at=NOW,
        )
        made.append(firing)
    Job.owned.for_studio(cast.studio).delete()
    return made


def ordered(cast) -> list[int]:
    """Return which firings are to be judged, in the order in which that was asked."""
    found = Job.owned.for_studio(cast.studio).filter(name=JUDGE_JOB).order_by("pk")
    return [job.arguments["firing_id"] for job in found]


def stricter(cast) -> Job:
    limits.set_limits(studio=cast.studio, limits=STRICT, by=None, at=NOW)
    return Job.owned.for_studio(cast.studio).get(name=JUDGE_ALL_JOB)


@pytest.mark.django_db(transaction=True)
def test_each_judgement_is_ordered_in_a_transaction_of_its_own(cast, monkeypatch):
    made = fired(cast, 3)
    job = stricter(cast)
    assert ordered(cast) == []
    asks, inside = limits.ask_for_judgement, []

    def ask(*, firing):
        inside.append(connection.in_atomic_block)
        asks(firing=firing)

    monkeypatch.setattr(limits, "ask_for_judgement", ask)
    assert jobs.run(job.pk, clock=timezone.now) == JobState.DONE
    assert inside == [False, False, False]
    assert ordered(cast) == [firing.pk for firing in reversed(made)]


@pytest.mark.django_db
def test_broken_off_in_the_middle_the_rest_is_ordered_by_the_next_run(
    cast, monkeypatch
):
    made = fired(cast, 3)
    job = stricter(cast)
    asks = limits.ask_for_judgement

    def ask(*, firing):
        if firing == made[0]:
            raise ConnectionError("The database went away")
        asks(firing=firing)

    monkeypatch.setattr(limits, "ask_for_judgement", ask)
    assert jobs.run(job.pk, clock=timezone.now) == JobState.WAITING
    assert ordered(cast) == [made[2].pk, made[1].pk]
    monkeypatch.setattr(limits, "ask_for_judgement", asks)
    later = timezone.now() + dt.timedelta(minutes=1)
    assert jobs.run(job.pk, clock=lambda: later) == JobState.DONE
    assert ordered(cast) == [made[2].pk, made[1].pk, made[0].pk]


@pytest.mark.django_db
def test_it_tells_how_far_it_is(cast):
    fired(cast, 2)
    stricter(cast)
    heard: list[str] = []
    limits.judge_by_new_limits(studio=cast.studio, told=heard.append)
    assert heard == ["0 of 2 firings looked at", "1 of 2 firings looked at"]
