"""The studio's limits of tension: who sets them, what is refused, what they affect."""

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone

from firing.firings.services.running import start_firing
from firing.models import StressLimits
from firing.physics.limits import DEFAULT_LIMITS, Limits
from firing.readings.selectors.verdict_inputs import JUDGE_JOB, inputs_sha256
from firing.readings.services.limits import set_limits
from firing.readings.services.readings import import_readings
from firing.schedules.selectors.limits import JUDGE_ALL_JOB, limits_of
from studio import jobs
from studio.models import HistoryEntry, Job
from tests.firing import build
from tests.firing.pages import address, text_of
from tests.make import NOW

CHOSEN = {"temporary_mpa": "2,5", "residual_mpa": "0.4", "warning_mpa": "6"}
STRICT = Limits(temporary_pa=2.5e6, residual_pa=0.4e6, warning_pa=6e6)


def test_the_settings_show_the_limits_to_everybody(cast, signed_in):
    for role in ("owner", "technician", "maker", "helper"):
        html = signed_in(role).get(reverse("studio:settings")).content.decode()
        assert "Limits of tension" in html
        assert "0.5 MPa" in html
        may = role in ("owner", "technician")
        assert (address("limits_edit") in html) == may, role


def test_the_technician_sets_them_and_everything_goes_by_them(cast, signed_in):
    page = text_of(signed_in("technician").get(address("limits_edit")))
    assert "maquette" in page, "the caution"
    answer = signed_in("technician").post(address("limits_edit"), CHOSEN)
    assert answer["Location"] == reverse("studio:settings")
    assert limits_of(cast.studio) == STRICT
    assert (
        "2.5 MPa while hot"
        in HistoryEntry.owned.for_studio(cast.studio).latest("pk").what
    )
    html = signed_in().get(address("schedule_designer")).content.decode()
    assert 'value="2.5"' in html
    assert 'value="0.4"' in html
    piece = build.stacked(studio=cast.studio, glass=cast.glass, layer_count=9)
    html = (
        signed_in()
        .get(address("fuse_plan", piece.pk), {"kiln": cast.kiln.pk})
        .content.decode()
    )
    assert 'value="2.5"' in html


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"temporary_mpa": ""}, "Write a number of MPa"),
        ({"temporary_mpa": "much"}, "Write a number of MPa"),
        ({"residual_mpa": "3"}, "not above the temporary one"),
        ({"warning_mpa": "2"}, "not above the warning"),
        ({"warning_mpa": "1000"}, "0.01 to 100 MPa"),
        ({"residual_mpa": "0"}, "0.01 to 100 MPa"),
        ({"residual_mpa": "nan"}, "MPa"),
    ],
)
def test_nonsense_is_refused_with_the_reason(cast, signed_in, changes, said):
    answer = signed_in("owner").post(address("limits_edit"), CHOSEN | changes)
    assert answer.status_code == 422
    assert said in text_of(answer)
    assert limits_of(cast.studio) == DEFAULT_LIMITS


def test_one_studio_does_not_set_anothers(cast, strangers):
    set_limits(studio=cast.studio, limits=STRICT, by=None, at=NOW)
    assert limits_of(strangers.studio) == DEFAULT_LIMITS
    set_limits(studio=cast.studio, limits=DEFAULT_LIMITS, by=None, at=NOW)
    assert limits_of(cast.studio) == DEFAULT_LIMITS
    assert StressLimits.owned.for_studio(cast.studio).count() == 1


def test_a_verdict_rests_on_the_limits(cast):
    firing = build.enamel(kiln=cast.kiln, glass=cast.glass)
    before = inputs_sha256(firing)
    set_limits(studio=cast.studio, limits=STRICT, by=None, at=NOW)
    assert inputs_sha256(firing) != before


def test_fired_pieces_are_judged_anew_by_new_limits(cast):
    firing = build.enamel(kiln=cast.kiln, glass=cast.glass)
    bare = build.enamel(
        kiln=cast.kiln, glass=cast.glass, starts_at=NOW + dt.timedelta(days=3)
    )
    start_firing(firing=firing, by=None, at=NOW)
    import_readings(
        firing=firing,
        data=b"Seconds,Temp (\xc2\xb0C)\n0,20\n3600,200\n7200,350\n",
        file_name="a.csv",
        unit="C",
        by=None,
        at=NOW,
    )
    before = set(judge_jobs(cast))
    set_limits(studio=cast.studio, limits=STRICT, by=None, at=NOW)
    order = Job.owned.for_studio(cast.studio).get(name=JUDGE_ALL_JOB)
    for _ in range(2):
        jobs.run(order.pk, clock=timezone.now)
    new = [job for job in judge_jobs(cast) if job not in before]
    assert [job.arguments["firing_id"] for job in new] == [firing.pk]
    assert bare.pk not in {job.arguments["firing_id"] for job in new}


def judge_jobs(cast):
    return Job.owned.for_studio(cast.studio).filter(name=JUDGE_JOB)
