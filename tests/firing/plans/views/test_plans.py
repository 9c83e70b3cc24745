"""The plan's pages: making, stopping, accepting, confirming, and what each role sees."""

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from firing import tasks
from firing.loads.selectors.planned import GRACE, planned_firings, standing_plan
from firing.models import Plan
from firing.plans.selectors.problem import WorkSpec
from firing.plans.services import acceptance, plans
from firing.promises.selectors.promises import promise_for
from studio import jobs
from studio.models import Closure, Job, JobState, Layer
from studio.selectors.bench_times import tasks_of
from studio.services import layers
from studio.services.pieces import mark_lost
from tests import make
from tests.firing import plans_build as build
from tests.firing.plans.selectors.test_problem import BENCH

pytestmark = pytest.mark.django_db
PLAN = "firing:plan"


@pytest.fixture
def work(cast):
    """A piece whose first layer is burnt, so that it can be lost."""
    piece = build.work(cast)
    of_pass = make.passes_of(piece)[0]
    now = timezone.now()
    layers.record_painted(passes=[of_pass], by=cast.owner, at=now, minutes=60)
    layers.record_outcome(of_pass=of_pass, outcome="fine", by=cast.owner, at=now)
    Plan.across_studios.update(units=build.UNITS)
    return piece


def run_jobs(studio):
    """Do what waits, as the worker would; return how often that was something."""
    count = 0
    while job := next(iter(waiting(studio)), None):
        assert jobs.run(job.pk, clock=timezone.now) == JobState.DONE
        count += 1
    return count


def waiting(studio):
    return Job.owned.for_studio(studio).filter(state="waiting").order_by("pk")


@pytest.fixture(autouse=True)
def short_searches(monkeypatch):
    monkeypatch.setattr(plans, "UNITS", build.UNITS)


def text_of(response):
    return " ".join(response.content.decode().split())


def test_from_nothing_to_a_confirmed_plan(cast, work, signed_in):
    browser = signed_in()
    page = browser.get(reverse(PLAN))
    assert "No plan yet" in text_of(page)
    browser.post(reverse("firing:plan_make"), {"wish": "new"})
    page = browser.get(reverse(PLAN))
    assert "Plan 1 is being made" in text_of(page)
    assert "Stop and keep this plan" in text_of(page)
    run_jobs(cast.studio)
    page = browser.get(reverse(PLAN))
    assert "Plan 1 is ready" in text_of(page)
    plan = Plan.owned.for_studio(cast.studio).get()
    page = browser.get(reverse("firing:plan_detail", args=[plan.pk]))
    told = text_of(page)
    assert "Pieces ready" in told
    assert "Enamel: Reed bed 2, 3" in told
    assert "Nothing late" in told
    assert "Take this plan" in told
    answer = browser.post(
        reverse("firing:plan_accept", args=[plan.pk]),
        {"option": "whole", "take": "all"},
        follow=True,
    )
    assert "Plan 1 stands" in text_of(answer)
    assert "Provisional" in text_of(answer)
    answer = browser.post(reverse("firing:plan_confirm"), follow=True)
    assert "bookings confirmed: they will not move" in text_of(answer)
    assert "Confirmed" in text_of(answer)
    assert browser.post(reverse("firing:plan_confirm")).status_code == 409


def test_a_lost_layer_shows_on_today_and_the_changes_can_be_taken(
    cast, work, signed_in
):
    browser = signed_in()
    build.accepted(cast, at=timezone.now())
    assert "no longer fits" not in text_of(browser.get(reverse("studio:today")))
    layers.make_again(
        layer=Layer.across_studios.get(piece=work, number=1),
        reason="Cracked on the light table",
        by=cast.owner,
        at=timezone.now(),
    )
    # One job sees that the plan broke, the next makes another.
    assert run_jobs(cast.studio) == 2
    today = text_of(browser.get(reverse("studio:today")))
    assert "The plan no longer fits: " in today
    why = "Layer 1 of Reed bed: set aside and made again"
    assert why not in today
    assert why in text_of(browser.get(reverse(PLAN)))
    plan = Plan.owned.for_studio(cast.studio).get(state="ready")
    told = text_of(browser.get(reverse("firing:plan_detail", args=[plan.pk])))
    assert "Layer 1: new, in" in told
    answer = browser.post(
        reverse("firing:plan_accept", args=[plan.pk]),
        {"option": plan.options[0]["name"], "take": "ticked", "pieces": [work.pk]},
        follow=True,
    )
    assert "Plan 2 stands" in text_of(answer)
    assert "no longer fits" not in text_of(browser.get(reverse("studio:today")))


def test_nothing_ticked_is_said_and_nothing_taken(cast, work, signed_in):
    plan = build.made(cast, at=timezone.now())
    answer = signed_in().post(
        reverse("firing:plan_accept", args=[plan.pk]),
        {"option": "whole", "take": "ticked"},
    )
    assert answer.status_code == 409
    assert "Tick at least one piece" in text_of(answer)
    assert standing_plan(cast.studio) is None


def test_who_comes_second_is_told_and_gets_a_fresh_plan(cast, work, signed_in):
    now = timezone.now()
    first, second = build.made(cast, at=now), build.made(cast, at=now)
    Plan.across_studios.filter(pk=first.pk).update(state="ready")
    acceptance.accept_plan(plan=first, option="whole", by=cast.owner, at=now)
    answer = signed_in("maker").post(
        reverse("firing:plan_accept", args=[second.pk]),
        {"option": "whole", "take": "all"},
        follow=True,
    )
    told = text_of(answer)
    assert "Plan 1 was accepted by Gullmarsh Owner" in told
    assert "Plan 3 is being made from how things are now" in told
    assert Plan.owned.for_studio(cast.studio).get(number=3).wish == "again"


@pytest.mark.parametrize("nonsense", ["", "other", "whole'"])
def test_an_option_that_is_none_is_refused(cast, work, signed_in, nonsense):
    plan = build.made(cast, at=timezone.now())
    answer = signed_in().post(
        reverse("firing:plan_accept", args=[plan.pk]), {"option": nonsense}
    )
    assert answer.status_code == 409
    assert "has no such option" in text_of(answer)


def test_stopping_keeps_the_best_plan_so_far(cast, work, signed_in, monkeypatch):
    monkeypatch.setattr(plans, "UNITS", 10**12)
    monkeypatch.setattr("firing.tasks.TELL_EVERY_S", 0.0)
    build.work(cast, titles=tuple(f"Saltmarsh {n}" for n in range(4)))
    browser = signed_in()
    browser.post(reverse("firing:plan_make"), {"wish": "new"})
    plan = Plan.owned.for_studio(cast.studio).get()
    browser.post(reverse("firing:plan_stop", args=[plan.pk]))
    assert "Stopping with the best plan" in text_of(browser.get(reverse(PLAN)))
    run_jobs(cast.studio)
    plan.refresh_from_db()
    assert plan.state == "ready"
    assert plan.was_stopped
    told = text_of(browser.get(reverse("firing:plan_detail", args=[plan.pk])))
    assert "The search was stopped" in told


def test_what_cannot_be_planned_is_said_in_words(cast, signed_in):
    build.work(cast)
    now = timezone.now()
    Closure.across_studios.create(
        studio=cast.studio,
        starts_at=now,
        ends_at=now + 600 * build.DAY,
        reason="The roof is off",
    )
    browser = signed_in()
    browser.post(reverse("firing:plan_make"), {"wish": "new"})
    run_jobs(cast.studio)
    told = text_of(browser.get(reverse(PLAN)))
    assert "Plan 1 could not be made" in told
    assert "Nobody is ever in to load a kiln" in told


def test_why_a_piece_is_ready_then(cast, work, signed_in):
    build.accepted(cast, at=timezone.now())
    told = text_of(signed_in().get(reverse("firing:plan_why", args=[work.pk])))
    assert "Why Reed bed is ready" in told
    assert "Until" in told


def test_why_of_a_piece_that_is_in_no_plan(cast, work, signed_in):
    build.accepted(cast, at=timezone.now())
    lost = make.piece(studio=cast.studio, glass=cast.glass, title="Lost one")
    mark_lost(piece=lost, by=cast.owner, at=timezone.now(), note="Dropped")
    answer = signed_in().get(reverse("firing:plan_why", args=[lost.pk]))
    assert answer.status_code == 409
    assert "in no plan" in text_of(answer)


def test_a_helper_sees_the_plan_and_has_no_buttons(cast, work, signed_in):
    build.accepted(cast, at=timezone.now())
    told = text_of(signed_in("helper").get(reverse(PLAN)))
    assert "Pieces ready" in told
    assert "Plan again" not in told
    assert "Confirm" not in told


def test_another_studio_sees_nothing_of_it(cast, strangers, work, signed_in):
    plan = build.accepted(cast, at=timezone.now())
    browser = signed_in("owner", strangers)
    assert "No plan yet" in text_of(browser.get(reverse(PLAN)))
    url = reverse("firing:plan_detail", args=[plan.pk])
    assert browser.get(url).status_code == 404
    booking = planned_firings(cast.studio)[0].booking_id
    answer = browser.post(reverse("firing:plan_confirm"), {"booking": booking})
    assert answer.status_code == 409
    assert planned_firings(cast.studio)[0].booking.is_provisional


def test_a_loading_that_is_over_shows_without_any_job(cast, work, signed_in):
    plan = build.accepted(cast, at=timezone.now())
    row = planned_firings(cast.studio)[0]
    late = timezone.now() - dt.timedelta(hours=1)
    row.booking.starts_at = late
    row.booking.save()
    told = text_of(signed_in().get(reverse("studio:today")))
    assert "The plan no longer fits: 1 load missed." in told
    assert "was to be loaded" in text_of(signed_in().get(reverse(PLAN)))
    assert plan.holds


def test_the_plan_asks_no_more_often_for_more_pieces(cast, work, signed_in):
    browser, counts = signed_in(), []
    for titles in (("Weir",), ("Saltmarsh", "Sluice"), ("Groyne",)):
        build.work(cast, titles=titles)
        Plan.across_studios.update(state="superseded")
        plan = build.made(cast, at=timezone.now())
        Plan.across_studios.filter(pk=plan.pk).update(based_on=None)
        acceptance.accept_plan(
            plan=plan, option="whole", by=cast.owner, at=timezone.now()
        )
        browser.get(reverse(PLAN))
        with CaptureQueriesContext(connection) as seen:
            assert browser.get(reverse(PLAN)).status_code == 200
        counts.append(len(seen))
    assert counts[0] == counts[1] == counts[2]


def test_a_planned_bookings_page_says_what_it_is_for_and_confirms_it(
    cast, work, signed_in
):
    build.accepted(cast, at=timezone.now())
    enamel, fuse = planned_firings(cast.studio)
    browser = signed_in()
    url = reverse("firing:booking_detail", args=[enamel.booking_id])
    told = text_of(browser.get(url))
    assert "Enamel: Reed bed 2, 3" in told
    assert ">Confirm<" in told
    assert f"{reverse('firing:load_new')}?kiln={cast.kiln.pk}" in told
    browser.post(reverse("firing:plan_confirm"), {"booking": enamel.booking_id})
    assert ">Confirm<" not in text_of(browser.get(url))
    assert planned_firings(cast.studio)[1].booking.is_provisional
    url = reverse("firing:booking_detail", args=[fuse.booking_id])
    assert reverse("firing:fuse_plan", args=[work.pk]) in text_of(browser.get(url))


def test_a_planned_firing_is_confirmed_under_the_ribbon(cast, work, signed_in):
    build.accepted(cast, at=timezone.now())
    enamel, _ = planned_firings(cast.studio)
    browser = signed_in()
    url = reverse("firing:booking_detail", args=[enamel.booking_id])
    ribbon = text_of(browser.get(reverse("firing:kiln_list")))
    assert f'href="{url}" data-card' in ribbon
    card = text_of(browser.get(url, headers={"HX-Request": "true"}))
    assert ">Confirm<" in card
    assert "Skip to the content" not in card
    answer = browser.post(
        reverse("firing:plan_confirm"), {"booking": enamel.booking_id, "back": "kilns"}
    )
    assert answer.url == reverse("firing:kiln_list")
    assert not planned_firings(cast.studio)[0].booking.is_provisional


def test_what_the_clock_breaks_is_looked_at_once(cast, work):
    build.accepted(cast, at=timezone.now())
    row = planned_firings(cast.studio)[0]
    jobs.sweep(now=row.booking.starts_at)
    assert not waiting(cast.studio).exists()
    jobs.sweep(now=row.booking.starts_at + GRACE - dt.timedelta(minutes=1))
    assert not waiting(cast.studio).exists()
    late = row.booking.starts_at + GRACE
    jobs.sweep(now=late)
    (look,) = waiting(cast.studio)
    assert look.name == "firing.watch_plan"
    jobs.sweep(now=late)
    assert waiting(cast.studio).count() == 1
    Job.owned.for_studio(cast.studio).update(state=JobState.DONE)
    Plan.across_studios.update(troubles_at=late)
    jobs.sweep(now=late + dt.timedelta(hours=1))
    assert not waiting(cast.studio).exists()


def test_today_says_what_to_load_by_the_plan(cast, signed_in, monkeypatch):
    build.work(cast)
    build.accepted(cast)
    row = planned_firings(cast.studio)[0]
    just_before = row.booking.starts_at - dt.timedelta(minutes=10)
    monkeypatch.setattr("django.utils.timezone.now", lambda: just_before)
    told = text_of(signed_in().get(reverse("studio:today")))
    assert f"by {cast.viewer().clock(row.booking.starts_at)}" in told
    assert f">Load {cast.kiln}<" in told
    assert "Enamel: Reed bed 1 to 3" in told
    assert "Not painted yet: layers 1, 2, 3 of Reed bed." in told
    earlier = row.booking.starts_at - build.DAY
    monkeypatch.setattr("django.utils.timezone.now", lambda: earlier)
    told = text_of(signed_in().get(reverse("studio:today")))
    assert f">Load {cast.kiln}<" not in told


def test_a_load_stays_on_today_for_its_grace(cast, signed_in, monkeypatch):
    build.work(cast)
    build.accepted(cast)
    starts_at = planned_firings(cast.studio)[0].booking.starts_at

    def today(late):
        monkeypatch.setattr("django.utils.timezone.now", lambda: starts_at + late)
        return text_of(signed_in().get(reverse("studio:today")))

    for minutes in (1, 59):
        told = today(dt.timedelta(minutes=minutes))
        assert f"now</p> <h3>Load {cast.kiln}" in told
        assert "no longer fits" not in told
    told = today(GRACE)
    assert f"Load {cast.kiln}" not in told
    assert "The plan no longer fits: 1 load missed." in told


def test_a_helper_reads_what_to_load_and_nothing_of_planning(
    cast, signed_in, monkeypatch
):
    piece = build.work(cast)
    build.accepted(cast)
    for of_pass in make.passes_of(piece)[:2]:
        layers.record_painted(passes=[of_pass], by=None, at=build.MONDAY, minutes=9)
    row = planned_firings(cast.studio)[0]
    before = row.booking.starts_at - dt.timedelta(minutes=10)
    monkeypatch.setattr("django.utils.timezone.now", lambda: before)
    Plan.across_studios.update(holds=False, troubles=["A layer was lost."])
    build.again(cast, at=before)

    def today(role):
        page = signed_in(role).get(reverse("studio:today"))
        return text_of(page), page.content.decode()

    told, page = today("helper")
    clock = cast.viewer().clock(row.booking.starts_at)
    assert f"by {clock}</p> <h3>" in told
    assert f">Load {cast.kiln}<" in told
    assert "Enamel: Reed bed 1 to 3" in told
    assert "Not painted yet: layer 3 of Reed bed." in told
    assert 'class="button"' not in page[page.index(f">Load {cast.kiln}<") :][:400]
    for prose in ("plan no longer", "is ready", "Provisional", "A layer was lost"):
        assert prose not in page
    told, _ = today("maker")
    assert "The plan no longer fits: " in told
    assert "See what moves" in told
    assert "A layer was lost" not in told


@pytest.mark.parametrize("nonsense", ["", "x", "-1", "9" * 30, "1.5"])
def test_nonsense_confirms_nothing(cast, work, signed_in, nonsense):
    build.accepted(cast, at=timezone.now())
    answer = signed_in().post(reverse("firing:plan_confirm"), {"booking": nonsense})
    assert answer.status_code == 409
    assert all(row.booking.is_provisional for row in planned_firings(cast.studio))


def test_a_promise_moves_nothing_that_the_plan_has(cast):
    build.work(cast)
    build.accepted(cast)
    *_, fuse = planned_firings(cast.studio)
    found = promise_for(
        studio=cast.studio,
        spec=WorkSpec(
            title="Slack water",
            width_mm=300,
            height_mm=200,
            layer_count=6,
            painted_count=5,
            passes_per_layer=2,
            glass=cast.glass,
            is_dammed=True,
            is_decal=False,
            bench=BENCH,
        ),
        maquette=None,
        tasks=tasks_of(cast.studio),
        due_dates={},
        now=build.MONDAY,
    )
    # There is one kiln, and the plan's fuse stands in it.
    assert found.ready_date > fuse.booking.ends_at.date()
    assert not found.left_out


def test_who_books_a_load_is_told_whose_layers_lose_their_planned_place(
    cast, signed_in
):
    first = build.work(cast, titles=("Reed bed", "Saltmarsh"), layers=3)
    now = timezone.now()
    build.accepted(cast, at=now)
    passes = make.passes_of(first)
    layers.record_painted(passes=passes, by=cast.owner, at=now, minutes=60)
    row = planned_firings(cast.studio)[0]
    viewer = cast.viewer()
    browser = signed_in()
    asked = text_of(browser.get(reverse("firing:load_new")))
    assert "Not painted yet: layers 1, 2 of Saltmarsh." in asked
    answer = browser.post(
        reverse("firing:load_new"),
        {
            "kiln": row.booking.kiln_id,
            "passes": [one.pk for one in passes],
            "starts_at": row.booking.starts_at.astimezone(viewer.zone).strftime(
                "%Y-%m-%dT%H:%M"
            ),
        },
        follow=True,
    )
    told = text_of(answer)
    assert "Saltmarsh: Layers 1, 2 lose their planned place in" in told
    assert "The kilns are planned again." in told
    run_jobs(cast.studio)
    again = Plan.owned.for_studio(cast.studio).get(state="ready")
    why = "Layers 1, 2 of Saltmarsh, pass 1: no place in the plan any more."
    assert why in again.why
    assert why in text_of(browser.get(reverse(PLAN)))


def test_what_happens_while_a_plan_is_made_is_looked_at_afterwards(
    cast, work, monkeypatch
):
    now = timezone.now()
    build.accepted(cast, at=now)
    plans.ask_for_plan(studio=cast.studio, wish="again", by=cast.owner, at=now)
    Job.owned.for_studio(cast.studio).filter(name="firing.watch_plan").delete()
    searched = tasks.compute

    def meanwhile(*given, **named):
        made = searched(*given, **named)
        layers.make_again(
            layer=Layer.across_studios.get(piece=work, number=1),
            reason="Dropped",
            by=cast.owner,
            at=timezone.now(),
        )
        # Another worker looks at it at once, and orders nothing: one is being made.
        look = waiting(cast.studio).get(name="firing.watch_plan")
        assert jobs.run(look.pk, clock=timezone.now) == JobState.DONE
        monkeypatch.setattr(tasks, "compute", searched)
        return made

    monkeypatch.setattr(tasks, "compute", meanwhile)
    run_jobs(cast.studio)
    newest = Plan.owned.for_studio(cast.studio).order_by("number").last()
    assert (newest.number, newest.state) == (3, "ready")
    assert newest.why == ["Layer 1 of Reed bed: set aside and made again (Dropped)."]
    assert not waiting(cast.studio).exists()


def test_the_page_of_an_old_plan_says_that_its_contents_are_gone(cast, work, signed_in):
    now = timezone.now()
    old = build.made(cast, at=now - 40 * build.DAY)
    build.made(cast, at=now - 35 * build.DAY)
    plans.forget_contents(now)
    browser = signed_in()
    answer = browser.get(reverse("firing:plan_detail", args=[old.pk]))
    assert answer.status_code == 200
    assert "This is no longer kept: a newer plan was made" in text_of(answer)
    url = reverse("firing:plan_accept", args=[old.pk])
    answer = browser.post(url, {"option": "whole", "take": "all"})
    assert answer.status_code == 409
    assert "Plan 1 cannot be taken: not taken." in text_of(answer)
    why = reverse("firing:plan_why", args=[work.pk])
    assert browser.get(f"{why}?plan={old.pk}&option=whole").status_code == 404


def test_an_empty_studio_is_told_that_nothing_waits(cast, signed_in):
    browser = signed_in()
    told = text_of(browser.get(reverse(PLAN)))
    assert "Nothing waits to be planned: no piece is in work." in told
    assert "Make a plan" not in told
    assert reverse("studio:piece_new") in told
    answer = browser.post(reverse("firing:plan_make"), {"wish": "new"})
    assert answer.status_code == 409
    assert "Plan a piece first." in text_of(answer)
    assert not Plan.owned.for_studio(cast.studio).exists()
    # Who may not plan pieces is offered no button for it.
    assert reverse("studio:piece_new") not in text_of(
        signed_in("helper").get(reverse(PLAN))
    )


def test_an_outdated_plan_of_a_studio_with_nothing_left_says_both(
    cast, work, signed_in
):
    now = timezone.now()
    plan = build.made(cast, at=now)
    mark_lost(piece=work, by=cast.owner, at=now, note="Dropped")
    answer = signed_in().post(
        reverse("firing:plan_accept", args=[plan.pk]),
        {"option": "whole", "take": "all"},
        follow=True,
    )
    told = text_of(answer)
    assert "Nothing of plan 1 is left to be done. Nothing waits to be planned" in told
    assert standing_plan(cast.studio) is None
