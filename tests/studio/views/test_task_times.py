"""The timer on its person's pages, and times typed and put right."""

import datetime as dt

import pytest
from django.utils import timezone

from commissions.selectors.rates import studio_rates
from studio.models import TaskTime
from studio.selectors.task_times import minutes_by_task
from studio.services.pieces import finish_piece
from studio.services.task_times import record_time, start_timer
from tests import make
from tests.studio.views.pages import (
    address,
    assert_asks_to_sign_in,
    statuses,
    text_of,
)


@pytest.fixture
def piece(cast):
    return make.piece(studio=cast.studio, glass=cast.glass, layers=6)


@pytest.fixture
def now():
    return timezone.now()


@pytest.fixture
def running(cast, piece, now):
    """The helper's timer, on for 40 minutes."""
    return start_timer(
        piece=piece,
        task="dams",
        by=cast.helper,
        at=now - dt.timedelta(minutes=40),
    )


@pytest.fixture
def forgotten(cast, piece, now):
    return start_timer(
        piece=piece, task="dams", by=cast.helper, at=now - dt.timedelta(hours=20)
    )


@pytest.fixture
def recorded(cast, piece, now):
    return record_time(
        piece=piece,
        task="dams",
        minutes=40,
        day=now.date() - dt.timedelta(days=1),
        note="",
        by=cast.helper,
        at=now,
    )


def taken(piece):
    return minutes_by_task(piece.studio, [piece.pk]).get(piece.pk, {})


def test_one_tap_on_the_piece_starts_the_likely_task(signed_in, piece):
    browser = signed_in("helper")
    assert "Start timer: Design and separations" in text_of(
        browser.get(address("piece_detail", piece.pk))
    )
    answer = browser.post(address("timer_start", piece.pk), {"task": "design"})
    assert answer["Location"] == address("piece_detail", piece.pk)
    page = text_of(browser.get(answer["Location"]))
    assert "Start timer: Design" not in page
    assert "timer-line" in page
    assert "<script" in page, "It ticks where scripts run."


def test_today_starts_it_too_and_stays_today(signed_in, piece):
    browser = signed_in("helper")
    page = text_of(browser.get(address("today")))
    assert address("timer_start", piece.pk) in page
    answer = browser.post(
        address("timer_start", piece.pk), {"task": "painting", "next": address("today")}
    )
    assert answer["Location"] == address("today")
    assert "timer-line" in text_of(browser.get(address("today")))


@pytest.mark.parametrize(
    "elsewhere", ["https://example.com/", "//example.com/", "javascript:alert(1)"]
)
def test_a_forged_way_on_leads_to_the_piece(signed_in, piece, elsewhere):
    answer = signed_in().post(
        address("timer_start", piece.pk), {"task": "dams", "next": elsewhere}
    )
    assert answer["Location"] == address("piece_detail", piece.pk)


def test_the_line_stands_on_every_page_of_its_person_and_nobody_elses(
    signed_in, running
):
    for name in ("today", "piece_list", "stock", "settings", "history"):
        page = text_of(signed_in("helper").get(address(name)))
        assert address("timer_stop", running.pk) in page
        assert "40 min" in page
    for role in ("owner", "technician"):
        page = text_of(signed_in(role).get(address("today")))
        assert "timer-line" not in page


def test_a_page_that_is_not_there_has_it_too(signed_in, running):
    answer = signed_in("helper").get("/pieces/999999/")
    assert answer.status_code == 404
    assert address("timer_stop", running.pk) in text_of(answer)


def test_stop_is_one_tap_and_its_undo_lets_it_run_on(signed_in, piece, running):
    browser = signed_in("helper")
    answer = browser.post(
        address("timer_stop", running.pk), {"next": address("stock")}, follow=True
    )
    assert answer.request["PATH_INFO"] == address("stock")
    assert address("timer_resume", running.pk) in text_of(answer)
    assert taken(piece) == {"dams": 40}
    browser.post(address("timer_resume", running.pk))
    assert taken(piece) == {}
    running.refresh_from_db()
    assert running.minutes is None


def test_another_task_says_how_long_the_one_before_took(signed_in, piece, running):
    answer = signed_in("helper").post(
        address("timer_start", piece.pk), {"task": "edges"}, follow=True
    )
    assert "the timer runs. Dams stopped after 40 min." in text_of(answer)


def test_a_forgotten_timer_says_so_and_takes_typed_minutes(signed_in, piece, forgotten):
    browser = signed_in("helper")
    page = text_of(browser.get(address("today")))
    assert "Still on since" in page
    assert "Type the time" in page
    stop = address("timer_stop", forgotten.pk)
    assert browser.post(stop)["Location"] == stop
    assert "How long did it take?" in text_of(browser.get(stop))
    wrong = browser.post(stop, {"minutes": "all day"})
    assert wrong.status_code == 422
    assert "all day" in text_of(wrong)
    browser.post(stop, {"minutes": "1 h 30"})
    assert taken(piece) == {"dams": 90}


def test_a_forgotten_timer_is_discarded_with_one_tap(signed_in, piece, forgotten):
    browser = signed_in("helper")
    answer = browser.post(address("time_take_back", forgotten.pk), follow=True)
    assert "taken back" in text_of(answer)
    assert "timer-line" not in text_of(answer)


def test_another_start_with_a_forgotten_timer_is_refused_in_words(
    signed_in, piece, forgotten
):
    answer = signed_in("helper").post(
        address("timer_start", piece.pk), {"task": "edges"}, follow=True
    )
    assert "Say how long it took" in text_of(answer)
    assert TaskTime.across_studios.count() == 1


def test_a_time_is_typed_in_the_words_people_use(signed_in, piece, now):
    browser = signed_in("helper")
    url = address("time_new", piece.pk)
    day = now.date() - dt.timedelta(days=2)
    asked = {"task": "edges", "minutes": "2 h 15", "day": day, "note": "Wet belt"}
    wrong = browser.post(url, asked | {"minutes": "two"})
    assert wrong.status_code == 422
    assert "Wet belt" in text_of(wrong)
    answer = browser.post(url, asked, follow=True)
    assert taken(piece) == {"edges": 135}
    page = text_of(answer)
    assert "2 h 15 min" in page
    time = TaskTime.across_studios.get()
    assert address("time_take_back", time.pk) in page
    assert (time.day, time.note) == (day, "Wet belt")


def test_a_day_to_come_is_refused_and_what_was_typed_stays(signed_in, piece, now):
    answer = signed_in("helper").post(
        address("time_new", piece.pk),
        {"task": "edges", "minutes": "25", "day": now.date() + dt.timedelta(days=3)},
    )
    assert answer.status_code == 409
    assert "still to come" in text_of(answer)
    assert 'value="25"' in text_of(answer)


def test_a_time_is_corrected_taken_back_and_put_back(signed_in, piece, recorded):
    browser = signed_in("helper")
    url = address("time_correct", recorded.pk)
    assert "40 min" in text_of(browser.get(url))
    browser.post(url, {"task": "edges", "minutes": "50", "day": recorded.day})
    assert taken(piece) == {"edges": 50}
    back = browser.post(address("time_take_back", recorded.pk), follow=True)
    assert address("time_put_back", recorded.pk) in text_of(back)
    assert taken(piece) == {}
    assert "<s>" in text_of(browser.get(address("time_list", piece.pk)))
    browser.post(address("time_put_back", recorded.pk))
    assert taken(piece) == {"edges": 50}


def test_late_putting_right_asks_why(signed_in, piece, recorded, now):
    TaskTime.across_studios.update(recorded_at=now - dt.timedelta(days=2))
    browser = signed_in("helper")
    for name in ("time_take_back", "time_correct"):
        answer = browser.post(
            address(name, recorded.pk),
            {"task": "edges", "minutes": "50", "day": recorded.day},
        )
        assert answer.status_code == 422
        assert "Say why" in text_of(answer)
    assert taken(piece) == {"dams": 40}


def test_timed_painting_is_shown_where_it_is_recorded(signed_in, cast, piece, now):
    start_timer(
        piece=piece, task="painting", by=cast.helper, at=now - dt.timedelta(minutes=90)
    )
    browser = signed_in("helper")
    page = text_of(browser.get(address("piece_paint", piece.pk)))
    assert "1 h 30 min</strong> timed" in page
    chosen = [p.pk for p in make.passes_of(piece)[:3]]
    browser.post(address("piece_paint", piece.pk), {"passes": chosen})
    assert [p.minutes for p in make.passes_of(piece)[:3]] == [30, 30, 30]


def test_who_records_work_may_and_others_may_look(signed_in, client, piece, recorded):
    start = address("timer_start", piece.pk)
    asked = {"task": "dams"}
    seen = statuses(signed_in, start, post=asked)
    assert seen == {"owner": 302, "maker": 302, "helper": 302, "technician": 403}
    assert set(statuses(signed_in, address("time_list", piece.pk)).values()) == {200}
    page = text_of(signed_in("technician").get(address("time_list", piece.pk)))
    assert "Take back" not in page
    assert "Start a timer" not in page
    assert_asks_to_sign_in(client, start, post=asked)


def test_no_price_of_an_hour_is_on_these_pages(signed_in, piece, recorded):
    for role in ("helper", "owner"):
        for name in ("time_list", "time_new"):
            assert "$" not in text_of(signed_in(role).get(address(name, piece.pk)))


def test_another_studios_times_are_not_there(signed_in, strangers, piece, recorded):
    theirs = signed_in("owner", strangers)
    for name in ("time_correct", "timer_stop", "time_take_back", "time_put_back"):
        assert theirs.get(address(name, recorded.pk)).status_code == 404
    assert theirs.get(address("time_list", piece.pk)).status_code == 404


def test_the_next_quotes_start_moves_once_the_records_are_accepted(
    signed_in, cast, now
):
    for _ in range(5):
        done = make.piece(studio=cast.studio, glass=cast.glass, layers=6)
        make.paint_and_fuse(done)
        finish_piece(piece=done, by=cast.maker, at=now)
        record_time(
            piece=done,
            task="cutting",
            minutes=144,
            day=now.date() - dt.timedelta(days=1),
            note="",
            by=cast.helper,
            at=now,
        )

    def each():
        tasks = studio_rates(cast.studio).tasks
        return next(task.minutes_each for task in tasks if task.key == "cutting")

    browser = signed_in("owner")
    page = text_of(browser.get("/commissions/rates/"))
    # By the rule six layers take 72 minutes.
    assert "5 of your pieces took 200% of this" in page
    assert each() == 3, "It is offered, never taken silently."
    browser.post("/commissions/rates/", {"take": "cutting"})
    assert each() == 6
