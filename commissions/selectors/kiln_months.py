"""A month of shared kilns: what each maker used, what that costs, and their invoice."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from decimal import Decimal
from zoneinfo import ZoneInfo

from commissions.invoicing import LineAsked, line_net
from commissions.kiln_charges import Charge, MonthCharged, Used, charge_month
from commissions.models import Client, InvoiceKind, PriceBook
from commissions.selectors.invoices import InvoiceView, invoices, view_invoices
from commissions.selectors.quotes import day_of
from commissions.selectors.rates import price_book
from firing.firings.selectors.shared_use import SharedUse, shared_use
from studio.models import Kiln, KilnTerms, KilnUser, Studio
from studio.money import plain_number
from studio.selectors.kiln_users import kiln_users

# An invoice has room for 40 lines; what is more comes as a line a kiln.
MOST_LINES = 38
WHOLE_SHELF = 0.995


@dataclass(frozen=True, slots=True, kw_only=True)
class UserMonth:
    """What one maker used in a month; `uses` and the charges go together in pairs.

    `lines` are those of its invoice, and `total` is what they come to before tax.
    """

    user: KilnUser
    client: Client | None
    uses: tuple[SharedUse, ...]
    charged: MonthCharged
    lines: tuple[LineAsked, ...]
    total: Decimal
    invoice: InvoiceView | None

    @property
    def rows(self) -> list[tuple[SharedUse, Charge]]:
        """Return each firing with what it costs."""
        return list(zip(self.uses, self.charged.charges, strict=True))

    @property
    def is_to_invoice(self) -> bool:
        """Return whether something is to be paid that no invoice asks for."""
        return self.invoice is None and self.total > 0

    @property
    def is_outdated(self) -> bool:
        """Return whether the records say another amount than the invoice."""
        return self.invoice is not None and self.invoice.invoice.net != self.total


@dataclass(frozen=True, slots=True, kw_only=True)
class KilnMonth:
    """A month of all who share the kilns; `unclaimed` is work that nobody is named for."""

    month: date
    is_over: bool
    rows: tuple[UserMonth, ...]
    unclaimed: tuple[SharedUse, ...]

    @property
    def to_invoice(self) -> list[UserMonth]:
        """Return whoever may be invoiced now."""
        return [one for one in self.rows if self.is_over and one.is_to_invoice]


def kiln_month(studio: Studio, month: date, *, now: datetime) -> KilnMonth:
    """Return a month of shared kilns; one that is not over goes up to now.

    Parameters
    ----------
    month : date
        Its first day, in the studio's zone.
    """
    since, until = _bounds(studio, month)
    by_user: dict[int | None, list[SharedUse]] = defaultdict(list)
    for use in shared_use(studio, since=since, until=min(until, now)):
        by_user[use.kiln_user].append(use)
    users = list(kiln_users(studio))
    clients = {
        one.kiln_user_id: one
        for one in Client.owned.for_studio(studio)
        .filter(kiln_user__in=users)
        .order_by("pk")
    }
    asked = _invoices(studio, month, now)
    book = price_book(studio)
    rows = [
        _row(user, by_user[user.pk], book, clients.get(user.pk), asked.get(user.pk))
        for user in users
        if by_user[user.pk] or user.pk in asked or not user.is_retired
    ]
    return KilnMonth(
        month=month,
        is_over=until <= now,
        rows=tuple(sorted(rows, key=lambda one: (-one.total, one.user.name))),
        unclaimed=tuple(by_user[None]),
    )


def month_to_invoice(studio: Studio, *, now: datetime) -> KilnMonth | None:
    """Return last month where somebody's kiln time in it is not invoiced yet."""
    if not kiln_users(studio).exists():
        return None
    found = kiln_month(studio, next_month(month_of(studio, now), -1), now=now)
    return found if found.to_invoice else None


def month_of(studio: Studio, now: datetime) -> date:
    """Return the first day of the current month in the studio."""
    return day_of(studio, now).replace(day=1)


def next_month(month: date, by: int = 1) -> date:
    """Return the first day of the month that many months on."""
    year, index = divmod(month.year * 12 + month.month - 1 + by, 12)
    return date(year, index + 1, 1)


def _bounds(studio: Studio, month: date) -> tuple[datetime, datetime]:
    zone = ZoneInfo(studio.time_zone)
    return (
        datetime.combine(month, time(), tzinfo=zone),
        datetime.combine(next_month(month), time(), tzinfo=zone),
    )


def rate_of(kiln: Kiln, terms: str) -> Decimal:
    """Return what an hour of a kiln costs a member or a guest."""
    own = kiln.member_rate if terms == KilnTerms.MEMBER else kiln.guest_rate
    return kiln.hourly_rate if own is None else own


def _row(
    user: KilnUser,
    uses: Sequence[SharedUse],
    book: PriceBook,
    client: Client | None,
    invoice: InvoiceView | None,
) -> UserMonth:
    price = None if book.kiln_rate_has_energy else book.energy_price_per_kwh
    currency = book.studio.currency
    charged = charge_month(
        [
            Used(hours=use.hours, rate=rate_of(use.kiln, user.terms), kwh=use.kwh)
            for use in uses
        ],
        free_hours=user.free_hours,
        kwh_price=price,
        currency=currency,
    )
    lines = _lines(list(zip(uses, charged.charges, strict=True)), charged, book)
    nets = [line_net(one.quantity, one.unit_price, currency) for one in lines]
    return UserMonth(
        user=user,
        client=client,
        uses=tuple(uses),
        charged=charged,
        lines=tuple(lines),
        total=sum(nets, Decimal(0)),
        invoice=invoice,
    )


def _lines(
    rows: Sequence[tuple[SharedUse, Charge]], charged: MonthCharged, book: PriceBook
) -> list[LineAsked]:
    """Return what a month's invoice asks for: a line a firing, and the electricity."""
    zone = ZoneInfo(book.studio.time_zone)
    paid = [(use, one) for use, one in rows if one.amount]
    each = (
        [
            (
                f"{use.what}: {use_words(use, one, zone=zone)}",
                one.hours,
                one.used.rate,
            )
            for use, one in paid
        ]
        if len(paid) <= MOST_LINES
        else _by_kiln(paid)
    )
    asked = [(label[:200], hours, "h", rate) for label, hours, rate in each]
    if charged.energy:
        price = book.energy_price_per_kwh
        asked.append(("Electricity", charged.kwh, "kWh", price))
    return [
        LineAsked(
            label=label,
            quantity=quantity,
            unit=unit,
            unit_price=unit_price,
            tax_name=book.tax_name,
            tax_percent=book.tax_percent,
        )
        for label, quantity, unit, unit_price in asked
    ]


def _invoices(studio: Studio, month: date, now: datetime) -> dict[int, InvoiceView]:
    """Return the invoice, or its draft, that stands for each user's month."""
    found = (
        invoices(studio)
        .filter(kiln_month=month, kind=InvoiceKind.KILN)
        .order_by("made_at", "pk")
    )
    return {
        view.invoice.kiln_user_id or 0: view
        for view in view_invoices(studio, found, today=day_of(studio, now))
        if view.invoice.is_draft or view.due > 0
    }


def _by_kiln(
    paid: Sequence[tuple[SharedUse, Charge]],
) -> list[tuple[str, Decimal, Decimal]]:
    hours: dict[tuple[str, Decimal], list[Decimal]] = defaultdict(list)
    for use, one in paid:
        hours[use.kiln.name, one.used.rate].append(one.hours)
    return [
        (f"{kiln}, {len(each)} firings", sum(each, Decimal(0)), rate)
        for (kiln, rate), each in sorted(hours.items())
    ]


def use_words(use: SharedUse, one: Charge, *, zone: ZoneInfo) -> str:
    """Say on which day and in which kiln, how much of its shelf, and what was free."""
    words = f"{use.at.astimezone(zone):%-d %b}, {use.kiln}"
    if use.share < WHOLE_SHELF:
        words += f", {use.share:.0%} of the shelf"
    if one.free:
        words += f", {plain_number(one.free)} h free"
    return words


def month_message(row: UserMonth) -> str:
    """Say on the invoice which of the month's hours were free."""
    if not row.charged.free:
        return ""
    return (
        f"{plain_number(row.charged.free)} of {plain_number(row.charged.hours)} kiln "
        "hours were free."
    )
