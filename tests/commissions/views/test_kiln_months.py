"""The page of shared kilns: who used what, invoices in one go, and nonsense."""

import datetime as dt
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from commissions.models import Invoice
from commissions.selectors.kiln_months import month_of, next_month
from firing.kiln_time.services.bookings import record_rented
from firing.models import Booking
from studio.models import KilnUser
from tests.commissions.services.test_kiln_invoices import maker, rates, rented
from tests.firing import build as heat

HOUR = dt.timedelta(hours=1)


def url(name="kiln_use", *args):
    return reverse(f"commissions:{name}", args=args)


def text(response):
    return response.content.decode()


@pytest.fixture
def last_month(cast):
    return next_month(month_of(cast.studio, timezone.now()), -1)


def bowls(cast, user, month, *, hours=10):
    booking = heat.booking(
        kiln=cast.kiln,
        starts_at=dt.datetime.combine(month.replace(day=9), dt.time(9), dt.UTC),
        hours=hours,
        title="Bowls",
    )
    record_rented(
        booking=booking,
        kiln_user=user,
        used_hours=None,
        used_kwh=None,
        by=None,
        at=booking.ends_at,
    )
    return booking


def test_the_month_shows_hours_and_money_and_is_invoiced_in_one_go(
    cast, signed_in, last_month
):
    rates(cast, guest=Decimal(4))
    user = maker(cast)
    bowls(cast, user, last_month)
    browser, month = signed_in(), f"{last_month:%Y-%m}"
    page = text(browser.get(url(), {"month": month}))
    assert "Marl Row" in page
    assert "$40.00" in page
    assert "Issue 1 invoice, $40.00" in page
    assert "not invoiced yet: 1 maker." in text(browser.get(url("money_list")))
    done = browser.post(url("kiln_use_invoice"), {"month": month}, follow=True)
    assert "not invoiced yet" not in text(browser.get(url("money_list")))
    made = Invoice.owned.for_studio(cast.studio).get()
    assert "1 invoice issued" in text(done)
    assert made.number in text(done)
    assert "Issue 1 invoice" not in text(done)
    again = browser.post(url("kiln_use_invoice"), {"month": month}, follow=True)
    assert "left to invoice" in text(again)
    assert Invoice.owned.for_studio(cast.studio).count() == 1


def test_the_month_under_way_has_no_button(cast, signed_in):
    rates(cast, guest=Decimal(4))
    user = maker(cast)
    now = timezone.now()
    booking = heat.booking(kiln=cast.kiln, starts_at=now - 2 * HOUR, hours=1)
    Booking.across_studios.filter(pk=booking.pk).update(kiln_user=user)
    page = text(signed_in().get(url()))
    assert "so far" in page
    assert "Issue" not in page


def test_rented_time_without_a_name_leads_to_where_it_is_given_one(
    cast, signed_in, last_month
):
    user = maker(cast)
    booking = bowls(cast, None, last_month)
    browser = signed_in()
    page = text(browser.get(url(), {"month": f"{last_month:%Y-%m}"}))
    address = reverse("firing:booking_used", args=[booking.pk])
    assert "Whose was this?" in page
    assert address in page
    sent = {"kiln_user": user.pk, "used_hours": "7.5", "used_kwh": "12"}
    browser.post(address, sent)
    booking.refresh_from_db()
    assert (booking.kiln_user, booking.used_hours, booking.used_kwh) == (user, 7.5, 12)


@pytest.mark.parametrize(
    ("sent", "told"),
    [
        ({"used_hours": "11"}, "The kiln was held for 10 h"),
        ({"used_hours": "-1"}, "Write 0 or more"),
        ({"used_hours": "1e400"}, "Write a number"),
        ({"used_kwh": "NaN"}, "Write a number"),
        ({"kiln_user": "999999"}, "Select a valid choice"),
    ],
)
def test_wrong_use_of_a_rented_kiln_is_told_and_stays_typed(
    cast, signed_in, last_month, sent, told
):
    maker(cast)
    booking = bowls(cast, None, last_month)
    page = signed_in().post(reverse("firing:booking_used", args=[booking.pk]), sent)
    assert page.status_code in {409, 422}
    assert told in text(page)
    assert next(iter(sent.values())) in text(page) or "kiln_user" in sent


@pytest.mark.parametrize("month", ["", "2026-13", "x" * 5000, "9999-12", "2026-1"])
def test_a_month_that_is_none_shows_this_one_and_invoices_nothing(
    cast, signed_in, month
):
    browser = signed_in()
    assert browser.get(url(), {"month": month}).status_code == 200
    done = browser.post(url("kiln_use_invoice"), {"month": month}, follow=True)
    assert "Choose the month to invoice" in text(done)


def test_a_month_to_come_shows_this_one(cast, signed_in):
    page = signed_in().get(url(), {"month": "2099-01"})
    assert f"{timezone.now():%Y}" in text(page)
    assert "2099" not in text(page)


def test_a_kiln_user_is_added_and_changed(cast, signed_in):
    browser = signed_in("maker")
    sent = {"name": "Marl Row", "terms": "member", "free_hours": "6"}
    browser.post(url("kiln_user_new"), sent)
    user = KilnUser.owned.for_studio(cast.studio).get()
    assert (user.terms, user.free_hours) == ("member", Decimal(6))
    sent |= {"terms": "guest", "free_hours": "", "client": user.client.pk}
    browser.post(url("kiln_user_edit", user.pk), sent)
    user.refresh_from_db()
    assert (user.terms, user.free_hours) == ("guest", Decimal(0))
    again = browser.post(url("kiln_user_new"), sent)
    assert again.status_code == 409
    assert "Choose another name" in text(again)


@pytest.mark.parametrize("hours", ["-1", "745", "1e9", "NaN", "🔥", "1.234"])
def test_free_hours_that_no_month_has_are_refused(signed_in, hours):
    sent = {"name": "Marl Row", "terms": "guest", "free_hours": hours}
    page = signed_in().post(url("kiln_user_new"), sent)
    assert page.status_code == 422
    assert hours in text(page)
    assert not KilnUser.across_studios.exists()


def test_rates_are_the_owners_and_empty_is_the_kilns_price(cast, signed_in):
    key = cast.kiln.pk
    sent = {f"member_{key}": "2.5", f"guest_{key}": ""}
    assert signed_in("maker").post(url("kiln_rates"), sent).status_code == 403
    signed_in().post(url("kiln_rates"), sent)
    cast.kiln.refresh_from_db()
    assert (cast.kiln.member_rate, cast.kiln.guest_rate) == (Decimal("2.5"), None)
    bad = signed_in().post(url("kiln_rates"), sent | {f"guest_{key}": "-3"})
    assert bad.status_code == 422


def test_other_studios_kiln_users_are_not_there(cast, strangers, signed_in):
    user = maker(cast)
    browser = signed_in("owner", strangers)
    assert "Marl Row" not in text(browser.get(url()))
    assert browser.get(url("kiln_user_edit", user.pk)).status_code == 404
    sent = {"month": "2026-03", "user": user.pk}
    assert browser.post(url("kiln_use_invoice"), sent).status_code == 404


def test_a_bench_role_sees_whose_work_it_is_but_no_money(cast, signed_in):
    user = maker(cast)
    rented(cast, user)
    helper = signed_in("helper")
    assert helper.get(url()).status_code == 403
    booking = Booking.owned.for_studio(cast.studio).get()
    page = text(helper.get(reverse("firing:booking_detail", args=[booking.pk])))
    assert "Marl Row" in page
    assert "$" not in page


def test_a_kiln_user_is_always_invoiced_to_somebody(cast, signed_in):
    user = maker(cast)
    address = url("kiln_user_edit", user.pk)
    assert "A new client of this name" not in text(signed_in().get(address))
    sent = {"name": "Marl Row", "terms": "guest", "client": ""}
    page = signed_in().post(address, sent)
    assert page.status_code == 422
    assert "Choose one." in text(page)
