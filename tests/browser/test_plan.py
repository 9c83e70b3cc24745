"""In a real browser: make a plan, accept it, lose a layer, see what changes, accept
that.
"""

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from firing.plans.services import plans
from studio.services import layers
from tests import make
from tests.browser.screen import settle
from tests.browser.walk import Walk
from tests.firing import plans_build as build
from tests.worker import run_waiting_jobs

pytestmark = [
    pytest.mark.browser,
    pytest.mark.slow,
    pytest.mark.django_db(transaction=True),
]


def test_from_no_plan_to_a_changed_one(
    cast, page, live_server, screenshot, monkeypatch
):
    monkeypatch.setattr(plans, "UNITS", build.UNITS)
    piece = build.work(cast, titles=("Reed bed", "Saltmarsh"))
    of_pass = make.passes_of(piece)[0]
    now = timezone.now()
    layers.record_painted(passes=[of_pass], by=cast.owner, at=now, minutes=60)
    layers.record_outcome(of_pass=of_pass, outcome="fine", by=cast.owner, at=now)

    walk = Walk(page, live_server.url, screenshot, name="plan", size="phone")
    walk.go("/kilns/plan/")
    walk.fill(username=cast.owner.email, password="a long pass phrase")
    walk.press("Sign in")
    walk.look("no-plan")
    walk.press("Make a plan")
    walk.reads("Plan 1 is being made")
    walk.look("plan-making")
    run_waiting_jobs()
    # The page finds out by itself.
    expect(page.get_by_role("link", name="See it")).to_be_visible()
    walk.press("See it")
    walk.reads("Pieces ready")
    walk.look("plan-offered")
    walk.press("Take this plan")
    walk.reads("Plan 1 stands")
    walk.look("plan-stands")

    walk.hold("desk")
    walk.go(f"/pieces/{piece.pk}/layers/1/")
    page.get_by_text("Make it again on a new sheet").click()
    page.locator("#again-form [name]:visible").first.fill("Cracked")
    walk.press("Start a new sheet")
    settle(page)
    # One job sees that the plan broke, and orders the other.
    run_waiting_jobs()
    run_waiting_jobs()
    walk.go("/")
    walk.reads("The plan no longer fits")
    walk.press("See what moves")
    walk.reads("Layer 1: new, in")
    walk.look("plan-changes")
    walk.press("Take all of it")
    walk.reads("Plan 2 stands")
    walk.go("/")
    expect(page.locator("main")).not_to_contain_text("no longer fits")
    assert walk.complaints == []
