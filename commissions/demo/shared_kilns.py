"""The demo's shared kilns: a guest who rents, and a member whose tiles go into loads."""

import datetime as dt
from decimal import Decimal

from commissions.demo.workshops import Workshop
from commissions.selectors.kiln_months import month_of, next_month
from commissions.selectors.quotes import day_of
from commissions.services.clients import create_client
from commissions.services.kiln_invoices import invoice_kiln_month
from commissions.services.kiln_users import save_kiln_user, set_kiln_rates
from commissions.services.reminders import record_reminder
from firing.firings.services.others_work import add_work
from firing.kiln_time.selectors.free_starts import earliest_free_start
from firing.kiln_time.services.bookings import book_kiln, record_rented
from firing.models import Booking, BookingKind, Firing, FiringKind
from studio.models import KilnTerms, KilnUser

HOUR = dt.timedelta(hours=1)
DAY = dt.timedelta(days=1)
# Of the month, the day and the hours of each firing of bowls.
BOWLS = ((6, 15.5), (19, 16.25))
TILES = 9.5


def share_the_kilns(workshop: Workshop, *, now: dt.datetime) -> None:
    """Rented time of two months: the older is invoiced and overdue, the newer is due."""
    studio, wren = workshop.studio, workshop.people["Wren"]
    last = next_month(month_of(studio, now), -1)
    before = next_month(last, -1)
    since = dt.datetime.combine(before, dt.time(12), tzinfo=now.tzinfo)
    set_kiln_rates(
        studio=studio,
        rates={
            kiln.pk: (kiln.hourly_rate, kiln.hourly_rate * 2)
            for kiln in workshop.kilns.values()
        },
        by=wren,
        at=since,
    )
    potters = save_kiln_user(
        studio=studio,
        name="Marram Row potters (demo)",
        terms=KilnTerms.GUEST,
        free_hours=Decimal(0),
        client=create_client(
            studio=studio,
            name="Marram Row potters (demo)",
            email="marram@example.org",
            address="Invented: 3 Marram Row, Ebbside",
            by=wren,
            at=since,
        ),
        by=wren,
        at=since,
    )
    tiler = save_kiln_user(
        studio=studio,
        name="Ketti Marl (demo)",
        terms=KilnTerms.MEMBER,
        free_hours=Decimal(6),
        by=wren,
        at=since,
    )
    for month in (before, last):
        for day, hours in BOWLS:
            _rent(workshop, potters, month, day=day, hours=hours)
    _rent(workshop, tiler, last, day=11, hours=TILES, kiln="Teal", title="Tiles")
    (invoice,) = invoice_kiln_month(
        studio=studio,
        month=before,
        by=wren,
        at=dt.datetime.combine(last, dt.time(12), tzinfo=now.tzinfo) + 2 * DAY,
    )
    reminded_at = now - 2 * DAY
    record_reminder(
        invoice=invoice,
        sent_date=day_of(studio, reminded_at),
        sent_to=invoice.client.email,
        text=f"Demo: {invoice.name} is still open. Perhaps it was overlooked.",
        by=wren,
        at=reminded_at,
    )
    newest = (
        Firing.owned.for_studio(studio)
        .filter(kind=FiringKind.ENAMEL, finished_at__isnull=False)
        .order_by("-finished_at", "-pk")
        .select_related("studio", "kiln")[0]
    )
    add_work(
        firing=newest,
        description="Four tiles (demo)",
        kiln_user=tiler,
        by=wren,
        at=now - DAY,
    )
    _book(workshop, potters, "Dunlin", "Bowls (demo)", now + DAY, 16 * HOUR, at=now)


def _rent(
    workshop: Workshop,
    user: KilnUser,
    month: dt.date,
    *,
    day: int,
    hours: float,
    kiln: str = "Dunlin",
    title: str = "Bowls",
) -> None:
    after = dt.datetime.combine(month.replace(day=day), dt.time(8), tzinfo=dt.UTC)
    lasts, booked_at = (int(hours) + 2) * HOUR, after - 4 * DAY
    booking = _book(workshop, user, kiln, f"{title} (demo)", after, lasts, at=booked_at)
    record_rented(
        booking=booking,
        kiln_user=user,
        used_hours=hours,
        used_kwh=round(hours * 1.6, 1),
        by=workshop.people["Odo"],
        at=booking.ends_at,
    )


def _book(
    workshop: Workshop,
    user: KilnUser,
    kiln: str,
    title: str,
    after: dt.datetime,
    lasts: dt.timedelta,
    *,
    at: dt.datetime,
) -> Booking:
    rented = workshop.kilns[kiln]
    starts_at = earliest_free_start(
        kiln=rented, lasts_s=lasts.total_seconds(), after=after
    )
    return book_kiln(
        studio=workshop.studio,
        kiln=rented,
        kind=BookingKind.RENTAL,
        title=title,
        starts_at=starts_at,
        ends_at=starts_at + lasts,
        kiln_user=user,
        by=workshop.people["Odo"],
        at=at,
    )
