"""How one person sees numbers: units, money and time, ready for templates and papers.

Everything shown to a person passes through here; everything stored is SI and UTC.
"""

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Self
from zoneinfo import ZoneInfo

from django.http import HttpRequest

from studio import amounts, units
from studio.models import Membership, Studio
from studio.money import format_money
from studio.roles import Can, allowed
from studio.units import LengthUnit, TemperatureUnit

SOON_DAYS = 6
# For reading; a form shows the stored value to the last digit, so that saving keeps it.
READ_DECIMALS = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Viewer:
    """A person, or a paper, with units, a zone, a currency and abilities."""

    temperature_unit: TemperatureUnit
    length_unit: LengthUnit
    zone: ZoneInfo
    currency: str
    studio: Studio
    role: str = ""

    @classmethod
    def of_member(cls, membership: Membership) -> Self:
        """Return a member as a viewer."""
        return cls(
            temperature_unit=TemperatureUnit(membership.temperature_unit),
            length_unit=LengthUnit(membership.length_unit),
            zone=ZoneInfo(membership.studio.time_zone),
            currency=membership.studio.currency,
            studio=membership.studio,
            role=membership.role,
        )

    @classmethod
    def of_studio(cls, studio: Studio) -> Self:
        """Return the viewer for papers and the client's page: the studio's units."""
        return cls(
            temperature_unit=TemperatureUnit(studio.temperature_unit),
            length_unit=LengthUnit(studio.length_unit),
            zone=ZoneInfo(studio.time_zone),
            currency=studio.currency,
            studio=studio,
        )

    def may(self, ability: Can) -> bool:
        """Return whether this viewer's role has the ability."""
        return bool(self.role) and allowed(self.role, ability)

    # Named so that templates can ask without arguments.
    @property
    def may_see_money(self) -> bool:
        return self.may(Can.SEE_MONEY)

    @property
    def may_record_work(self) -> bool:
        return self.may(Can.RECORD_WORK)

    @property
    def may_run_firings(self) -> bool:
        return self.may(Can.RUN_FIRINGS)

    @property
    def may_book_kilns(self) -> bool:
        return self.may(Can.BOOK_KILNS)

    @property
    def may_plan_pieces(self) -> bool:
        return self.may(Can.PLAN_PIECES)

    @property
    def may_manage_kilns(self) -> bool:
        return self.may(Can.MANAGE_KILNS)

    @property
    def may_manage_studio(self) -> bool:
        return self.may(Can.MANAGE_STUDIO)

    def length(self, mm: float) -> str:
        """Show a length."""
        return units.format_length(mm, self.length_unit, inch_decimals=READ_DECIMALS)

    def size(self, width_mm: float, height_mm: float) -> str:
        """Show width by height."""
        return units.format_size(
            width_mm, height_mm, self.length_unit, inch_decimals=READ_DECIMALS
        )

    def weight(self, kg: float) -> str:
        """Show what something weighs that is lifted."""
        return units.format_weight(kg, self.length_unit)

    def unit(self, name: str) -> str:
        """Return the unit that this reader has in place of one that was written."""
        return amounts.unit_for(name, self.length_unit)

    def amount(self, amount: Decimal, unit: str) -> str:
        """Show an amount of stock in the reader's unit: "22.6 oz"."""
        mine = self.unit(unit)
        return amounts.in_words(amounts.convert(amount, unit, mine), mine)

    def price_per(self, price: Decimal, unit: str) -> Decimal:
        """Return what one of the reader's units costs, from what one of ours does."""
        return amounts.convert_price(price, unit, self.unit(unit))

    @property
    def area_name(self) -> str:
        """Return "square metre", or what the reader has in its place."""
        return amounts.AREA_NAMES[LengthUnit(self.length_unit)]

    def temperature(self, celsius: float) -> str:
        """Show a temperature in whole degrees."""
        return units.format_temperature(celsius, self.temperature_unit, decimals=0)

    def temperature_difference(self, kelvin: float) -> str:
        """Show a difference of temperatures, to a tenth of a degree."""
        return units.format_temperature_difference(kelvin, self.temperature_unit)

    def rate(self, c_per_h: float) -> str:
        """Show a heating or cooling rate to two figures, or in whole degrees."""
        return self.rates(c_per_h)[0]

    def rates(self, *c_per_h: float) -> list[str]:
        """Show rates to be compared: finer where two that differ would read the same."""
        unit, told = self.temperature_unit, list[str]()
        finest = units.RATE_DECIMALS
        for decimals in range(units.rate_decimals(max(c_per_h), unit), finest + 1):
            told = [units.format_rate(one, unit, decimals=decimals) for one in c_per_h]
            if len(set(told)) == len(set(c_per_h)):
                break
        return told

    def duration(self, seconds: float) -> str:
        """Show a span of time."""
        return units.format_duration(seconds)

    def labour(self, minutes: int) -> str:
        """Show working time in hours, never in days: "31 h 10 min"."""
        hours, rest = divmod(minutes, 60)
        words = [f"{hours} h"] if hours else []
        if rest or not hours:
            words.append(f"{rest} min")
        return " ".join(words)

    def money(self, amount: Decimal, currency: str = "") -> str:
        """Show an amount in its currency, the studio's unless given."""
        return format_money(amount, currency or self.currency)

    def day(self, at: datetime) -> str:
        """Show the date in the studio's zone: "Fri 27 Nov 2026"."""
        return f"{at.astimezone(self.zone):%a %-d %b %Y}"

    def clock(self, at: datetime) -> str:
        """Show the time of day in the studio's zone."""
        return f"{at.astimezone(self.zone):%H:%M}"

    def moment(self, at: datetime, now: datetime) -> str:
        """Show an instant, in words such as "tomorrow 09:00" if it is near."""
        local = at.astimezone(self.zone)
        today = now.astimezone(self.zone).date()
        days = (local.date() - today).days
        near: dict[int, str] = {-1: "yesterday", 0: "today", 1: "tomorrow"}
        if days in near:
            return f"{near[days]} {local:%H:%M}"
        if abs(days) <= SOON_DAYS:
            return f"{local:%a %H:%M}"
        if local.year == today.year:
            return f"{local:%a %-d %b %H:%M}"
        return f"{local:%a %-d %b %Y %H:%M}"

    def left(self, until: datetime, now: datetime) -> str:
        """Show the time left until an instant: "38 h", "25 min", "now"."""
        seconds = (until - now).total_seconds()
        if seconds <= 0:
            return "now"
        if seconds < 2 * 3600:
            return f"{max(1, round(seconds / 60))} min"
        return f"{round(seconds / 3600)} h"


def viewer_of(request: HttpRequest) -> Viewer | None:
    """Return the viewer behind a request, or none when nobody is signed in."""
    membership = getattr(request, "membership", None)
    return None if membership is None else Viewer.of_member(membership)


def day_words(when: date) -> str:
    """Show a date as the screens do: "Fri 27 Nov 2026"."""
    return f"{when:%a %-d %b %Y}"


def count_words(count: int, one: str, many: str = "") -> str:
    """Return "1 firing", "3 firings"."""
    return f"{count} {one if count == 1 else many or one + 's'}"
