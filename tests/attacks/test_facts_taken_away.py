"""A studio's hours, kilns, people and pieces are taken away under its standing plan.

Planning again always ends in a plan that keeps every rule, or says in words what cannot
be; what is confirmed never moves; and every page about it can be read. The search alone
is tried with many more facts in `tests/firing/planning/search/test_facts_taken_away.py`.
"""

import datetime as dt
from random import Random

import pytest
from django.urls import reverse
from django.utils import timezone

from firing.kiln_time.selectors.ruled_out import bookings_ruled_out
from firing.loads.selectors.planned import planned_firings, standing_plan
from firing.models import Booking, Plan
from firing.planning.proofs.check import Fault, RuleBroken, check_plan
from firing.plans.selectors import planning
from firing.plans.selectors.holding import holding_of
from firing.plans.selectors.plans import overdue_loads
from firing.plans.selectors.record import published_plan
from firing.plans.services import acceptance
from firing.plans.services.confirmation import confirm
from studio import jobs
from studio.errors import Refused, StudioError
from studio.models import (
    AccessHours,
    Closure,
    DaysAway,
    JobState,
    Kiln,
    Layer,
    Membership,
    Piece,
)
from studio.services.pieces import mark_lost
from tests import make
from tests.firing import plans_build as build
from tests.patience import in_form

MONDAY, DAY = build.MONDAY, build.DAY
PAGES = ("firing:plan", "firing:kiln_list", "firing:week_sheet", "studio:today")

pytestmark = [pytest.mark.django_db, pytest.mark.slow]


@pytest.fixture
def busy(cast):
    """A studio with hours, two kilns and pieces of two makers, all in a standing plan."""
    AccessHours.owned.for_studio(cast.studio).delete()
    for weekday in range(6):
        AccessHours.across_studios.create(
            studio=cast.studio, weekday=weekday, opens=dt.time(8), closes=dt.time(18)
        )
    make.kiln(studio=cast.studio, name="Second kiln")
    first = build.work(cast, titles=("Reed bed", "Saltmarsh", "Weir"), layers=2)
    Piece.across_studios.filter(pk=first.pk).update(maker=cast.maker)
    make.promised(first, (MONDAY + 20 * DAY).date())
    build.accepted(cast)
    return cast


def text_of(response):
    return " ".join(response.content.decode().split())


def hours_gone(cast, weekday):
    AccessHours.owned.for_studio(cast.studio).filter(weekday=weekday).delete()


def fixed(cast):
    """Return where everything stands that is confirmed."""
    return {
        (one.pk, one.kiln_id, one.starts_at, one.ends_at)
        for one in Booking.owned.for_studio(cast.studio).filter(
            cancelled_at__isnull=True, is_provisional=False
        )
    }


def keeps_every_rule(cast, at):
    """Return whether the standing plan breaks no rule of the studio as it is now."""
    source = planning.source_of(cast.studio, now=at, weeks=26)
    plan = published_plan(source, standing_plan(cast.studio))
    return check_plan(source.problem, plan).faults == ()


def planned_again(cast, at):
    """Plan again and take it; return the refusal in words, or nothing."""
    try:
        plan = build.again(cast, at=at)
    except Refused as told:
        return str(told)
    option = plan.options[0]
    acceptance.accept_plan(plan=plan, option=option["name"], by=cast.owner, at=at)
    held = holding_of(standing_plan(cast.studio), now=at)
    if missed := overdue_loads(cast.studio, at):
        # Confirmed and not loaded: it stands until somebody decides, beside the firing
        # that is planned in its place.
        assert not any(row.booking.is_provisional for row in missed)
        assert "and no firing was made up" in held.sentences[0]
    else:
        assert keeps_every_rule(cast, at)
        assert held.holds
    return ""


def test_weekday_after_weekday_is_taken_away(busy):
    for weekday in range(5):
        hours_gone(busy, weekday)
        assert planned_again(busy, MONDAY) == ""
        loaded = {
            one.booking.starts_at.weekday() for one in planned_firings(busy.studio)
        }
        assert loaded
        assert loaded <= set(range(weekday + 1, 6))
    hours_gone(busy, 5)
    # A studio without any hours set is always open.
    assert planned_again(busy, MONDAY) == ""


def test_what_is_confirmed_stays_and_what_stands_against_it_is_said(
    busy, signed_in, monkeypatch
):
    confirm(studio=busy.studio, bookings=None, by=busy.owner, at=MONDAY)
    before, first = fixed(busy), planned_firings(busy.studio)[0].booking
    hours_gone(busy, first.starts_at.weekday())
    assert planned_again(busy, MONDAY) == ""
    assert fixed(busy) == before
    told = [one.words for one in bookings_ruled_out(busy.viewer(), MONDAY)]
    assert any(
        one.startswith("Nobody is in to load “") and "put the access hours back" in one
        for one in told
    )
    Closure.across_studios.create(
        studio=busy.studio,
        kiln=first.kiln,
        starts_at=first.starts_at,
        ends_at=first.starts_at + DAY,
        reason="New elements",
    )
    monkeypatch.setattr(timezone, "now", lambda: MONDAY)
    page = text_of(signed_in().get(reverse("firing:plan")))
    assert "Booked, but no longer possible" in page
    assert f"{first.kiln} is closed from" in page
    assert "change the closure" in page
    Kiln.across_studios.filter(pk=first.kiln_id).update(is_retired=True)
    told = [one.words for one in bookings_ruled_out(busy.viewer(), MONDAY)]
    assert any("is retired" in one and "another kiln" in one for one in told)


def test_a_piece_that_nothing_is_left_for_is_named_and_the_rest_is_planned(busy):
    wide = Piece.owned.for_studio(busy.studio).get(title="Weir")
    Piece.across_studios.filter(pk=wide.pk).update(width_mm=5000)
    assert not holding_of(standing_plan(busy.studio), now=MONDAY).holds
    assert planned_again(busy, MONDAY) == ""
    plan = standing_plan(busy.studio)
    assert any("Weir is not reckoned with" in one for one in plan.left_out)
    planned = {
        item.piece_id
        for row in planned_firings(busy.studio)
        for item in row.items.all()
    }
    assert len(planned) == 2
    assert wide.pk not in planned


def test_a_rule_that_the_planner_breaks_is_told_in_words_and_tried_once_more(
    busy, signed_in, monkeypatch, caplog
):
    calls = []

    def broken(*_, **__):
        calls.append(1)
        raise RuleBroken((Fault(rule="access", text="F1 is outside access."),))

    monkeypatch.setattr(planning, "replan", broken)
    hours_gone(busy, 1)
    with caplog.at_level("ERROR"):
        assert planned_again(busy, MONDAY) == ""
    assert "F1 is outside access" in caplog.text
    monkeypatch.setattr(planning, "make_plan", broken)
    calls.clear()
    browser = signed_in()
    standing = standing_plan(busy.studio).pk
    monkeypatch.setattr(timezone, "now", lambda: MONDAY)
    browser.post(reverse("firing:plan_make"), {"wish": "again"})
    job = Plan.owned.for_studio(busy.studio).latest("number").job
    assert jobs.run(job.pk, clock=timezone.now) == JobState.DONE
    page = text_of(browser.get(reverse("firing:plan")))
    assert "breaks a rule of the kilns, so it was not kept" in page
    assert "Fault" not in page
    assert len(calls) == 2
    assert standing_plan(busy.studio).pk == standing


def test_a_fault_of_the_program_is_not_shown_raw(busy, signed_in):
    plan = build.again(busy)
    plan.job.state, plan.job.error = JobState.FAILED, "KeyError: 'K1'"
    plan.job.save()
    Plan.across_studios.filter(pk=plan.pk).update(state="making")
    page = text_of(signed_in().get(reverse("firing:plan")))
    assert f"{plan} could not be made" in page
    assert "Nothing was booked or moved" in page
    assert "KeyError" not in page


def happen(cast, dice, at):
    """Take one fact away; return the instant it is then."""
    kilns = list(Kiln.owned.for_studio(cast.studio).order_by("pk"))
    pieces = list(Piece.owned.for_studio(cast.studio).order_by("pk"))
    start = at + dice.randrange(20) * DAY
    match dice.randrange(9):
        case 0:
            hours_gone(cast, dice.randrange(6))
        case 1 | 2:
            Closure.across_studios.create(
                studio=cast.studio,
                kiln=dice.choice([None, *kilns]),
                starts_at=start,
                ends_at=start + dice.randint(1, 8) * DAY,
                reason="Taken away",
            )
        case 3:
            Kiln.across_studios.filter(pk=dice.choice(kilns).pk).update(is_retired=True)
        case 4:
            who = dice.choice([cast.maker, cast.helper, cast.technician])
            Membership.owned.for_studio(cast.studio).filter(person=who).update(
                is_active=False
            )
        case 5:
            DaysAway.across_studios.create(
                studio=cast.studio,
                membership=cast.membership(dice.choice(["owner", "maker"])),
                starts_date=start.date(),
                ends_date=(start + dice.randint(0, 10) * DAY).date(),
            )
        case 6:
            try:
                mark_lost(
                    piece=dice.choice(pieces), by=cast.owner, at=at, note="Dropped"
                )
            except StudioError:
                return at  # It is lost already.
        case 7:
            layers = Layer.owned.for_studio(cast.studio)
            layers.filter(piece=dice.choice(pieces), planned_passes__gt=0).update(
                planned_passes=2
            )
        case 8:
            return at + dice.randint(1, 4) * DAY
    return at


@pytest.mark.parametrize("seed", range(in_form(3, 60)))
def test_facts_are_taken_away_at_random(busy, signed_in, monkeypatch, seed):
    dice, at = Random(seed), MONDAY
    chosen = [
        one.booking_id for one in planned_firings(busy.studio) if dice.random() < 0.3
    ]
    if chosen:
        confirm(studio=busy.studio, bookings=chosen, by=busy.owner, at=at)
    before = fixed(busy)
    browser = signed_in()
    for _ in range(in_form(4, 8)):
        at = happen(busy, dice, at)
        told = planned_again(busy, at)
        assert "Fault" not in told
        assert fixed(busy) == before
        with monkeypatch.context() as clock:
            clock.setattr(timezone, "now", lambda now=at: now)
            for name in PAGES:
                response = browser.get(reverse(name), follow=True)
                assert response.status_code == 200, (name, seed)
