"""The studio's anneal for a fuse: who sets it, and every place that goes by it."""

import datetime as dt
import math
import re
from dataclasses import replace

import pytest
from django.urls import reverse
from django.utils import timezone

from firing.kiln_time.selectors import at_risk, fuses, other_kiln
from firing.kiln_time.selectors.booking_loads import booking_loads
from firing.kiln_time.selectors.free_spans import Search, Size, find_free
from firing.kiln_time.selectors.unloading import Unloading
from firing.models import Booking, FuseAnneal, Schedule, ScheduleRule
from firing.physics.limits import Limits
from firing.physics.schedule import PhysicsProblem
from firing.plans.selectors.events import events_between
from firing.plans.selectors.facts import plan_facts
from firing.plans.selectors.problem import plan_problem
from firing.plans.services import planned_rows
from firing.promises.selectors.estimates import estimate_kiln_time
from firing.readings.services.limits import set_limits
from firing.schedules.selectors.designs import (
    asked_for_piece,
    compute_designs,
    propose,
)
from firing.schedules.selectors.fuse_anneal import fuse_rule, hours_rule
from firing.schedules.selectors.limits import limits_of
from firing.schedules.selectors.programmes import held_s
from firing.schedules.services.fuse_anneal import set_fuse_rule
from studio.models import HistoryEntry, Kiln
from studio.selectors.bench_times import tasks_of
from studio.selectors.pieces import fresh
from tests import make
from tests.firing import build, planned_time
from tests.firing.pages import address, assert_doors, text_of
from tests.make import NOW

pytestmark = pytest.mark.django_db
HOUR = dt.timedelta(hours=1)
FUSE = "full fuse"
LAYERS = 12
NEXT_ROW, ROW = ScheduleRule.NEXT_ROW, ScheduleRule.ROW
COMPUTED = ScheduleRule.COMPUTED
# What is counted before there is a schedule.
COUNTED = [(None, NEXT_ROW), (NEXT_ROW, NEXT_ROW), (ROW, ROW), (COMPUTED, NEXT_ROW)]


@pytest.fixture
def piece(cast):
    """A stack of 36 mm: row, next row and design differ by hours."""
    # As read back: a design is cached by the very numbers of its kiln.
    cast.kiln.refresh_from_db()
    cast.glass.refresh_from_db()
    return build.stacked(studio=cast.studio, glass=cast.glass, layer_count=LAYERS)


def choose(cast, rule):
    if rule is not None:
        set_fuse_rule(studio=cast.studio, rule=rule, by=cast.owner, at=NOW)


def asked(piece, kiln):
    return asked_for_piece(
        fresh(piece), kiln=kiln, kind=FUSE, limits=limits_of(kiln.studio)
    )


def by_estimate(cast, piece):
    found = estimate_kiln_time(
        studio=cast.studio,
        width_mm=piece.width_mm,
        height_mm=piece.height_mm,
        layer_count=LAYERS,
        painted_layer_count=0,
        passes_per_layer=0,
        glass=cast.glass,
        is_dammed=True,
    )
    return found.items[-1].hours_each * 3600


def by_free_time(cast, piece):
    search = Search(
        lasts_s=None,
        kiln=None,
        size=Size.ANY,
        view=fresh(piece),
        not_before=None,
        before=None,
        only_in_hours=False,
    )
    found = find_free([cast.kiln], search, viewer=cast.viewer(), now=NOW)
    return found.rows[0].lasts_s


def by_dates_at_risk(cast, piece):
    found = at_risk.ready_at(
        fresh(piece),
        booked=[],
        loads={},
        kilns=[cast.kiln],
        rule=hours_rule(cast.studio),
        unloading=Unloading(cast.studio, NOW),
        viewer=cast.viewer(),
        now=NOW,
    )
    return (found.at - NOW).total_seconds()


def by_workshop(cast, piece):
    found = plan_problem(
        studio=cast.studio,
        now=NOW,
        weeks=8,
        tasks=tasks_of(cast.studio),
        due_dates={},
    )
    height_mm = fresh(piece).height_mm
    return found.workshop.stack(FUSE, height_mm, cast.glass, cast.kiln).booking_s


def by_plans_rows(cast, piece):
    row = {"kind": FUSE, "piece": piece.pk, "kiln": cast.kiln.pk, "starts_at": ""}
    (ready,) = planned_rows.prepare(cast.studio, {"firings": [], "fuses": [row]})
    return held_s(ready.curve)


def by_another_kiln(cast, piece):
    booking = planned_time.keep(
        planned_time.standing(cast.studio),
        piece,
        starts_at=NOW + HOUR,
        kind=FUSE,
        kiln=make.kiln(studio=cast.studio),
    )
    load = booking_loads(cast.studio, [booking])[booking.pk]
    found = other_kiln.placement_in(booking, load, cast.kiln, cast.viewer())
    assert found.problems == ()
    return found.task.lasts.total_seconds()


PLACES = (
    by_estimate,
    by_free_time,
    by_dates_at_risk,
    by_workshop,
    by_plans_rows,
    by_another_kiln,
)


@pytest.mark.parametrize(("rule", "counted"), COUNTED)
@pytest.mark.parametrize("seconds_of", PLACES)
def test_every_place_counts_by_the_studios_rule(cast, piece, seconds_of, rule, counted):
    choose(cast, rule)
    lasts_s = {
        one: propose(asked(piece, cast.kiln), one).booking_s for one in (NEXT_ROW, ROW)
    }
    assert lasts_s[ROW] < lasts_s[NEXT_ROW] - 3600
    assert seconds_of(cast, piece) == pytest.approx(lasts_s[counted], abs=1)


@pytest.mark.parametrize("rule", [None, NEXT_ROW, ROW, COMPUTED])
def test_headline_button_and_booking_name_one_schedule(cast, signed_in, piece, rule):
    choose(cast, rule)
    compute_designs(asked(piece, cast.kiln))
    browser, url = signed_in("maker"), address("fuse_plan", piece.pk)
    page = browser.get(url)
    html = page.content.decode()
    hours, opens = re.search(
        r'<strong class="schedule-hours">(.+?)</strong>.+?'
        r"Loaded .+?, may be opened about\s+(.+?)(?:, with the studio open .+?)?\.\s",
        html,
        re.DOTALL,
    ).groups()
    value = re.search(r'<input type="hidden" name="rule" value="(.+?)">', html)[1]
    name = page.context["choices"].chosen.option.name
    assert value == (rule or NEXT_ROW).value
    assert "Save and book" in html
    answer = browser.post(url, {"kiln": cast.kiln.pk, "kind": FUSE, "rule": value})
    assert Schedule.owned.for_studio(cast.studio).get().rule == value
    booking = browser.get(answer["Location"]).content.decode()
    assert f"<li>{name}</li>" in booking
    assert f"<li>{hours} until it may be opened</li>" in booking
    assert f"may be opened about {opens}" in booking
    start = re.search(r'name="starts_at" value="(.+?)"', booking)
    browser.post(
        address("fuse_book", piece.pk),
        {
            "schedule": Schedule.owned.for_studio(cast.studio).get().pk,
            "starts_at": start[1],
        },
    )
    booked = Booking.owned.for_studio(cast.studio).get()
    now = timezone.now()
    late = booked.opens_at - dt.timedelta(microseconds=1)
    quarter = (
        late - dt.timedelta(seconds=late.timestamp() % 900) + dt.timedelta(minutes=15)
    )
    assert cast.viewer().moment(quarter, now) == opens


def test_every_rule_has_the_hours_it_is_booked_for(cast, signed_in, piece):
    compute_designs(asked(piece, cast.kiln))
    choices = signed_in().get(address("fuse_plan", piece.pk)).context["choices"]
    assert {one.rule for one in choices.every} == {COMPUTED, ROW, NEXT_ROW, "exact"}
    for one in choices.every:
        proposal = propose(asked(piece, cast.kiln), one.rule)
        quarters = math.ceil(proposal.opens_after_s / 900)
        assert one.total == cast.viewer().duration(quarters * 900)
        assert one.total == one.outcome.total


def test_a_design_that_is_not_computed_keeps_no_page_waiting(
    cast, signed_in, piece, monkeypatch
):
    choose(cast, COMPUTED)
    Kiln.owned.for_studio(cast.studio).update(opening_temperature_c=51.25)

    def never(*given, **named):
        raise AssertionError("The page computed a design")

    monkeypatch.setattr("firing.schedules.selectors.stress.design", never)
    plan = fuses.plan_fuse(
        fresh(piece), kind=FUSE, kiln=None, viewer=cast.viewer(), now=NOW
    )
    assert plan.rules[0].rule == COMPUTED
    assert plan.rules[0].proposal is None
    assert plan.chosen.name.startswith("Next row"), "its hours are known"
    html = signed_in().get(address("fuse_plan", piece.pk)).content.decode()
    assert re.search(r'hx-get="[^"]+kiln=\d+[^"]*" hx-trigger="load"', html)
    assert "not computed yet" in html


def test_once_computed_its_hours_are_taken_in(cast, signed_in, piece):
    choose(cast, COMPUTED)
    where = {"kiln": cast.kiln.pk, "kind": FUSE}
    answer = signed_in().get(address("fuse_plan", piece.pk), where)
    assert answer.context["choices"].chosen.rule == COMPUTED
    assert 'hx-trigger="load"' not in answer.content.decode()
    plan = fuses.plan_fuse(
        fresh(piece), kind=FUSE, kiln=cast.kiln, viewer=cast.viewer(), now=NOW
    )
    computed = propose(asked(piece, cast.kiln), COMPUTED)
    assert plan.chosen.proposal.opens_after_s == computed.opens_after_s


def test_a_design_refused_gives_way_to_the_next_row(cast, piece):
    choose(cast, COMPUTED)
    strict = Limits(temporary_pa=1e4, residual_pa=1e4)
    set_limits(studio=cast.studio, limits=strict, by=None, at=NOW)
    with pytest.raises(PhysicsProblem):
        compute_designs(replace(asked(piece, cast.kiln), limits=strict))
    plan = fuses.plan_fuse(
        fresh(piece), kind=FUSE, kiln=None, viewer=cast.viewer(), now=NOW
    )
    assert plan.chosen.rule == NEXT_ROW
    assert plan.rules[0].problem


def test_the_chosen_rule_is_shown_and_saved(cast, signed_in, piece):
    where = {"kiln": cast.kiln.pk, "kind": FUSE, "rule": NEXT_ROW.value}
    page = signed_in().get(address("fuse_plan", piece.pk), where)
    proposal = propose(asked(piece, cast.kiln), NEXT_ROW)
    hours = cast.viewer().duration(math.ceil(proposal.opens_after_s / 900) * 900)
    assert f'<strong class="schedule-hours">{hours}</strong>' in page.content.decode()
    rows = page.context["choices"].rows
    assert len(rows) == len(proposal.fitted.segments)
    assert page.context["charts"].wide.planned_name.startswith("Next row")
    signed_in().post(address("fuse_plan", piece.pk), where)
    assert Schedule.owned.for_studio(cast.studio).get().rule == NEXT_ROW


def test_any_rule_can_be_saved_for_glass_that_is_no_piece(cast, signed_in):
    values = {
        "kind": FUSE,
        "glass": cast.glass.pk,
        "kiln": cast.kiln.pk,
        "height": "36 mm",
        "is_dammed": "on",
    }
    html = signed_in().get(address("schedule_designer"), values).content.decode()
    assert "Next row" in html
    signed_in().post(address("schedule_keep"), values | {"rule": "next row"})
    assert Schedule.owned.for_studio(cast.studio).get().rule == NEXT_ROW
    enamel = values | {"kind": "enamel", "height": "3 mm"}
    html = signed_in().get(address("schedule_designer"), enamel).content.decode()
    assert "Save and book" in html
    assert "Next row" not in html, "the table has no row for sheets"


def test_who_may_set_it_is_led_there(cast, signed_in, piece):
    where = {"kiln": cast.kiln.pk, "kind": FUSE}
    link = address("fuse_anneal_edit")
    for role, may in (("owner", True), ("technician", True), ("maker", False)):
        for url, asked_for in (
            (address("fuse_plan", piece.pk), where),
            (address("schedule_designer"), {}),
        ):
            page = signed_in(role).get(url, asked_for)
            assert (link in page.content.decode()) == may, (role, url)
    html = signed_in("owner").get(f"{link}?rule=computed").content.decode()
    assert re.search(r'value="computed"[^>]*checked', html)
    for role in ("owner", "technician", "maker", "helper"):
        html = signed_in(role).get(reverse("studio:settings")).content.decode()
        assert "Anneal for a fuse" in html
        assert (link in html) == (role in ("owner", "technician")), role


def test_the_technician_sets_it(cast, signed_in, strangers):
    browser = signed_in("technician")
    answer = browser.post(address("fuse_anneal_edit"), {"rule": "row"})
    assert answer["Location"] == reverse("studio:settings")
    assert fuse_rule(cast.studio) is ROW
    assert fuse_rule(strangers.studio) is NEXT_ROW, "and no other studio's"
    last = HistoryEntry.owned.for_studio(cast.studio).latest("pk").what
    assert "published table; it was next row" in last
    browser.post(address("fuse_anneal_edit"), {"rule": "next row"})
    assert fuse_rule(cast.studio) is NEXT_ROW
    assert FuseAnneal.owned.for_studio(cast.studio).count() == 1


@pytest.mark.parametrize("rule", ["", "exact", "standard", "fastest"])
def test_another_rule_is_refused(cast, signed_in, rule):
    answer = signed_in("owner").post(address("fuse_anneal_edit"), {"rule": rule})
    assert answer.status_code == 422
    assert "Choose one of the three" in text_of(answer)
    assert not FuseAnneal.owned.for_studio(cast.studio).exists()


@pytest.mark.parametrize("role", ["helper", "maker"])
def test_a_role_without_the_right_is_refused(cast, signed_in, role):
    answer = signed_in(role).post(address("fuse_anneal_edit"), {"rule": "row"})
    assert answer.status_code == 403
    assert fuse_rule(cast.studio) is NEXT_ROW


def test_a_plan_is_told_when_its_hours_are_counted_otherwise(cast):
    def told(before, after):
        return events_between(before, after, viewer=cast.viewer(), now=NOW)

    first = plan_facts(cast.studio, NOW)
    choose(cast, COMPUTED)
    assert told(first, plan_facts(cast.studio, NOW)) == [], "the same hours"
    choose(cast, ROW)
    after = plan_facts(cast.studio, NOW)
    assert told(first, after) == ["The anneal for a fuse was changed."]
    older = {key: fact for key, fact in first.items() if fact.kind != "anneal"}
    assert told(older, first) == [], "a plan from before there was a choice"


def test_doors(client, cast, signed_in, strangers):
    for post in (False, True):
        assert_doors(
            url=address("fuse_anneal_edit"),
            roles=("owner", "technician"),
            own=False,
            post=post,
            client=client,
            signed_in=signed_in,
            strangers=strangers,
        )
