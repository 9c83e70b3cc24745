"""Designs that take longer than a page may: ordered, shown in progress, found again."""

import datetime as dt
from urllib.parse import urlencode

import pytest
from django.utils import timezone

from firing.models import Schedule
from firing.schedules.selectors.design_orders import DESIGN_JOB
from studio import jobs
from studio.models import Job, JobState
from tests.firing import build
from tests.firing.pages import address, text_of

HTMX = {"HX-Request": "true"}


@pytest.fixture
def no_time(settings):
    """Let a page have no time at all for a design that is not there yet."""
    settings.DESIGN_BUDGET_SECONDS = -1.0


@pytest.fixture
def asked(cast, tmp_path, settings):
    settings.CACHES = settings.CACHES | {
        "computed": {
            "BACKEND": "django.core.cache.backends.filebased.FileBasedCache",
            "LOCATION": tmp_path / "computed",
        }
    }
    return {
        "kind": "full fuse",
        "glass": cast.glass.pk,
        "kiln": cast.kiln.pk,
        "height": "22 mm",
        "is_dammed": "on",
    }


def order(browser, asked):
    """Press the button that orders a design, and return the page it leads to."""
    url = f"{address('schedule_designer')}?{urlencode(asked)}"
    return browser.post(url, follow=True)


def orders(cast):
    return Job.owned.for_studio(cast.studio).filter(name=DESIGN_JOB)


def test_a_long_design_is_ordered_once_and_taken_in_place(
    cast, signed_in, asked, no_time
):
    page = signed_in().get(address("schedule_designer"), asked)
    assert "Compute it" in text_of(page)
    assert 'hx-trigger="load"' in page.content.decode(), "it presses itself"
    assert not orders(cast).exists()
    page = order(signed_in(), asked)
    assert "heat and stress are being computed" in text_of(page)
    assert "You can leave this page" in text_of(page)
    part = signed_in().get(address("schedule_designer"), asked, headers=HTMX)
    html = part.content.decode()
    assert 'hx-target="#answer"' in html
    job = orders(cast).get()
    assert f'hx-get="{job.arguments["href"]}"'.replace("&", "&amp;") in html
    assert jobs.run(job.pk, clock=timezone.now) == JobState.DONE
    done = text_of(signed_in().get(job.arguments["href"]))
    assert "from loading to opening" in done
    assert "being computed" not in done
    assert orders(cast).count() == 1


def test_the_way_is_told_while_the_worker_is_at_it(cast, signed_in, asked, no_time):
    order(signed_in(), asked)
    job = orders(cast).get()
    jobs.claim(job.pk, now=timezone.now())
    orders(cast).update(progress="40 schedules tried so far")
    page = text_of(signed_in().get(address("schedule_designer"), asked))
    assert "40 schedules tried so far" in page


def test_what_failed_says_so_and_can_be_asked_for_again(
    cast, signed_in, asked, no_time
):
    order(signed_in(), asked)
    orders(cast).update(state=JobState.FAILED, error="The disk was full.")
    page = signed_in().get(address("schedule_designer"), asked)
    assert "The disk was full." in text_of(page)
    assert "Try again" in text_of(page)
    order(signed_in(), asked)
    assert orders(cast).count() == 2
    assert orders(cast).latest("pk").state == JobState.WAITING
    listed = signed_in().get(address("schedule_list")).content.decode()
    assert listed.count("Full fuse and anneal of 0.87 in") == 1
    assert "waits for its turn" in listed
    assert "waits for its turn" not in text_of(
        signed_in("helper").get(address("schedule_list"))
    ), "who may not design is not led to the designer"


def test_a_result_that_got_lost_is_told_and_not_ordered_over_and_over(
    cast, signed_in, asked, no_time
):
    url = address("schedule_designer")
    order(signed_in(), asked)
    orders(cast).update(state=JobState.DONE, finished_at=timezone.now())
    page = text_of(signed_in().get(url, asked))
    assert "share the store of designs" in page
    assert orders(cast).count() == 1
    orders(cast).update(finished_at=timezone.now() - dt.timedelta(days=40))
    assert "being computed" in text_of(order(signed_in(), asked))
    assert orders(cast).count() == 2


def test_the_same_is_never_computed_twice(cast, signed_in, asked, monkeypatch):
    for _ in range(2):
        page = signed_in().get(address("schedule_designer"), asked)
        assert "from loading to opening" in text_of(page)
        monkeypatch.setattr(
            "firing.schedules.selectors.stress.design",
            lambda *_: pytest.fail("it was computed before"),
        )


def test_a_refusal_of_the_model_is_an_answer_too(cast, signed_in, asked, no_time):
    asked |= {"height": "60 mm", "residual_mpa": "0.02"}
    order(signed_in(), asked)
    job = orders(cast).get()
    assert jobs.run(job.pk, clock=timezone.now) == JobState.DONE
    page = signed_in().get(address("schedule_designer"), asked)
    assert page.status_code == 409
    assert "Allow more" in text_of(page)


def test_a_store_that_is_down_is_no_reason_to_fail(cast, signed_in, asked, settings):
    settings.CACHES = settings.CACHES | {
        "computed": {
            "BACKEND": "django.core.cache.backends.redis.RedisCache",
            "LOCATION": "redis://127.0.0.1:1/0",
        }
    }
    page = signed_in().get(address("schedule_designer"), asked)
    assert "from loading to opening" in text_of(page)


def test_the_fuse_page_orders_too(cast, signed_in, asked, no_time):
    piece = build.stacked(studio=cast.studio, glass=cast.glass, layer_count=8)
    where = {"kiln": cast.kiln.pk, "kind": "full fuse"}
    chosen = where | {"rule": "computed", "temporary_mpa": "2.9"}
    answer = signed_in().post(address("fuse_plan", piece.pk), chosen)
    assert address("fuse_plan", piece.pk) in answer["Location"]
    assert not Schedule.owned.for_studio(cast.studio).exists()
    page = signed_in().get(answer["Location"])
    assert "being computed" in text_of(page)
    job = orders(cast).get()
    assert jobs.run(job.pk, clock=timezone.now) == JobState.DONE
    html = signed_in().get(answer["Location"]).content.decode()
    assert "Save and book" in html
    answer = signed_in().post(address("fuse_plan", piece.pk), chosen)
    assert address("fuse_book", piece.pk) in answer["Location"]
    assert orders(cast).count() == 1


def test_other_studios_know_nothing_of_an_order(
    cast, strangers, signed_in, asked, no_time
):
    order(signed_in(), asked)
    assert not Job.owned.for_studio(strangers.studio).filter(name=DESIGN_JOB).exists()
