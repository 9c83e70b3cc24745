"""A firing's readings judged: ordered once, computed in the worker, said in words."""

import numpy as np
import pytest
from django.utils import timezone

from firing.models import Judgement
from firing.selectors.firings import firings as all_firings
from firing.selectors.judgement_words import alarms_of, verdict_line, words_of
from firing.selectors.judging import JUDGE_JOB, judging_of
from firing.selectors.programmes import run_in
from firing.selectors.schedules import programme_of
from firing.services import firings, readings
from firing.services.judging import ask_for_judgement, judge_again
from studio.errors import Refused
from studio.models import Job, JobState
from studio.reader import Reader
from studio.roles import Can, allowed
from tests.firing import build
from tests.firing.views.pages import address, assert_doors, text_of
from tests.make import NOW
from tests.worker import run_waiting_jobs

EVERYBODY = ("owner", "maker", "helper", "technician")
RUNNERS = tuple(role for role in EVERYBODY if allowed(role, Can.RUN_FIRINGS))
EVERY_S = 600.0


def fused(cast):
    """Start the fuse of a nine-layer stack at the time of the tests."""
    piece = build.stacked(studio=cast.studio, glass=cast.glass)
    firing = build.fuse(piece=piece, kiln=cast.kiln)
    started = firings.start_firing(firing=firing, by=None, at=NOW)
    return all_firings(cast.studio).get(pk=started.pk)


def log_of(firing, *, cut=False, until_c=None):
    """Return a controller's file: the kiln as its model has it, perhaps with a cut."""
    run = run_in(firing.kiln, programme_of(firing.schedule))
    times = np.arange(0.0, run.time_s[-1] + EVERY_S, EVERY_S)
    heats = np.interp(times, run.time_s, run.temperature_c)
    labels = [s.label for s in programme_of(firing.schedule).segments]
    cut_s = run.segment_ends_s[labels.index("anneal soak")] + 1800
    if cut:
        # Power is gone, and the kiln falls towards 20 °C within hours.
        at_cut = float(np.interp(cut_s, times, heats))
        falling = 20 + (at_cut - 20) * np.exp(-(times - cut_s) / (3 * 3600))
        heats = np.where(times > cut_s, falling, heats)
    if until_c is not None:
        past = np.flatnonzero((times > cut_s) & (heats < until_c))[0]
        times, heats = times[:past], heats[:past]
    lines = [f"{s / 60:.0f};{c:.1f}" for s, c in zip(times, heats, strict=True)]
    return ("Elapsed (min);Temp °C\n" + "\n".join(lines)).encode()


def take_in(firing, data):
    return readings.import_readings(
        firing=firing, data=data, file_name="k.csv", unit=None, by=None, at=NOW
    )


def judged(cast, **how):
    firing = fused(cast)
    take_in(firing, log_of(firing, **how))
    assert run_waiting_jobs() == [JobState.DONE]
    return firing, Judgement.owned.for_studio(cast.studio).get()


def written(judgement, cast):
    return words_of(judgement, reader=Reader.of_studio(cast.studio), now=NOW)


def test_a_firing_as_planned_is_annealed_as_planned(cast):
    firing, judgement = judged(cast)
    assert judgement.verdict == "within the limits"
    words = written(judgement, cast)
    assert words.title == "Annealed as planned"
    assert words.is_good
    assert words.options == ()
    assert words.next_words.startswith("Nothing")
    assert len(judgement.trace["time_s"]) <= 600
    low, middle, high = judgement.numbers["residual_mpa"]
    assert 0 <= low <= middle <= high <= 0.5 * 1.03
    assert judging_of(firing).state == "ready"


def test_a_cut_in_the_first_cooling_must_be_annealed_again(cast):
    _, judgement = judged(cast, cut=True)
    words = written(judgement, cast)
    low, middle, high = judgement.numbers["residual_mpa"]
    assert middle > 0.5
    assert judgement.verdict == "must be annealed again"
    assert words.title.startswith("Cooled too fast between ")
    assert f"{low:.2f} to {high:.2f} MPa, over 0.5 MPa" in words.title
    first = words.options[0]
    assert (first.action, first.is_recommended) == ("re-anneal", True)
    assert first.is_within
    kept = {one["action"]: one for one in judgement.numbers["options"]}
    assert kept["re-anneal"]["residual_mpa"][2] < middle
    assert any("as without power" in fault for fault in words.faults)
    alarms = alarms_of(judgement, Reader.of_studio(cast.studio))
    assert any("The kiln fell" in alarm.words for alarm in alarms)


def test_while_it_is_hot_every_way_on_has_its_outcome(cast):
    _, judgement = judged(cast, until_c=440)
    assert judgement.verdict == "not over yet"
    words = written(judgement, cast)
    assert "so far" in words.title
    assert {o.action for o in words.options} >= {
        "go on",
        "hold, then go on",
        "go on at half the rate",
    }
    assert all("stays in the glass" in o.outcome for o in words.options)
    assert sum(o.is_recommended for o in words.options) == 1


def test_readings_that_tell_nothing_say_so(cast):
    firing = fused(cast)
    take_in(firing, b"Elapsed (min);Temp \xc2\xb0C\n0;300\n10;302\n")
    assert run_waiting_jobs() == [JobState.DONE]
    judgement = Judgement.owned.for_studio(cast.studio).get()
    assert judgement.verdict == Judgement.NOT_JUDGED
    words = written(judgement, cast)
    assert words.title == "Not enough readings to judge"
    assert "Add the readings from cold" in words.sentence
    assert words.bands == ()


def test_the_same_readings_are_ordered_and_kept_once(cast):
    firing, judgement = judged(cast)
    ask_for_judgement(firing=firing)
    assert Job.across_studios.filter(name=JUDGE_JOB).count() == 1
    judge_again(firing=firing)
    judge_again(firing=firing)
    assert Job.across_studios.filter(name=JUDGE_JOB).count() == 2
    assert run_waiting_jobs() == [JobState.DONE]
    again = Judgement.owned.for_studio(cast.studio).get()
    assert again.pk == judgement.pk
    assert again.numbers == judgement.numbers


def test_the_job_run_twice_keeps_one_row(cast):
    _, judgement = judged(cast)
    Job.across_studios.filter(name=JUDGE_JOB).update(state=JobState.WAITING, attempts=0)
    assert run_waiting_jobs() == [JobState.DONE]
    assert Judgement.across_studios.get().pk == judgement.pk


def test_other_readings_are_judged_anew_and_none_are_not_judged(cast):
    firing, _ = judged(cast)
    source = firing.imports.get()
    readings.remove_import(source=source, by=None, at=NOW)
    state = judging_of(firing)
    assert (state.state, state.has_readings) == ("none", False)
    with pytest.raises(Refused, match="no readings"):
        judge_again(firing=firing)
    take_in(firing, log_of(firing, cut=True))
    assert judging_of(firing).state == "making"
    run_waiting_jobs()
    line, kind = verdict_line(
        judging_of(firing).judgement, Reader.of_studio(cast.studio)
    )
    assert line.startswith("Cooled too fast")
    assert kind == "problem"


def test_the_page_polls_and_then_shows_the_verdict(cast, signed_in):
    firing = fused(cast)
    take_in(firing, log_of(firing, cut=True))
    browser = signed_in("helper")
    url = address("firing_judgement", firing.pk)
    page = browser.get(url)
    assert f'hx-get="{url}"' in page.content.decode()
    asked = browser.get(url, headers={"HX-Request": "true"})
    assert 'id="judging"' in asked.content.decode()
    assert "HX-Refresh" not in asked
    run_waiting_jobs()
    assert browser.get(url, headers={"HX-Request": "true"})["HX-Refresh"] == "true"
    page = browser.get(url)
    text = text_of(page)
    assert "Cooled too fast between" in text
    assert "Anneal it again" in text
    assert "limit 3 MPa" in text
    assert "style=" not in page.content.decode()
    detail = text_of(browser.get(address("firing_detail", firing.pk)))
    assert "Cooled too fast between" in detail


def test_the_re_anneal_is_booked_from_here_once_the_piece_is_out(cast, signed_in):
    firing = fused(cast)
    take_in(firing, log_of(firing, cut=True))
    run_waiting_jobs()
    item = firing.items.get()
    html = signed_in("technician").get(address("firing_judgement", firing.pk))
    link = address("fuse_plan", item.piece_id)
    assert link not in html.content.decode()
    firings.finish_firing(
        firing=firing,
        outcomes={item.pk: ("redo", "power cut")},
        by=None,
        at=timezone.now(),
    )
    html = signed_in("technician").get(address("firing_judgement", firing.pk))
    assert link in html.content.decode()
    html = signed_in("helper").get(address("firing_judgement", firing.pk))
    assert link not in html.content.decode()


def test_a_failed_job_says_why_and_can_be_tried_again(cast, signed_in):
    firing = fused(cast)
    take_in(firing, log_of(firing))
    Job.across_studios.filter(name=JUDGE_JOB).update(
        state=JobState.FAILED, error="The worker stopped."
    )
    browser = signed_in("technician")
    assert "The worker stopped." in text_of(
        browser.get(address("firing_judgement", firing.pk))
    )
    answer = browser.post(address("firing_judge_again", firing.pk))
    assert answer["Location"] == address("firing_judgement", firing.pk)
    assert judging_of(firing).state == "making"


def test_without_readings_the_page_asks_for_them(cast, signed_in):
    firing = fused(cast)
    browser = signed_in("technician")
    assert "No readings" in text_of(browser.get(address("firing_judgement", firing.pk)))
    answer = browser.post(address("firing_judge_again", firing.pk))
    assert answer.status_code == 409
    assert "no readings to judge" in text_of(answer)


def test_who_gets_in(cast, client, signed_in, strangers):
    firing = fused(cast)
    common = {"client": client, "signed_in": signed_in, "strangers": strangers}
    assert_doors(url=address("firing_judgement", firing.pk), roles=EVERYBODY, **common)
    assert_doors(
        url=address("firing_judge_again", firing.pk),
        roles=RUNNERS,
        post=True,
        **common,
    )
