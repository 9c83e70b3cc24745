"""A firing's readings judged: ordered once, computed in the worker, said in words."""

from datetime import timedelta

import numpy as np
import pytest
from django.utils import timezone

from firing import tasks
from firing.drawings.tension import megapascals
from firing.firings.services import running
from firing.loads.selectors.firings import firings as all_firings
from firing.models import Firing, Judgement, KilnEvenness, Schedule
from firing.physics.judging.verdict import Verdict
from firing.readings.selectors import verdict_inputs as selector
from firing.readings.selectors.verdict_faults import cuts_of
from firing.readings.selectors.verdict_inputs import JUDGE_JOB, judging_of
from firing.readings.selectors.verdict_words import STATUS_KIND, verdict_line, words_of
from firing.readings.services import readings
from firing.readings.services.judging import (
    ask_for_judgement,
    ask_what_next,
    judge_again,
    keep_judgement,
)
from firing.readings.services.kiln_book import keep_entry
from firing.readings.services.re_anneals import keep_re_anneal
from firing.schedules.selectors.programmes import run_of
from firing.schedules.selectors.schedules import programme_of
from firing.schedules.selectors.slabs import tension_in
from firing.schedules.selectors.stress import ENGINE, request_of
from firing.schedules.selectors.verdict_numbers import MPA, mpa
from studio import jobs
from studio.errors import Refused
from studio.models import Glass, Job, JobState
from studio.roles import Can, allowed
from studio.viewer import Viewer
from tests.firing import build
from tests.firing.pages import address, assert_doors, text_of
from tests.make import NOW
from tests.worker import run_waiting_jobs

EVERYBODY = ("owner", "maker", "helper", "technician")
RUNNERS = tuple(role for role in EVERYBODY if allowed(role, Can.RUN_FIRINGS))
EVERY_S = 600.0


def fused(cast):
    """Start the fuse of a nine-layer stack at the time of the tests."""
    piece = build.stacked(studio=cast.studio, glass=cast.glass)
    firing = build.fuse(piece=piece, kiln=cast.kiln)
    started = running.start_firing(firing=firing, by=None, at=NOW)
    return all_firings(cast.studio).get(pk=started.pk)


def log_of(firing, *, cut=False, until_c=None):
    """Return a controller's file: the kiln as its model has it, perhaps with a cut."""
    run = run_of(firing.kiln, firing.schedule)
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
    return words_of(judgement, viewer=Viewer.of_studio(cast.studio), now=NOW)


def test_a_firing_as_planned_is_annealed_as_planned(cast):
    firing, judgement = judged(cast)
    assert judgement.verdict == "within the limits"
    words = written(judgement, cast)
    assert words.title == "Annealed as planned"
    assert words.is_good
    assert words.options == ()
    assert words.next_words.startswith("Nothing")
    assert len(judgement.trace["time_s"]) <= 600
    low, middle, high = mpa(judgement.numbers["residual_max_tension_pa"])
    assert 0 <= low <= middle <= high <= 0.5 * 1.03
    assert judging_of(firing).state == "ready"


def test_a_cut_in_the_first_cooling_must_be_annealed_again(cast):
    _, judgement = judged(cast, cut=True)
    words = written(judgement, cast)
    low, middle, high = mpa(judgement.numbers["residual_max_tension_pa"])
    assert middle > 0.5
    assert judgement.verdict == "must be annealed again"
    assert words.title.startswith("Cooled too fast between ")
    assert words.headline.range == f"{low:.2f} to {high:.2f} MPa"
    first = words.options[0]
    assert (first.action, first.is_recommended) == ("re-anneal", True)
    assert first.is_within
    kept = {one["action"]: one for one in judgement.numbers["next"]}
    assert mpa(kept["re-anneal"]["residual_max_tension_pa"])[2] < middle
    assert [fault[:9] for fault in words.faults] == ["Power cut"]
    assert [cut.words for cut in cuts_of(judgement)] == ["Power cut"]


def looked_into(firing):
    """Have what can be done computed, as for somebody who looks."""
    ask_what_next(firing=firing)
    assert run_waiting_jobs() == [JobState.DONE]
    return judging_of(firing).judgement


@pytest.fixture
def looks(monkeypatch):
    """Count how often what can be done is computed, and compute nothing."""
    found = []
    monkeypatch.setattr(selector, "what_next", lambda *_, **__: found.append(1) or ())
    return found


def test_what_can_be_done_is_computed_when_somebody_looks(cast, signed_in, looks):
    firing, judgement = judged(cast, until_c=440)
    assert (judgement.verdict, judgement.lacks_options) == ("not over yet", True)
    assert written(judgement, cast).next_words.endswith("not worked out yet.")
    browser = signed_in("helper")
    assert "so far" in text_of(browser.get(address("firing_detail", firing.pk)))
    assert (looks, judging_of(firing).state) == ([], "ready")
    url = address("firing_judgement", firing.pk)
    for path in ("firing_type_now", "verdict_paper"):
        assert browser.get(address(path, firing.pk))["Location"] == url
    page = browser.get(url)
    assert "not worked out yet" in text_of(page)
    assert 'hx-trigger="load"' in page.content.decode(), "it presses itself"
    assert run_waiting_jobs() == []
    for _ in range(2):
        page = browser.post(url, follow=True)
        assert "Working out the next steps" in text_of(page)
    assert run_waiting_jobs() == [JobState.DONE]
    assert looks == [1]
    browser.get(url)
    assert run_waiting_jobs() == []
    assert not Judgement.owned.for_studio(cast.studio).get().lacks_options


def test_what_could_not_be_computed_is_not_ordered_by_every_look(cast, signed_in):
    firing, _ = judged(cast, until_c=440)
    url = address("firing_judgement", firing.pk)
    browser = signed_in("helper")
    browser.post(url)
    Job.across_studios.filter(name=JUDGE_JOB).update(state=JobState.FAILED)
    browser.get(url)
    assert run_waiting_jobs() == []


def test_a_fault_is_looked_into_when_it_is_found_and_when_all_is_over(cast, looks):
    firing, last = judged(cast, cut=True, until_c=440)
    assert any(fault["kind"] == "cut" for fault in last.numbers["faults"])
    assert (looks, last.lacks_options) == ([1], False)
    again = selector.judge_firing(firing, last=last, is_asked=False)
    assert (looks, again.numbers["next"]) == ([1], None)
    last.numbers["faults"] = []
    selector.judge_firing(firing, last=last, is_asked=False)
    assert looks == [1, 1]
    firing.finished_at = NOW
    selector.judge_firing(firing, last=again_as_row(firing, again), is_asked=False)
    assert looks == [1, 1, 1]


def again_as_row(firing, found, *, sha256="x" * 64, at=NOW):
    return keep_judgement(firing=firing, sha256=sha256, found=found, at=at)


def test_of_a_firing_the_newest_judgement_and_the_one_before_are_kept(cast):
    firing = fused(cast)
    found = selector.NewJudgement(verdict=Judgement.NOT_JUDGED, numbers={}, trace={})
    minute = timedelta(minutes=1)
    for number in (1, 2, 4, 3):
        # The fourth was begun before the third, and is done after it.
        again_as_row(firing, found, sha256=str(number), at=NOW + number * minute)
    kept = Judgement.owned.for_studio(cast.studio).filter(firing=firing)
    assert [one.inputs_sha256 for one in kept] == ["4", "3"]
    assert selector.last_judgement(firing).inputs_sha256 == "4"


def test_of_orders_that_waited_together_only_the_first_computes(cast, monkeypatch):
    firing, judgement = judged(cast)
    computed = []
    monkeypatch.setattr(tasks, "judge_firing", lambda *_, **__: computed.append(1))
    jobs.enqueue(studio=cast.studio, name=JUDGE_JOB, key="x", firing_id=firing.pk)
    assert run_waiting_jobs() == [JobState.DONE]
    assert computed == []
    assert Judgement.owned.for_studio(cast.studio).get().made_at == judgement.made_at


def judged_as(cast, changed):
    """Judge a firing as planned whose readings (hours, °C) were changed."""
    firing = fused(cast)
    run = run_of(firing.kiln, firing.schedule)
    times = np.arange(0.0, run.time_s[-1], EVERY_S)
    heats = np.interp(times, run.time_s, run.temperature_c)
    hours, heats = changed(times / 3600, heats)
    rows = "".join(
        f"{hour * 60:.0f};{celsius:.1f}\n"
        for hour, celsius in zip(hours, heats, strict=True)
    )
    take_in(firing, f"Elapsed (min);Temp °C\n{rows}".encode())
    assert run_waiting_jobs() == [JobState.DONE]
    judgement = Judgement.owned.for_studio(cast.studio).get()
    return judgement, written(judgement, cast)


def test_a_gap_that_decides_is_the_headline(cast):
    """Twelve hours of the cooling unread: the ranges hold the worst of the kiln."""

    def unread(hours, heats):
        start = hours[np.flatnonzero(heats > 470)[-1]]
        kept = (hours < start) | (hours > start + 12)
        return hours[kept], heats[kept]

    judgement, words = judged_as(cast, unread)
    assert judgement.verdict == "readings are missing where they matter"
    assert words.title.startswith("Not enough readings: none for 12 h")
    assert "the worst that this kiln can have done" in words.sentence
    assert not words.is_good


def test_a_broken_thermocouple_is_said_and_counted(cast):
    def broken(hours, heats):
        soak = hours[np.argmax(heats)] + 8
        return hours, np.where((hours >= soak) & (hours < soak + 1), 1372.0, heats)

    judgement, words = judged_as(cast, broken)
    assert judgement.verdict == "within the limits"
    assert any("the thermocouple read what no kiln can" in one for one in words.faults)
    assert any("of the logger or its thermocouple" in one for one in words.assumptions)
    assert judgement.numbers["broken_readings"] == round(3600 / EVERY_S)


def test_a_verdict_is_over_every_annealing_point_that_is_quoted(cast):
    def as_it_was(hours, heats):
        return hours, heats

    Glass.owned.for_studio(cast.studio).update(annealing_point_c=None)
    cast.glass.refresh_from_db()
    judgement, words = judged_as(cast, as_it_was)
    assert judgement.numbers["uncertainty"]["annealing_point_above_k"] == 26
    said = " ".join(words.assumptions)
    assert "an annealing point from 18 °F lower to 47 °F higher" in said
    assert "Enter its maker's on its page in Stock" in said
    Glass.owned.for_studio(cast.studio).update(annealing_point_c=516)
    firing = all_firings(cast.studio).get()
    assert judging_of(firing).state == "none", "another glass, another verdict"
    known = selector.judge_firing(firing, last=None, is_asked=False)
    narrow = mpa(known.numbers["residual_max_tension_pa"])
    wide = mpa(judgement.numbers["residual_max_tension_pa"])
    assert wide[1] == pytest.approx(narrow[1])
    assert wide[2] > narrow[2]
    words = written(again_as_row(firing, known), cast)
    assert "18 °F higher or lower" in " ".join(words.assumptions)
    assert "Stock" not in " ".join(words.assumptions)


def test_a_fuse_that_stayed_far_below_its_plan_is_said_to(cast):
    judgement, words = judged_as(
        cast, lambda hours, heats: (hours, np.minimum(heats, 735.0))
    )
    assert judgement.verdict == "did not get hot enough"
    assert words.title == "It never got hot enough: the kiln reached 1355 °F of 1500 °F"
    assert "fire it again" in words.sentence
    assert words.options == ()


def test_a_cut_on_the_way_up_leaves_the_firing_going(cast):
    def cut(hours, heats):
        up = np.argmax(heats > 500)
        fallen = 20 + (heats[up] - 20) * np.exp(-(hours - hours[up]) / 8)
        read = hours < hours[up] + 3
        return hours[read], np.where(hours > hours[up], fallen, heats)[read]

    judgement, words = judged_as(cast, cut)
    assert judgement.verdict == "not over yet"
    assert "in spite of what went wrong" in words.title
    assert next(o for o in words.options if o.is_recommended).action == "go on"


def test_while_it_is_hot_every_way_on_has_its_outcome(cast):
    firing, judgement = judged(cast, until_c=440)
    assert judgement.verdict == "not over yet"
    words = written(looked_into(firing), cast)
    assert "so far" in words.title
    assert {o.action for o in words.options} >= {
        "go on",
        "hold, then go on",
        "go on at half the rate",
    }
    assert all(o.outcome.startswith("Leaves ") for o in words.options)
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
        judging_of(firing).judgement, Viewer.of_studio(cast.studio)
    )
    assert line.startswith("Cooled too fast")
    assert kind == "problem"


def peaks_of(numbers):
    return [mpa(numbers[f"peak_tension_{when}_pa"]) for when in ("heating", "cooling")]


@pytest.mark.parametrize(("columns", "most"), [(None, 600), ((40, 20, 10), 60)])
def test_the_kept_course_holds_its_range_and_every_peak(
    cast, monkeypatch, columns, most
):
    if columns is not None:
        monkeypatch.setattr(selector, "TRACE_COLUMNS", columns)
        monkeypatch.setattr(selector, "MOST_POINTS", most)
    _, judgement = judged(cast, cut=True)
    trace, numbers = judgement.trace, judgement.numbers
    assert len({len(values) for values in trace.values()}) == 1
    assert 20 < len(trace["time_s"]) <= most
    low, middle, high = (
        np.array(trace[name])
        for name in ("tension_low_mpa", "tension_mpa", "tension_high_mpa")
    )
    assert (low <= middle).all()
    assert (middle <= high).all()
    tops = [max(peak[i] for peak in peaks_of(numbers)) for i in (1, 2)]
    assert [middle.max(), high.max()] == pytest.approx(tops, abs=1e-4)


def test_the_page_draws_the_tension_as_a_band(cast, signed_in):
    firing, judgement = judged(cast, cut=True)
    browser = signed_in("helper")
    page = browser.get(address("firing_judgement", firing.pk))
    # The desk's drawing, the phone's and the key.
    assert page.content.decode().count('class="tension-area tension-area-0"') == 3
    text = text_of(page)
    assert "likely range" in text
    top = max(peak[2] for peak in peaks_of(judgement.numbers))
    assert f"Likely up to {megapascals(top * MPA)}" in text


def test_a_course_kept_without_its_range_is_drawn_without(cast, signed_in):
    firing, judgement = judged(cast)
    for name in ("tension_low_mpa", "tension_high_mpa"):
        del judgement.trace[name]
    judgement.save()
    page = signed_in("helper").get(address("firing_judgement", firing.pk))
    html = page.content.decode()
    assert html.count('class="tension-line chart-dash-0"') == 3
    assert "tension-area" not in html
    assert "Likely up to" not in text_of(page)


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


def test_the_line_on_the_firings_page_updates_itself_until_there_is_a_verdict(
    cast, signed_in
):
    firing = fused(cast)
    take_in(firing, log_of(firing))
    browser = signed_in("helper")
    page = browser.get(address("firing_detail", firing.pk)).content.decode()
    url = f"{address('firing_judgement', firing.pk)}?line=1"
    polls = f'hx-get="{url}"'
    assert polls in page
    asks = {"HX-Request": "true"}
    waiting = browser.get(url, headers=asks)
    assert polls in waiting.content.decode()
    assert "HX-Refresh" not in waiting
    run_waiting_jobs()
    answer = browser.get(url, headers=asks)
    assert "hx-get" not in answer.content.decode()
    assert answer["HX-Refresh"] == "true", "headline and button follow the verdict"
    assert (
        polls not in browser.get(address("firing_detail", firing.pk)).content.decode()
    )


def out_of_the_kiln(firing):
    """Finish a firing whose piece was cut off, and return the piece."""
    item = firing.items.get()
    running.finish_firing(
        firing=firing,
        outcomes={item.pk: ("redo", "power cut")},
        by=None,
        at=timezone.now(),
        hand=build.READ_COLD,
    )
    firing.refresh_from_db()
    return item.piece


def test_the_re_anneal_is_handed_over_once_the_piece_is_out(cast, signed_in):
    """The very segments whose outcome the judge computed, on to booking in one step."""
    firing, judgement = judged(cast, cut=True)
    browser = signed_in("technician")
    page = browser.get(address("firing_judgement", firing.pk))
    assert "Book the re-anneal" not in text_of(page)
    piece = out_of_the_kiln(firing)
    # It is judged once more, with the opening.
    run_waiting_jobs()
    judgement = judging_of(firing).judgement
    page = browser.get(address("firing_judgement", firing.pk))
    assert "Book the re-anneal" in text_of(page)
    url = address("firing_re_anneal", firing.pk)
    answer = browser.post(url, {"piece": piece.pk})
    schedule = Schedule.owned.for_studio(cast.studio).get(kind="re-anneal")
    assert answer["Location"] == (
        f"{address('fuse_book', piece.pk)}?schedule={schedule.pk}"
    )
    option = next(
        one for one in judgement.numbers["next"] if one["action"] == "re-anneal"
    )
    assert [
        [one.label, one.rate_c_per_h, one.target_c, one.hold_s]
        for one in schedule.segments.all()
    ] == [
        [one["label"], one["rate_c_per_h"], one["target_c"], one["hold_s"]]
        for one in option["schedule"]["segments"]
    ]
    assert (schedule.rule, schedule.piece_id, schedule.version) == (
        "computed",
        piece.pk,
        1,
    )
    assert schedule.basis["engine"] == ENGINE
    assert schedule.basis["judged_firing"] == firing.pk
    assert schedule.basis["judged_inputs_sha256"] == judgement.inputs_sha256
    assert schedule.basis["residual_mpa"] == mpa(option["residual_max_tension_pa"])
    assert schedule.basis["there_mpa"] == mpa(
        judgement.numbers["residual_max_tension_pa"]
    )
    browser.post(url, {"piece": piece.pk})
    assert Schedule.owned.for_studio(cast.studio).filter(kind="re-anneal").count() == 1
    told = text_of(browser.get(address("schedule_detail", schedule.pk)))
    assert "Tension in it before" in told
    assert "Computed by the judge" in told
    booking = browser.get(answer["Location"])
    assert "Book the kiln" in text_of(booking)
    starts_at = booking.context["form"]["starts_at"].value()
    booked = browser.post(
        answer["Location"],
        {"schedule": schedule.pk, "starts_at": f"{starts_at:%Y-%m-%dT%H:%M}"},
    )
    assert booked.status_code == 302
    again = Firing.owned.for_studio(cast.studio).get(kind="re-anneal")
    assert again.schedule == schedule
    assert address("controller_sheet", again.pk) in (
        browser.get(booked["Location"]).content.decode()
    )
    page = browser.get(address("firing_judgement", firing.pk))
    assert "Book the re-anneal" not in text_of(page), "it is booked already"


def test_a_computed_re_anneal_leaves_room_for_the_tension_that_is_there(cast):
    firing, judgement = judged(cast, cut=True)
    piece = out_of_the_kiln(firing)
    there_mpa = mpa(judgement.numbers["residual_max_tension_pa"])[2]
    assert tension_in(piece, "re-anneal") == there_mpa > 0.5
    assert tension_in(piece, "full fuse") == 0
    request = request_of(
        kind="re-anneal",
        thickness_mm=40,
        glass=cast.glass,
        kiln=cast.kiln,
        is_dammed=False,
        there_mpa=there_mpa,
    )
    assert request.heating_limit_pa == pytest.approx(max(3e6 - there_mpa * 1e6, 0.3e6))


def test_no_re_anneal_is_handed_over_that_was_not_computed(cast, signed_in):
    firing, _ = judged(cast, until_c=440)
    piece = out_of_the_kiln(firing)
    with pytest.raises(Refused, match="was not computed for these readings yet"):
        keep_re_anneal(firing=firing, piece=piece, by=None, at=NOW)
    looked_into(firing)
    with pytest.raises(Refused, match="down to the opening temperature"):
        keep_re_anneal(firing=firing, piece=piece, by=None, at=NOW)
    browser = signed_in("technician")
    url = address("firing_re_anneal", firing.pk)
    assert browser.post(url, {"piece": piece.pk}).status_code == 409
    assert browser.post(url, {"piece": "9" * 30}).status_code == 409
    assert "not in this firing" in text_of(browser.post(url))
    assert not Schedule.owned.for_studio(cast.studio).filter(kind="re-anneal").exists()


def test_what_to_type_now_while_the_firing_runs(cast, signed_in):
    firing, _ = judged(cast, until_c=440)
    judgement = looked_into(firing)
    browser = signed_in("helper")
    page = browser.get(address("firing_judgement", firing.pk))
    assert "What to type now" in text_of(page)
    url = f"{address('firing_type_now', firing.pk)}?do=hold,_then_go_on"
    assert url in page.content.decode()
    told = text_of(browser.get(url))
    hold = next(
        one for one in judgement.numbers["next"] if one["action"] == "hold, then go on"
    )
    minutes = round(hold["schedule"]["segments"][0]["hold_s"] / 60)
    assert f"{minutes // 60}:{minutes % 60:02d}" in told
    assert "Leaves " in told
    assert "Look at the kiln first" in told, "its last reading is old"
    for wrong in ("", "dance", "re-anneal%00"):
        answer = browser.get(f"{address('firing_type_now', firing.pk)}?do={wrong}")
        assert answer["Location"] == address("firing_judgement", firing.pk)
    out_of_the_kiln(firing)
    assert browser.get(url).status_code == 302


def test_a_stack_whose_sheets_stayed_loose_is_said_to(cast):
    """Cold, unbroken, below every limit: and no slab."""
    firing = fused(cast)
    hours = np.arange(0.0, 40.0, 0.1)
    kiln_c = np.interp(hours, [0, 10, 12, 40], [20, 640, 640, 40])
    rows = "".join(
        f"{hour * 60:.0f};{celsius:.1f}\n"
        for hour, celsius in zip(hours, kiln_c, strict=True)
    )
    take_in(firing, f"Elapsed (min);Temp °C\n{rows}".encode())
    run_waiting_jobs()
    judgement = Judgement.owned.for_studio(cast.studio).get()
    assert judgement.verdict == "did not become one slab"
    words = written(judgement, cast)
    assert words.title == "The sheets did not become one slab"
    assert "fuse it again" in words.sentence
    assert dict(words.facts)["Became one slab"] == "no"
    assert words.options == ()
    assert not words.is_good
    assert STATUS_KIND[Verdict(judgement.verdict)] == "problem"


def test_readings_of_a_kiln_that_stayed_cold_are_of_another_day(cast):
    firing = fused(cast)
    take_in(firing, b"Elapsed (min);Temp \xc2\xb0C\n0;21\n60;22\n120;21\n")
    run_waiting_jobs()
    words = written(Judgement.owned.for_studio(cast.studio).get(), cast)
    assert "right day" in words.sentence


def test_a_job_that_waits_says_what_for_and_a_failed_one_why(cast, signed_in):
    firing = fused(cast)
    take_in(firing, log_of(firing))
    Job.across_studios.filter(name=JUDGE_JOB).update(progress="The disk is full")
    assert "from the readings. The disk is full." in text_of(
        signed_in().get(address("firing_judgement", firing.pk))
    )
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
    assert_doors(url=address("firing_type_now", firing.pk), roles=EVERYBODY, **common)
    assert_doors(
        url=address("firing_judge_again", firing.pk),
        roles=RUNNERS,
        post=True,
        **common,
    )


def test_verdicts_are_computed_again_when_a_kiln_is_measured(cast):
    firing, before = judged(cast, until_c=440)
    measured = {"middle_c": 482, "edge_c": 486, "reach_mm": 200, "error_k": 1}
    keep_entry(
        kind=KilnEvenness,
        kiln=cast.kiln,
        values=measured | {"measured_on": NOW.date()},
        by=None,
        at=NOW,
    )
    assert judging_of(firing).judgement is None
    run_waiting_jobs()  # orders them
    run_waiting_jobs()
    after = judging_of(firing).judgement
    assert (
        after.numbers["across"]["residual_pa"] > before.numbers["across"]["residual_pa"]
    )
    assert after.numbers["across"]["is_counted"]


def test_a_verdict_whose_glass_was_changed_is_computed_for_whoever_looks(
    cast, signed_in
):
    firing, _ = judged(cast, until_c=440)
    cast.glass.density_kg_m3 = 2480
    cast.glass.save()
    firing = Firing.across_studios.get(pk=firing.pk)
    assert judging_of(firing).state == "none"
    url = address("firing_judgement", firing.pk)
    page = text_of(signed_in("helper").post(url, follow=True))
    assert "Working out the verdict" in page
    assert run_waiting_jobs() == [JobState.DONE]
    assert judging_of(firing).state == "ready"
