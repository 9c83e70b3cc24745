"""The page of one's own hours, and of a member's."""

import datetime as dt

import pytest
from django.utils import timezone

from studio.models import BenchHours, BenchTerms, DaysAway
from tests import make
from tests.studio.views.pages import ROLES, address, statuses, text_of

EVENINGS = {
    "do": "add_hours",
    "hours-weekdays": ["0", "2"],
    "hours-starts": "17:00",
    "hours-ends": "20:00",
}


def later(days):
    return (
        timezone.localdate(timezone=make.ZONE) + dt.timedelta(days=days)
    ).isoformat()


def days_away(first=10, last=12, **changes):
    return {
        "do": "add_away",
        "away-starts_date": later(first),
        "away-ends_date": later(last) if last is not None else "",
        "away-reason": "sick",
        "away-note": "Broken wrist",
    } | changes


def test_everybody_sees_their_own_page(signed_in):
    assert statuses(signed_in, address("my_hours")) == dict.fromkeys(ROLES, 200)


@pytest.mark.parametrize("role", ROLES)
def test_everybody_sets_their_own_hours_and_days_away(signed_in, cast, role):
    browser = signed_in(role)
    assert browser.post(address("my_hours"), EVENINGS).status_code == 302
    assert browser.post(address("my_hours"), days_away()).status_code == 302
    limit = {"do": "limit", "limit-hours_a_week": "9"}
    assert browser.post(address("my_hours"), limit).status_code == 302
    page = text_of(browser.get(address("my_hours")))
    assert "Wednesday 17:00–20:00" in page
    assert "Together 6 h a week, of which at most 9 h count" in page
    assert "Sick: Broken wrist" in page
    member = cast.membership(role)
    assert BenchHours.across_studios.filter(membership=member).count() == 2
    (away,) = DaysAway.across_studios.filter(membership=member)
    assert (away.ends_date - away.starts_date).days == 2


def test_rows_are_removed(signed_in, cast):
    browser = signed_in("helper")
    browser.post(address("my_hours"), EVENINGS)
    browser.post(address("my_hours"), days_away(last=None))
    for do, model in (("remove_hours", BenchHours), ("remove_away", DaysAway)):
        for row in model.across_studios.all():
            answer = browser.post(address("my_hours"), {"do": do, "row": row.pk})
            assert answer.status_code == 302
        assert not model.across_studios.exists()


@pytest.mark.parametrize(
    ("body", "status", "told", "kept"),
    [
        (
            EVENINGS | {"hours-starts": "20:00", "hours-ends": "02:00"},
            409,
            "For a night, add two spans",
            'value="02:00"',
        ),
        (
            EVENINGS | {"hours-weekdays": []},
            422,
            "Tick at least one day",
            'value="17:00"',
        ),
        (EVENINGS | {"hours-ends": "noon"}, 422, "Write a time of day", "noon"),
        (
            {"do": "limit", "limit-hours_a_week": "lots"},
            422,
            "Write a whole number of hours",
            "lots",
        ),
        ({"do": "limit", "limit-hours_a_week": "900"}, 422, "168", "900"),
        (days_away(12, 10), 409, "last day is before the first", "Broken wrist"),
        (days_away(-9, -8), 422, "That is over", "Broken wrist"),
        (
            days_away(**{"away-starts_date": "31 Feb"}),
            422,
            "Write a day, such as",
            "31 Feb",
        ),
        (
            days_away(**{"away-note": "x" * 161}),
            422,
            "at most 160 characters",
            "x" * 161,
        ),
    ],
)
def test_errors_say_what_to_do_and_keep_what_was_typed(
    signed_in, body, status, told, kept
):
    answer = signed_in("helper").post(address("my_hours"), body)
    page = text_of(answer)
    assert answer.status_code == status
    assert told in page
    assert kept in page
    assert not BenchHours.across_studios.exists()
    assert not DaysAway.across_studios.exists()


@pytest.mark.parametrize("body", [{}, {"do": "fly"}, {"do": "remove_hours"}])
def test_nonsense_is_not_found(signed_in, body):
    assert signed_in("maker").post(address("my_hours"), body).status_code == 404


def test_only_those_who_plan_set_the_hours_of_others(signed_in, cast):
    url = address("member_hours", cast.membership("helper").pk)
    expected = {"owner": 200, "maker": 200, "helper": 403, "technician": 403}
    assert statuses(signed_in, url) == expected
    expected |= {"owner": 302, "maker": 409}  # by then the same hours are there
    assert statuses(signed_in, url, post=EVENINGS) == expected
    (row, _) = BenchHours.across_studios.order_by("weekday")
    assert row.membership.person == cast.helper


def test_another_studio_s_member_is_not_there(signed_in, strangers):
    url = address("member_hours", strangers.membership("helper").pk)
    assert signed_in("owner").get(url).status_code == 404
    assert signed_in("owner").post(url, EVENINGS).status_code == 404


def test_a_foreign_row_is_not_removed(signed_in, strangers):
    signed_in("helper", strangers).post(address("my_hours"), EVENINGS)
    row = BenchHours.across_studios.first()
    signed_in("owner").post(address("my_hours"), {"do": "remove_hours", "row": row.pk})
    assert BenchHours.across_studios.count() == 2


SKILLS = {
    "do": "skills",
    "skills-follows": "own",
    "skills-skills": ["paint", "assemble"],
}


def test_those_who_plan_set_skills_and_helpers_do_not(signed_in, cast):
    url = address("member_hours", cast.membership("helper").pk)
    assert "Can do cold work, by their part" in text_of(signed_in("maker").get(url))
    assert signed_in("maker").post(url, SKILLS).status_code == 302
    assert "Can paint and stack" in text_of(signed_in("owner").get(url))
    assert signed_in("helper").post(address("my_hours"), SKILLS).status_code == 404
    assert 'value="skills"' not in text_of(signed_in("helper").get(address("my_hours")))
    assert BenchTerms.across_studios.get().can_coldwork is False


def test_the_settings_lead_there(signed_in, cast):
    page = text_of(signed_in("helper").get(address("settings")))
    assert address("my_hours") in page
    member = address("member_hours", cast.membership("maker").pk)
    assert member not in page
    assert member in text_of(signed_in("maker").get(address("settings")))
