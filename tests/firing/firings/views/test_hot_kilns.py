"""No page opens a kiln against its readings, and none is unloaded hot by one tap."""

import datetime as dt

import pytest
from django.utils import timezone

from firing.firings.services.running import finish_firing, start_firing
from firing.loads.selectors.known import ReadByHand
from firing.models import Reading
from studio.errors import Refused
from studio.models import HistoryEntry
from tests.firing import build
from tests.firing.old_verdict import old_judgement
from tests.firing.pages import address, text_of

HOUR = dt.timedelta(hours=1)


@pytest.fixture
def began():
    return timezone.now() - 100 * HOUR


@pytest.fixture
def piece(cast):
    return build.stacked(studio=cast.studio, glass=cast.glass, layer_count=2)


@pytest.fixture
def overdue(cast, piece, began):
    """Return a fuse that its plan wants open by now."""
    firing = build.fuse(piece=piece, kiln=cast.kiln, starts_at=began)
    return start_firing(firing=firing, by=None, at=began)


def read(firing, fahrenheit, *, ago=HOUR / 60):
    Reading.across_studios.create(
        studio=firing.studio,
        firing=firing,
        at=timezone.now() - ago,
        temperature_c=(fahrenheit - 32) / 1.8,
    )


def pages(firing, piece):
    return {
        "firing": address("firing_detail", firing.pk),
        "firings": address("firing_list"),
        "kilns": address("kiln_list"),
        "kiln": address("kiln_detail", firing.kiln_id),
        "plan": address("plan"),
        "today": "/",
        "piece": f"/pieces/{piece.pk}/",
        "pieces": "/pieces/",
        "verdict": address("firing_judgement", firing.pk),
    }


def test_every_page_believes_the_reading_not_the_clock(signed_in, overdue, piece):
    browser = signed_in()
    for name, url in pages(overdue, piece).items():
        assert "135 °F" not in text_of(browser.get(url)), name
    read(overdue, 135)
    for name, url in pages(overdue, piece).items():
        page = text_of(browser.get(url))
        if name not in {"verdict", "plan"}:
            assert "135 °F at" in page or "135 °F yesterday" in page, name
        assert "May be opened since" not in page, name
        assert "Unload and finish" not in page, name
        assert f"Unload {overdue.kiln}" not in page, name


def test_a_reading_below_the_opening_makes_unloading_the_main_step(
    signed_in, overdue, piece
):
    read(overdue, 700, ago=50 * HOUR)
    read(overdue, 80)
    browser = signed_in()
    assert "80 °F" in text_of(browser.get(address("firing_detail", overdue.pk)))
    assert f"Unload {overdue.kiln}" in text_of(browser.get("/"))
    page = browser.get(address("firing_finish", overdue.pk)).content.decode()
    assert "Not yet" not in page
    assert 'name="shown_c"' not in page


def test_one_tap_on_all_fine_never_unloads_a_hot_kiln(signed_in, overdue, piece):
    read(overdue, 854)
    browser, url = signed_in("helper"), address("firing_finish", overdue.pk)
    page = browser.get(url)
    assert "Not yet" in text_of(page)
    assert page.content.decode().count("button-main") == 1, "Not yet is the main step"
    answer = browser.post(url, {"all_fine": "yes"})
    assert answer.status_code == 422
    assert "Read the temperature at the kiln" in text_of(answer)
    answer = browser.post(url, {"all_fine": "yes", "shown_c": "854 F"})
    assert answer.status_code == 422
    overdue.refresh_from_db()
    assert overdue.finished_at is None


def test_the_service_itself_unloads_no_kiln_that_may_be_hot(overdue):
    read(overdue, 854)
    outcomes = {item.pk: ("fine", "") for item in overdue.items.all()}

    def finish(**hand):
        return finish_firing(
            firing=overdue,
            outcomes=outcomes,
            by=None,
            at=timezone.now(),
            hand=ReadByHand(**hand),
        )

    with pytest.raises(Refused, match=r"not known to be cold \(854 °F"):
        finish()
    with pytest.raises(Refused, match="what hot glass does"):
        finish(shown_c=40.0)
    with pytest.raises(Refused, match="hotter than this firing"):
        finish(shown_c=1500.0, is_confirmed=True)
    with pytest.raises(Refused, match="colder than a studio"):
        finish(shown_c=5.0, is_confirmed=True)
    assert finish(shown_c=40.0, is_confirmed=True).unloaded_at_c == 40.0


def test_who_goes_on_leaves_the_temperature_in_the_history(
    cast, signed_in, overdue, piece
):
    read(overdue, 135)
    sent = {"all_fine": "yes", "shown_c": "130", "is_confirmed": "on"}
    answer = signed_in().post(address("firing_finish", overdue.pk), sent, follow=True)
    assert "130 °F" in text_of(answer)
    lines = HistoryEntry.owned.for_studio(cast.studio).filter(piece=piece)
    assert f"Unloaded from {overdue.kiln}, which showed 130 °F" in {
        line.what for line in lines
    }


def test_a_typed_temperature_above_the_opening_is_confirmed_even_if_due(overdue):
    outcomes = {item.pk: ("fine", "") for item in overdue.items.all()}
    with pytest.raises(Refused, match="what hot glass does"):
        finish_firing(
            firing=overdue,
            outcomes=outcomes,
            by=None,
            at=timezone.now(),
            hand=ReadByHand(shown_c=200.0),
        )


def test_a_verdict_over_a_limit_is_shown_wherever_the_glass_is(
    cast, signed_in, overdue, piece
):
    browser, told = signed_in(), "Cooled too fast between"
    judged = old_judgement(overdue, studio=cast.studio, made_at=timezone.now())
    judged.inputs_sha256 = "0" * 64
    judged.save()
    url = address("firing_finish", overdue.pk)
    page = browser.get(url)
    assert told in text_of(page)
    all_fine = page.content.decode().split('name="all_fine"')[0].rsplit("<button", 1)[1]
    assert "button-main" not in all_fine
    for name in ("today", "firings", "piece"):
        assert told in text_of(browser.get(pages(overdue, piece)[name])), name
    browser.post(url, {"all_fine": "yes"})
    finish = f"/pieces/{piece.pk}/finish/"
    for where in ("/", f"/pieces/{piece.pk}/", finish, address("firing_list")):
        assert told in text_of(browser.get(where)), where


def test_a_later_good_firing_of_the_piece_ends_the_warning(
    cast, signed_in, overdue, piece
):
    judged = old_judgement(overdue, studio=cast.studio, made_at=timezone.now())
    judged.inputs_sha256 = "0" * 64
    judged.save()
    now = timezone.now()
    outcomes = {item.pk: ("redo", "") for item in overdue.items.all()}
    finish_firing(firing=overdue, outcomes=outcomes, by=None, at=now)
    again = build.fuse(piece=piece, kiln=cast.kiln, starts_at=now, rule="next row")
    start_firing(firing=again, by=None, at=now)
    page = text_of(signed_in().get(f"/pieces/{piece.pk}/finish/"))
    assert "Cooled too fast between" not in page
