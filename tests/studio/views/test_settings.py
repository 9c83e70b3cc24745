"""Settings: one's units, the studio, people, kilns, hours, closures, history."""

import datetime as dt

import pytest

from studio.models import (
    AccessHours,
    Closure,
    HistoryEntry,
    Kiln,
    Membership,
)
from studio.services import history
from tests import make
from tests.studio.views.pages import (
    ROLES,
    address,
    assert_asks_to_sign_in,
    statuses,
    text_of,
)


def settings_page(browser):
    return text_of(browser.get(address("settings")))


# --- The page -------------------------------------------------------------------------

CHANGES = {
    "studio_edit": {"owner"},
    "currency_edit": {"owner"},
    "invitation_new": {"owner"},
    "kiln_new": {"owner", "technician"},
    "access_add": {"owner", "technician"},
    "closure_add": {"owner", "technician"},
}


@pytest.mark.parametrize("role", ROLES)
def test_settings_offer_what_the_role_may_change(signed_in, cast, role):
    page = settings_page(signed_in(role))
    offered = {name for name in CHANGES if f'href="{address(name)}"' in page}
    assert offered == {name for name, roles in CHANGES.items() if role in roles}
    assert cast.kiln.name in page
    assert "Monday 08:00–20:00" in page
    # Addresses of the others are for the owner.
    assert (cast.technician.email in page) == (role in {"owner", "technician"})


def test_another_studios_things_are_not_there(signed_in, cast, strangers):
    page = settings_page(signed_in("owner", strangers))
    for name in (cast.kiln.name + "<", str(cast.maker), cast.studio.name):
        assert name not in page


@pytest.mark.parametrize("name", [*CHANGES, "settings", "history"])
def test_who_may_open_what(signed_in, client, name):
    roles = CHANGES.get(name, set(ROLES))
    url = address(name)
    assert statuses(signed_in, url) == {
        role: 200 if role in roles else 403 for role in ROLES
    }
    assert_asks_to_sign_in(client, url)
    if name in CHANGES:
        assert signed_in("helper").post(url, {}).status_code == 403
        assert_asks_to_sign_in(client, url, post={})


# --- Units ----------------------------------------------------------------------------


def test_everybody_chooses_their_own_units(signed_in, cast):
    browser = signed_in("helper")
    assert "°F" in text_of(browser.get(address("stock")))
    answer = browser.post(
        address("my_units"), {"temperature_unit": "C", "length_unit": "mm"}
    )
    assert answer["Location"] == address("settings")
    assert "900 °F" not in text_of(browser.get(address("stock")))
    assert "482 °C" in text_of(browser.get(address("stock")))
    assert "900 °F" in text_of(signed_in("owner").get(address("stock")))


def test_units_that_do_not_exist_are_refused(signed_in, cast, client):
    url = address("my_units")
    answer = signed_in("helper").post(
        url, {"temperature_unit": "K", "length_unit": "mm"}
    )
    assert answer.status_code == 422
    assert "K is not one of the available choices" in text_of(answer)
    assert cast.membership("helper").length_unit == "in"
    assert_asks_to_sign_in(client, url, post={})


# --- The studio -----------------------------------------------------------------------

DETAILS = {
    "name": "Gullmarsh Kiln Studio",
    "address": "2 Slipway",
    "email": "kiln@example.org",
    "time_zone": "Europe/Lisbon",
    "temperature_unit": "C",
    "length_unit": "mm",
    "paper_size": "A4",
}


def test_the_owner_changes_the_studios_details(signed_in, cast):
    answer = signed_in().post(address("studio_edit"), DETAILS)
    assert answer["Location"] == address("settings")
    cast.studio.refresh_from_db()
    assert (cast.studio.name, cast.studio.currency) == ("Gullmarsh Kiln Studio", "USD")
    assert cast.studio.paper_size == "A4"
    assert "kiln@example.org" in text_of(signed_in().get(address("settings")))
    line = HistoryEntry.across_studios.get()
    assert line.what.startswith("Changed studio Gullmarsh Kiln Studio: name, address,")


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"name": ""}, "Fill this in"),
        ({"time_zone": "Atlantis/Main"}, "no time zone. Write one such as"),
        ({"length_unit": "furlong"}, "not one of the available choices"),
    ],
)
def test_wrong_details_stay_typed_and_change_nothing(signed_in, cast, changes, told):
    answer = signed_in().post(address("studio_edit"), DETAILS | changes)
    page = text_of(answer)
    assert answer.status_code == 422
    assert told in page
    assert "2 Slipway" in page
    # The masthead goes on showing the studio that is.
    assert "<summary>Gullmarsh</summary>" in page
    cast.studio.refresh_from_db()
    assert cast.studio.name == "Gullmarsh"


# --- People ---------------------------------------------------------------------------


def test_a_part_is_changed_and_the_last_owner_kept(signed_in, cast):
    helper = address("member_edit", cast.membership("helper").pk)
    browser = signed_in()
    assert '<option value="helper" selected>' in text_of(browser.get(helper))
    browser.post(helper, {"role": "maker", "is_active": "on"})
    assert Membership.across_studios.get(person=cast.helper).role == "maker"
    browser.post(helper, {"role": "maker"})
    assert not Membership.across_studios.get(person=cast.helper).is_active
    assert "may not sign in" in settings_page(browser)
    owner = address("member_edit", cast.membership("owner").pk)
    answer = browser.post(owner, {"role": "maker", "is_active": "on"})
    assert answer.status_code == 409
    assert "is the only owner" in text_of(answer)
    assert browser.post(owner, {"role": "x"}).status_code == 422


def test_a_link_for_a_forgotten_password_is_shown_once(signed_in, cast, strangers):
    member = cast.membership("helper")
    url = address("member_password", member.pk)
    browser = signed_in()
    answer = browser.post(url)
    assert 'value="http://testserver/password/new/' in text_of(answer)
    assert "no-store" in answer["Cache-Control"]
    assert "/password/new/" not in settings_page(browser)
    Membership.across_studios.create(
        studio=strangers.studio, person=cast.helper, role="helper"
    )
    answer = browser.post(url)
    assert answer.status_code == 409
    assert "Only whoever runs the server" in text_of(answer)
    assert browser.get(url).status_code == 405
    own = address("member_edit", cast.membership("owner").pk)
    assert "Password forgotten?" not in text_of(browser.get(own))


def test_where_mail_is_set_the_owner_never_sees_the_link(
    signed_in, cast, settings, wake_ups
):
    settings.MAIL_IS_SET = True
    url = address("member_password", cast.membership("helper").pk)
    page = text_of(signed_in().post(url, follow=True))
    assert f"A link is on its way to {cast.helper.email}" in page
    assert "/password/new/" not in page


def test_home_is_chosen_among_ones_own_studios(signed_in, cast, strangers):
    Membership.across_studios.create(
        studio=strangers.studio, person=cast.maker, role="helper"
    )
    browser = signed_in("maker")
    assert "Maker, where you start" in settings_page(browser)
    answer = browser.post(address("studio_home"), {"studio": strangers.studio.pk})
    assert answer.status_code == 302
    assert "<summary>Fernhaven</summary>" in settings_page(signed_in("maker"))
    for asked in ("", "x", cast.studio.pk):
        wrong = signed_in("owner", strangers).post(
            address("studio_home"), {"studio": asked}
        )
        assert wrong.status_code == 404
    strangers.owner.refresh_from_db()
    assert strangers.owner.home is None


def test_only_the_owner_of_this_studio_touches_its_people(
    signed_in, client, cast, strangers
):
    member = cast.membership("helper")
    for name in ("member_edit", "member_password"):
        url = address(name, member.pk)
        sent = {"role": "owner", "is_active": "on"}
        for role in ("maker", "helper", "technician"):
            assert signed_in(role).post(url, sent).status_code == 403
        assert signed_in("owner", strangers).post(url, sent).status_code == 404
        assert_asks_to_sign_in(client, url, post=sent)
    assert cast.membership("helper").role == "helper"


# --- Kilns ----------------------------------------------------------------------------

KILN = {
    "name": "Big bell",
    "inner_width_mm": "24",
    "inner_depth_mm": "24",
    "inner_height_mm": "12 in",
    "shelf_width_mm": "22",
    "shelf_depth_mm": "560 mm",
    "max_temperature_c": "1700",
    "opening_temperature_c": "120",
    "power_kw": "11.5",
    "holding_per_cent": "45",
    "cooling_time_constant_s": "6 h",
    "controller_unit": "F",
    "rate_step": "1.0",
    "controller_segments": "16",
    "slowest_rate_c_per_h": "2",
    "fastest_rate_c_per_h": "1800",
    "hourly_rate": "3.25",
}


def test_a_kiln_is_added_in_the_readers_units(signed_in, cast):
    assert signed_in().post(address("kiln_new"), KILN).status_code == 302
    kiln = Kiln.owned.for_studio(cast.studio).get(name="Big bell")
    assert kiln.inner_width_mm == pytest.approx(609.6)
    assert kiln.shelf_depth_mm == 560
    assert kiln.opening_temperature_c == pytest.approx(48.8889, abs=1e-4)
    assert kiln.power_w == 11_500
    assert kiln.holding_fraction == 0.45
    assert kiln.cooling_time_constant_s == 21_600
    assert kiln.fastest_rate_c_per_h == pytest.approx(1000)
    assert str(kiln.hourly_rate) == "3.2500"
    assert "Added kiln Big bell" in HistoryEntry.across_studios.get().what


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"name": "TAKEN"}, "has a kiln of that name"),
        ({"shelf_width_mm": "25"}, "wider or deeper than the kiln inside"),
        ({"opening_temperature_c": "20 C"}, "must be from 30 °C (86 °F)"),
        ({"opening_temperature_c": "1750"}, "below the highest temperature"),
        ({"slowest_rate_c_per_h": "1900"}, "the slowest rate below the fastest"),
        ({"power_kw": "0"}, "Write 0.1 or more"),
        ({"power_kw": "nan"}, "Write a number"),
        ({"holding_per_cent": "101"}, "Write 100 or less"),
        ({"inner_height_mm": "tall"}, "Write a length such as"),
        ({"max_temperature_c": "hot"}, "Write a temperature such as"),
        ({"slowest_rate_c_per_h": "slow"}, "Write a rate"),
        ({"cooling_time_constant_s": "long"}, "Write a time such as"),
        ({"hourly_rate": "-1"}, "must be above zero"),
        ({"hourly_rate": "1e30"}, "Write at most"),
        ({"controller_segments": "-1"}, "Write 0 or more"),
    ],
)
def test_a_kiln_filled_in_wrongly_is_told_and_stays_typed(
    signed_in, cast, changes, told
):
    if changes.get("name") == "TAKEN":
        changes = {"name": cast.kiln.name}
    answer = signed_in().post(address("kiln_new"), KILN | changes)
    page = text_of(answer)
    assert answer.status_code == 422
    assert told in page
    (value,) = changes.values()
    assert f'value="{value}"' in page
    assert 'value="560 mm"' in page
    assert Kiln.owned.for_studio(cast.studio).count() == 1


def edited(browser, kiln, **changes):
    """Open the kiln's form and send it back with some fields changed."""
    form = browser.get(address("kiln_edit", kiln.pk)).context["form"]
    sent = {field.html_name: field.value() for field in form}
    sent = {
        name: value
        for name, value in sent.items()
        if value is not None and value is not False
    }
    return browser.post(address("kiln_edit", kiln.pk), sent | changes)


def test_saving_a_kiln_unchanged_changes_nothing_at_all(signed_in, cast):
    before = Kiln.across_studios.filter(pk=cast.kiln.pk).values().get()
    assert edited(signed_in(), cast.kiln).status_code == 302
    assert Kiln.across_studios.filter(pk=cast.kiln.pk).values().get() == before
    assert not HistoryEntry.across_studios.exists()


def test_a_technician_changes_a_kiln_and_never_meets_its_price(signed_in, cast):
    browser = signed_in("technician")
    page = text_of(browser.get(address("kiln_edit", cast.kiln.pk)))
    assert "hourly_rate" not in page
    assert "2.50" not in page
    answer = edited(browser, cast.kiln, power_kw="8", hourly_rate="0")
    assert answer.status_code == 302
    cast.kiln.refresh_from_db()
    assert cast.kiln.power_w == 8000
    assert str(cast.kiln.hourly_rate) == "2.5000"
    assert HistoryEntry.across_studios.get().what.endswith(": power (kw)")
    # The rules still hold for what this form does not show.
    wrong = edited(browser, cast.kiln, shelf_width_mm="700 mm")
    assert wrong.status_code == 422


def test_a_kiln_out_of_use_stays_listed(signed_in, cast):
    edited(signed_in(), cast.kiln, is_retired="on")
    assert "out of use" in settings_page(signed_in())


def test_who_may_change_a_kiln(signed_in, client, cast, strangers):
    url = address("kiln_edit", cast.kiln.pk)
    assert statuses(signed_in, url) == {
        "owner": 200,
        "maker": 403,
        "helper": 403,
        "technician": 200,
    }
    assert signed_in("owner", strangers).post(url, KILN).status_code == 404
    assert_asks_to_sign_in(client, url)


# --- Hours and closures ---------------------------------------------------------------


def test_hours_are_added_and_removed(signed_in, cast):
    AccessHours.across_studios.all().delete()
    browser = signed_in("technician")
    browser.post(
        address("access_add"),
        {"weekdays": ["0", "1"], "opens": "09:00", "closes": "17:00"},
    )
    assert "Tuesday 09:00–17:00" in settings_page(browser)
    for span in AccessHours.across_studios.all():
        assert browser.post(address("access_remove", span.pk)).status_code == 302
    assert "No hours yet" in settings_page(browser)


@pytest.mark.parametrize(
    ("sent", "status", "told"),
    [
        ({"opens": "09:00", "closes": "17:00"}, 422, "Tick at least one day"),
        ({"weekdays": "9", "opens": "09:00", "closes": "17:00"}, 422, "not one of"),
        (
            {"weekdays": "0", "opens": "early", "closes": "17:00"},
            422,
            "Write a time of day",
        ),
        ({"weekdays": "0", "opens": "21:00", "closes": "20:30"}, 409, "must end after"),
        ({"weekdays": "0", "opens": "09:00", "closes": "17:00"}, 409, "Overlaps with"),
    ],
)
def test_hours_filled_in_wrongly(signed_in, sent, status, told):
    answer = signed_in().post(address("access_add"), sent)
    assert answer.status_code == status
    assert told in text_of(answer)
    assert f'value="{sent["opens"]}"' in text_of(answer)


CLOSED = {
    "kiln": "",
    "starts_at": "2126-07-01T08:00",
    "ends_at": "2126-07-08T08:00",
    "reason": "Holiday",
}


def test_a_closure_is_in_the_studios_own_time(signed_in, cast):
    browser = signed_in()
    assert browser.post(address("closure_add"), CLOSED).status_code == 302
    closure = Closure.owned.for_studio(cast.studio).get()
    assert closure.starts_at == dt.datetime(2126, 7, 1, 12, tzinfo=dt.UTC)
    assert closure.kiln is None
    assert "Holiday" in settings_page(browser)
    assert browser.post(address("closure_remove", closure.pk)).status_code == 302
    assert "No closures ahead" in settings_page(browser)


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"ends_at": "2126-07-01T08:00"}, "The end must be after the start"),
        (
            {"starts_at": "2001-01-01T00:00", "ends_at": "2001-01-02T00:00"},
            "That is past",
        ),
        ({"starts_at": "soon"}, "Write a day and a time"),
        ({"reason": ""}, "Fill this in"),
        ({"kiln": "THEIRS"}, "not one of the available choices"),
    ],
)
def test_a_closure_filled_in_wrongly(signed_in, strangers, changes, told):
    if changes.get("kiln"):
        changes = {"kiln": strangers.kiln.pk}
    answer = signed_in().post(address("closure_add"), CLOSED | changes)
    assert answer.status_code == 422
    assert told in text_of(answer)
    assert not Closure.across_studios.exists()


def test_who_may_remove_hours_and_closures(signed_in, client, cast, strangers):
    closure = Closure.across_studios.create(
        studio=cast.studio,
        starts_at=make.NOW,
        ends_at=make.NOW + dt.timedelta(days=1),
        reason="Repair",
    )
    span = AccessHours.owned.for_studio(cast.studio).first()
    for name, record in (("access_remove", span), ("closure_remove", closure)):
        url = address(name, record.pk)
        for role in ("maker", "helper"):
            assert signed_in(role).post(url).status_code == 403
        assert signed_in("owner", strangers).post(url).status_code == 404
        assert signed_in().get(url).status_code == 405
        assert_asks_to_sign_in(client, url, post={})
    assert AccessHours.owned.for_studio(cast.studio).count() == 7
    assert Closure.owned.for_studio(cast.studio).exists()


# --- History --------------------------------------------------------------------------


def test_history_is_paged_and_can_be_of_one_piece(signed_in, cast, strangers):
    piece = make.piece(studio=cast.studio, glass=cast.glass, by=cast.maker)
    for number in range(60):
        history.record(
            studio=cast.studio,
            by=cast.helper,
            at=make.NOW + dt.timedelta(minutes=number),
            what=f"Swept the floor {number}.",
        )
    browser = signed_in("helper")
    first = text_of(browser.get(address("history")))
    assert "Swept the floor 59." in first
    assert "Swept the floor 3." not in first
    assert "Page 1 of 2" in first
    second = text_of(browser.get(address("history"), {"page": "2"}))
    assert "Swept the floor 3." in second
    one = text_of(browser.get(address("history"), {"piece": piece.pk}))
    assert "Planned Low water" in one
    assert "Swept" not in one
    for nonsense in ("x", "9" * 30, "-1", "٣"):
        answer = browser.get(address("history"), {"piece": nonsense})
        assert answer.status_code == 200
    theirs = text_of(
        signed_in("owner", strangers).get(address("history"), {"piece": piece.pk})
    )
    assert "Low water" not in theirs
    assert "Nothing has happened yet" in theirs
