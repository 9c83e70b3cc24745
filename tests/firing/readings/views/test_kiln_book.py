"""A kiln's book: changes kept and removed, and a kiln that lost power called out."""

import datetime as dt

import pytest
from django.core.cache import cache

from firing.models import KilnChange, KilnUpkeep
from firing.readings.selectors.upkeep import upkeep_rows
from firing.readings.services.kiln_book import keep_upkeep
from studio.models import HistoryEntry
from tests.firing import recorded
from tests.firing.pages import address, assert_doors, text_of
from tests.make import NOW

pytestmark = pytest.mark.django_db
DAY_AFTER = dt.date(2026, 1, 3)
WEEK = dt.timedelta(days=7)


@pytest.fixture(autouse=True)
def _nothing_is_kept_from_other_tests():
    cache.clear()


def enter(browser, kiln, **changes):
    typed = {"part": "elements", "changed_on": "2026-01-02", "note": "both sides"}
    return browser.post(address("kiln_change_new", kiln.pk), typed | changes)


def page_of(browser, kiln):
    return text_of(browser.get(address("kiln_detail", kiln.pk)))


def test_a_change_is_kept_and_removed(cast, signed_in):
    browser = signed_in()
    assert enter(browser, cast.kiln).status_code == 302
    assert "Elements changed" in page_of(browser, cast.kiln)
    kept = KilnChange.owned.for_studio(cast.studio).get()
    browser.post(address("kiln_change_remove", kept.pk))
    assert not KilnChange.across_studios.exists()
    assert "Nothing changed yet" in page_of(browser, cast.kiln)


def test_a_day_to_come_is_refused(cast, signed_in):
    answer = enter(signed_in(), cast.kiln, changed_on="2199-01-01")
    assert "That day is to come" in answer.content.decode()
    assert "both sides" in answer.content.decode()
    assert not KilnChange.across_studios.exists()


def test_lost_power_is_called_out_until_the_elements_are_changed(cast, signed_in):
    for week in range(8):
        power = 1.0 if week < 4 else 0.9
        recorded.finished(
            kiln=cast.kiln,
            glass=cast.glass,
            starts_at=NOW + week * WEEK,
            model=recorded.true_kiln(
                cast.kiln, holding_fraction=recorded.TRUE_HOLDING / power
            ),
        )
    browser = signed_in()
    page = page_of(browser, cast.kiln)
    assert "Heats 10 % slower than in" in page
    assert "(last 4 firings against 4): elements?" in page
    assert "licensed electrician" in page
    assert "Cools" not in page
    day = (NOW + 4 * WEEK - dt.timedelta(days=1)).date()
    enter(browser, cast.kiln, changed_on=day.isoformat())
    assert "slower than in" not in page_of(browser, cast.kiln)


def test_doors(client, signed_in, strangers, cast):
    common = {"client": client, "signed_in": signed_in, "strangers": strangers}
    managers = ("owner", "technician")
    assert_doors(url=address("kiln_change_new", cast.kiln.pk), roles=managers, **common)
    enter(signed_in(), cast.kiln)
    kept = KilnChange.owned.for_studio(cast.studio).get()
    assert_doors(
        url=address("kiln_change_remove", kept.pk), roles=managers, post=True, **common
    )


def test_a_change_is_corrected_in_place(cast, signed_in):
    browser = signed_in()
    enter(browser, cast.kiln)
    kept = KilnChange.owned.for_studio(cast.studio).get()
    url = address("kiln_change_edit", kept.pk)
    assert "licensed electrician" in text_of(browser.get(url))
    typed = {"part": "relay", "changed_on": "2026-01-03", "note": "left"}
    assert "It is corrected in the kiln book." in text_of(
        browser.post(url, typed, follow=True)
    )
    kept.refresh_from_db()
    assert (kept.part, kept.changed_on, kept.note) == ("relay", DAY_AFTER, "left")
    told = HistoryEntry.owned.for_studio(cast.studio).order_by("pk").last()
    assert told.what.endswith(
        "Relay changed on 3 Jan 2026, before Elements changed on 2 Jan 2026"
    )


class TestUpkeep:
    def rule(self, browser, kiln, **changes):
        typed = {
            "what": "New kiln wash",
            "every": 3,
            "counted": "firings",
            "since": NOW.date().isoformat(),
        }
        return browser.post(
            address("upkeep_new", kiln.pk), typed | changes, follow=True
        )

    def fired(self, cast, times):
        for week in range(1, times + 1):
            recorded.finished(
                kiln=cast.kiln,
                glass=cast.glass,
                starts_at=NOW + week * WEEK,
                model=recorded.true_kiln(cast.kiln),
            )

    @pytest.mark.parametrize("counted", ["firings", "hours"])
    def test_comes_on_today_once_it_is_due_and_goes_when_it_is_done(
        self, cast, signed_in, counted
    ):
        browser = signed_in()
        self.rule(browser, cast.kiln, counted=counted)
        today = f"New kiln wash: {cast.kiln}"
        assert today not in text_of(browser.get("/"))
        self.fired(cast, 3)
        page = page_of(browser, cast.kiln)
        assert "Due" in page
        assert "3 firings, " in page
        assert today in text_of(browser.get("/"))
        assert today not in text_of(signed_in("helper").get("/"))
        rule = KilnUpkeep.owned.for_studio(cast.studio).get()
        for _ in range(2):
            browser.post(address("upkeep_done", rule.pk))
        assert rule.done.count() == 1
        assert today not in text_of(browser.get("/"))
        assert "New kiln wash" in page_of(browser, cast.kiln)

    def test_by_months_it_is_due_on_the_day_of_the_month(self, cast):
        rule = keep_upkeep(
            kiln=cast.kiln,
            what="Compare the thermocouple",
            every=2,
            counted="months",
            since=dt.date(2025, 12, 31),
            by=None,
            at=NOW,
        )
        for day, is_due in (
            (dt.datetime(2026, 2, 28, 12, tzinfo=dt.UTC), False),
            (dt.datetime(2026, 3, 1, 12, tzinfo=dt.UTC), True),
        ):
            (row,) = upkeep_rows(cast.studio, [rule], now=day)
            assert row.is_due == is_due
            assert row.words.endswith("of 2 months since 31 Dec 2025")

    def test_the_day_it_was_done_is_corrected_and_it_stays_no_part(
        self, cast, signed_in
    ):
        browser = signed_in()
        self.rule(browser, cast.kiln)
        rule = KilnUpkeep.owned.for_studio(cast.studio).get()
        browser.post(address("upkeep_done", rule.pk))
        done = rule.done.get()
        url = address("kiln_change_edit", done.pk)
        form = browser.get(url)
        assert "Correct: New kiln wash" in text_of(form)
        assert "Elements" not in text_of(form)
        browser.post(url, {"changed_on": "2026-01-03", "note": "two coats"})
        done.refresh_from_db()
        assert (done.changed_on, done.note) == (DAY_AFTER, "two coats")
        assert (done.upkeep, done.part) == (rule, "other")
        assert "Something else" not in page_of(browser, cast.kiln)

    def test_no_longer_asked_for_what_was_done_keeps_its_words(self, cast, signed_in):
        browser = signed_in()
        self.rule(browser, cast.kiln)
        rule = KilnUpkeep.owned.for_studio(cast.studio).get()
        browser.post(address("upkeep_done", rule.pk))
        browser.post(address("upkeep_remove", rule.pk))
        assert not KilnUpkeep.across_studios.exists()
        page = page_of(browser, cast.kiln)
        assert "New kiln wash" in page
        assert "Something else" not in page
        assert "Stop asking" not in page

    @pytest.mark.parametrize(
        ("changed", "told"),
        [
            ({"what": ""}, "Fill this in."),
            ({"every": "0"}, "Write 1 or more."),
            ({"every": "often"}, "Write a whole number."),
            ({"counted": "moons"}, "not one of the available choices"),
            ({"since": "2199-01-01"}, "That day is to come"),
        ],
    )
    def test_nonsense_is_named(self, cast, signed_in, changed, told):
        answer = self.rule(signed_in(), cast.kiln, **changed)
        assert answer.status_code == 422
        assert told in text_of(answer)
        assert not KilnUpkeep.across_studios.exists()
