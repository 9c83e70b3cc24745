"""A month of shared kilns is invoiced in one go, each maker once."""

import datetime as dt
from decimal import Decimal

import pytest

from commissions.models import Client, Invoice, InvoiceKind
from commissions.selectors.kiln_months import kiln_month, month_of, next_month
from commissions.services.credit_notes import make_credit_note
from commissions.services.invoices import issue_invoice
from commissions.services.kiln_invoices import invoice_kiln_month
from commissions.services.kiln_users import save_kiln_user, set_kiln_rates
from firing.kiln_time.services.bookings import record_rented
from studio.errors import Refused
from studio.models import HistoryEntry, KilnUser
from tests.commissions import build
from tests.firing import build as heat
from tests.threads import at_once

D = Decimal
MARCH = dt.date(2026, 3, 1)
IN_MARCH = dt.datetime(2026, 3, 10, 9, 0, tzinfo=dt.UTC)
APRIL = dt.datetime(2026, 4, 2, 9, 0, tzinfo=dt.UTC)


def maker(cast, *, name="Marl Row", **changes) -> KilnUser:
    asked = {"terms": "guest", "free_hours": D(0)} | changes
    return save_kiln_user(
        studio=cast.studio, name=name, by=cast.owner, at=IN_MARCH, **asked
    )


def rented(cast, user, *, hours=10, kwh=None, day=0, title="Bowls"):
    booking = heat.booking(
        kiln=cast.kiln,
        starts_at=IN_MARCH + dt.timedelta(days=day),
        hours=hours,
        title=title,
    )
    record_rented(
        booking=booking,
        kiln_user=user,
        used_hours=None,
        used_kwh=kwh,
        by=None,
        at=IN_MARCH,
    )
    return booking


def rates(cast, *, member=None, guest=None):
    set_kiln_rates(
        studio=cast.studio,
        rates={cast.kiln.pk: (member, guest)},
        by=cast.owner,
        at=IN_MARCH,
    )


def invoice(cast, *, at=APRIL, month=MARCH, user=None):
    return invoice_kiln_month(
        studio=cast.studio, month=month, user=user, by=cast.owner, at=at
    )


def test_a_month_becomes_one_issued_invoice_a_maker_worked_by_hand(cast):
    """A guest at 4.00 an hour, a member at 2.50 with 6 h free; 0.30 a kWh, 10 % tax.

    Guest: 10 h x 4.00 = 40.00; 12 kWh x 0.30 = 3.60; net 43.60; tax 4.36; 47.96.
    Member: 8 h, 6 free, 2 h x 2.50 = 5.00; nothing known of electricity; tax 0.50; 5.50.
    """
    build.rates(
        cast,
        tax_name="Sales tax",
        tax_percent=D(10),
        energy_price_per_kwh=D("0.30"),
    )
    rates(cast, member=D("2.5"), guest=D(4))
    guest = maker(cast)
    member = maker(cast, name="Ketti", terms="member", free_hours=D(6))
    rented(cast, guest, hours=10, kwh=12.0)
    rented(cast, member, hours=8, day=2, title="Tiles")
    first, second = invoice(cast)
    assert (first.net, first.tax, first.total) == (D("43.60"), D("4.36"), D("47.96"))
    assert (second.net, second.tax, second.total) == (D(5), D("0.50"), D("5.50"))
    assert first.title == "Kiln time, March 2026"
    assert (first.kind, first.kiln_user, first.kiln_month) == (
        InvoiceKind.KILN,
        guest,
        MARCH,
    )
    assert [(one.label, one.quantity, one.unit) for one in first.lines.all()] == [
        (f"Bowls: 10 Mar, {cast.kiln}", D(10), "h"),
        ("Electricity", D(12), "kWh"),
    ]
    (line,) = second.lines.all()
    assert line.label == f"Tiles: 12 Mar, {cast.kiln}, 6 h free"
    assert (line.quantity, line.unit_price) == (D(2), D("2.5"))
    assert second.message == "6 of 8 kiln hours were free."
    assert all(one.number and one.sent_at == APRIL for one in (first, second))
    assert first.client.kiln_user == guest


def test_a_month_is_invoiced_once_and_again_after_it_is_credited(cast):
    user = maker(cast)
    rates(cast, guest=D(4))
    rented(cast, user)
    (made,) = invoice(cast)
    with pytest.raises(Refused, match="Nothing of March 2026 is left to invoice"):
        invoice(cast)
    note = make_credit_note(
        invoice=made, amount=made.total, reason="Wrong hours", by=None, at=APRIL
    )
    issue_invoice(invoice=note, by=None, at=APRIL)
    (again,) = invoice(cast)
    assert again.total == made.total
    assert again.number != made.number


def test_a_month_that_is_not_over_is_not_invoiced(cast):
    user = maker(cast)
    rented(cast, user)
    with pytest.raises(Refused, match="March is not over"):
        invoice(cast, at=dt.datetime(2026, 3, 31, 21, 0, tzinfo=dt.UTC))
    assert not Invoice.across_studios.exists()


def test_one_maker_can_be_invoiced_alone(cast):
    rates(cast, guest=D(4))
    first, second = maker(cast), maker(cast, name="Ketti")
    rented(cast, first)
    rented(cast, second, day=2)
    (made,) = invoice(cast, user=second)
    assert made.kiln_user == second
    (rest,) = invoice(cast)
    assert rest.kiln_user == first


def test_free_hours_alone_make_no_invoice(cast):
    user = maker(cast, free_hours=D(20))
    rates(cast, guest=D(4))
    rented(cast, user)
    with pytest.raises(Refused, match="Nothing of March"):
        invoice(cast)


def test_without_rates_of_their_own_all_pay_the_kilns_price(cast):
    cast.kiln.hourly_rate = D(7)
    cast.kiln.save()
    rented(cast, maker(cast), hours=3)
    (made,) = invoice(cast)
    assert made.net == D(21)


def test_a_rate_that_includes_electricity_charges_none(cast):
    build.rates(cast, kiln_rate_has_energy=True)
    rates(cast, guest=D(4))
    rented(cast, maker(cast), hours=3, kwh=30.0)
    (made,) = invoice(cast)
    assert made.net == D(12)


def test_more_firings_than_an_invoice_has_lines_become_a_line_a_kiln(cast):
    rates(cast, guest=D(4))
    user = maker(cast)
    for number in range(45):
        rented(cast, user, hours=1, day=number / 10)
    (made,) = invoice(cast)
    assert made.net == D(180)
    (line,) = made.lines.all()
    assert (line.label, line.quantity) == (f"{cast.kiln}, 45 firings", D(45))


def test_records_that_changed_after_the_invoice_are_told_apart_from_it(cast):
    rates(cast, guest=D(4))
    user = maker(cast)
    booking = rented(cast, user)
    invoice(cast)
    (row,) = kiln_month(cast.studio, MARCH, now=APRIL).rows
    assert not row.is_outdated
    record_rented(
        booking=booking,
        kiln_user=user,
        used_hours=4,
        used_kwh=None,
        by=None,
        at=APRIL,
    )
    (row,) = kiln_month(cast.studio, MARCH, now=APRIL).rows
    assert row.is_outdated
    assert (row.total, row.invoice.invoice.net) == (D(16), D(40))


def test_months_are_the_studios_own(cast):
    # A studio behind UTC is still in March when April has begun there.
    cast.studio.time_zone = "America/New_York"
    cast.studio.save()
    just = dt.datetime(2026, 4, 1, 2, 0, tzinfo=dt.UTC)
    assert month_of(cast.studio, just) == MARCH
    assert not kiln_month(cast.studio, MARCH, now=just).is_over
    assert next_month(dt.date(2026, 12, 1)) == dt.date(2027, 1, 1)
    assert next_month(dt.date(2026, 1, 1), -1) == dt.date(2025, 12, 1)


@pytest.mark.django_db(transaction=True)
def test_of_two_who_invoice_a_month_at_once_one_is_told(cast):
    rates(cast, guest=D(4))
    rented(cast, maker(cast))
    found = at_once(*[lambda: invoice(cast)] * 2)
    assert sum(isinstance(one, Refused) for one in found) == 1, found
    assert Invoice.across_studios.count() == 1


def test_a_maker_gets_a_client_or_an_existing_one(cast):
    own = build.client(cast, name="Perpetua")
    user = maker(cast, client=own)
    own.refresh_from_db()
    assert own.kiln_user == user
    alone = maker(cast, name="Ketti")
    assert Client.owned.for_studio(cast.studio).get(kiln_user=alone).name == "Ketti"


def test_who_is_invoiced_can_be_changed_but_not_shared(cast):
    user, other = maker(cast), maker(cast, name="Ketti")
    theirs = Client.owned.for_studio(cast.studio).get(kiln_user=other)
    with pytest.raises(Refused, match="Ketti is invoiced for Ketti already"):
        maker(cast, user=user, client=theirs)
    another = build.client(cast, name="Perpetua")
    maker(cast, user=user, client=another)
    assert Client.owned.for_studio(cast.studio).get(kiln_user=user) == another


def test_names_and_people_are_taken_once(cast):
    maker(cast, person=cast.maker)
    with pytest.raises(Refused, match="already. Choose another name"):
        maker(cast)
    with pytest.raises(Refused, match="is a kiln user already"):
        maker(cast, name="Ketti", person=cast.maker)


def test_terms_and_rates_are_in_the_history_for_those_who_may_see_money(cast):
    maker(cast, free_hours=D("6.50"))
    rates(cast, guest=D(4))
    entries = HistoryEntry.owned.for_studio(cast.studio).order_by("-pk")
    assert entries[0].what == "Changed what members and guests pay for the kilns"
    assert "guest, 6.5 free hours a month" in entries[1].what
    assert all(entry.is_about_money for entry in entries[:2])
