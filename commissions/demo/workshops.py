"""The demo's two studios: people, kilns, hours, glass and materials. All invented."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from commissions.models import BusinessDetails, PriceBook
from studio.models import (
    AccessHours,
    AwayReason,
    BenchHours,
    BenchTerms,
    Closure,
    DaysAway,
    Glass,
    GlassFamily,
    Kiln,
    LengthUnit,
    Material,
    MaterialKind,
    Membership,
    PaperSize,
    Person,
    Role,
    Studio,
    TemperatureUnit,
    UsedPer,
)
from studio.units import fahrenheit_to_celsius

PASSWORD = "slow-cooling"
# How long before the present the studio was made.
PRESENT = dt.timedelta(days=120)
INCH = 25.4
INVENTED_IBAN = "PT77000000000000000000000"

ESTUARY_PEOPLE = {
    "wren@example.org": ("Wren Aldwater", Role.OWNER),
    "tobin@example.org": ("Tobin Maresk", Role.MAKER),
    "isla@example.org": ("Isla Quennet", Role.HELPER),
    "odo@example.org": ("Odo Farrowby", Role.TECHNICIAN),
}
SALTPAN_PEOPLE = {"benta@example.org": ("Benta Corvaz", Role.OWNER)}
# Days, from and to [h], most hours a week: a helper has a few evenings.
BENCH = {
    "Wren": (range(4), 9, 15, 22),
    "Tobin": (range(5), 12, 18, 24),
    "Isla": ((0, 2, 3), 17, 20, None),
    "Benta": (range(5), 10, 16, 24),
}
# Tobin is away when the load after next is made: days from the present.
TOBIN_AWAY = (26, 30)


@dataclass(frozen=True, slots=True, kw_only=True)
class Workshop:
    """A demo studio with everything its works need."""

    studio: Studio
    people: dict[str, Person]
    kilns: dict[str, Kiln]
    glass: Glass
    enamel: Material


def estuary(*, at: dt.datetime) -> Workshop:
    """Make the shared studio on the estuary: dollars, °F and inches."""
    studio = Studio.objects.create(
        name="Ebbside Kilns",
        address="Invented: 1 Sluice Lane, Ebbside",
        email="kilns@example.org",
        currency="USD",
        time_zone="America/New_York",
        temperature_unit=TemperatureUnit.F,
        length_unit=LengthUnit.IN,
        paper_size=PaperSize.LETTER,
        is_demo=True,
        created_at=at,
    )
    people = _people(studio, ESTUARY_PEOPLE)
    _away(studio, people["Tobin"], at=at + PRESENT)
    kilns = {
        "Heron": _kiln(studio, "Heron", (48, 24, 14), 17_000, 8.5, "4.50"),
        "Curlew": _kiln(studio, "Curlew", (28, 28, 14), 11_500, 7.5, "3.20"),
        "Teal": _kiln(studio, "Teal", (22, 22, 12), 7_600, 6.5, "2.40"),
        "Dunlin": _kiln(studio, "Dunlin", (14, 13, 10), 3_600, 4.0, "1.50"),
    }
    _hours(studio, weekdays=(8, 20), weekend=(10, 15))
    glass, enamel = _materials(studio, sheet_price="118.4030", enamel_price="10.80")
    # Whole degrees of this studio's scale: 900, 1100 and 1500 °F.
    glass.anneal_soak_c = fahrenheit_to_celsius(900)
    # Its maker's own; the other studio has not asked its maker.
    glass.annealing_point_c = 516
    glass.enamel_c = fahrenheit_to_celsius(1100)
    glass.full_fuse_c = fahrenheit_to_celsius(1500)
    glass.save()
    Closure.across_studios.create(
        studio=studio,
        kiln=kilns["Heron"],
        starts_at=at + dt.timedelta(days=80),
        ends_at=at + dt.timedelta(days=81),
        reason="New elements in the lid",
    )
    PriceBook.across_studios.create(
        studio=studio,
        labour_rate_per_hour=Decimal(42),
        energy_price_per_kwh=Decimal("0.22"),
        tax_percent=Decimal("6.25"),
    )
    BusinessDetails.across_studios.create(
        studio=studio,
        tax_number="Demo 00-0000000",
        other_ways="Check to Ebbside Kilns, or cash at the studio.\n"
        "Bank transfer: routing 000000000, account 0000000000 (invented).",
        days_to_pay=14,
        terms="The piece stays the studio's until it is paid in full.",
    )
    return Workshop(
        studio=studio, people=people, kilns=kilns, glass=glass, enamel=enamel
    )


def saltpan(*, at: dt.datetime) -> Workshop:
    """Make the second studio: euro, °C and millimetres."""
    studio = Studio.objects.create(
        name="Saltpan Glass",
        address="Invented: Rua das Salinas 3",
        currency="EUR",
        time_zone="Europe/Lisbon",
        temperature_unit=TemperatureUnit.C,
        length_unit=LengthUnit.MM,
        is_demo=True,
        created_at=at,
    )
    people = _people(studio, SALTPAN_PEOPLE)
    kilns = {"Flamingo": _kiln(studio, "Flamingo", (24, 24, 12), 9_000, 7, "3.00")}
    _hours(studio, weekdays=(9, 19), weekend=(10, 13))
    glass, enamel = _materials(studio, sheet_price="96", enamel_price="0.31")
    PriceBook.across_studios.create(
        studio=studio,
        labour_rate_per_hour=Decimal(34),
        energy_price_per_kwh=Decimal("0.27"),
        tax_name="IVA",
        tax_percent=Decimal(23),
    )
    BusinessDetails.across_studios.create(
        studio=studio,
        tax_number="Demo 000000000",
        account_holder="Saltpan Glass (demo)",
        # Right check digits, and an account that no bank gave anybody.
        iban=INVENTED_IBAN,
        days_to_pay=30,
    )
    return Workshop(
        studio=studio, people=people, kilns=kilns, glass=glass, enamel=enamel
    )


def _people(studio: Studio, rows: dict[str, tuple[str, Role]]) -> dict[str, Person]:
    made = {}
    for email, (name, role) in rows.items():
        person = Person.objects.create_user(email, PASSWORD, name=name)
        Membership.across_studios.create(
            studio=studio,
            person=person,
            role=role,
            temperature_unit=studio.temperature_unit,
            length_unit=studio.length_unit,
        )
        made[name.split()[0]] = person
    for name, person in made.items():
        if name in BENCH:
            _bench(studio, person, *BENCH[name])
    return made


def _bench(
    studio: Studio,
    person: Person,
    weekdays: Iterable[int],
    starts: int,
    ends: int,
    hours_a_week: int | None,
) -> None:
    membership = Membership.owned.for_studio(studio).get(person=person)
    for weekday in weekdays:
        BenchHours.across_studios.create(
            studio=studio,
            membership=membership,
            weekday=weekday,
            starts=dt.time(starts),
            ends=dt.time(ends),
        )
    if hours_a_week is not None:
        BenchTerms.across_studios.create(
            studio=studio, membership=membership, hours_a_week=hours_a_week
        )


def _away(studio: Studio, person: Person, *, at: dt.datetime) -> None:
    first, last = TOBIN_AWAY
    DaysAway.across_studios.create(
        studio=studio,
        membership=Membership.owned.for_studio(studio).get(person=person),
        starts_date=(at + dt.timedelta(days=first)).date(),
        ends_date=(at + dt.timedelta(days=last)).date(),
        reason=AwayReason.HOLIDAY,
        note="Demo: at his sister's",
    )


def _kiln(
    studio: Studio,
    name: str,
    inches: tuple[float, float, float],
    power_w: float,
    cooling_h: float,
    hourly: str,
) -> Kiln:
    width, depth, height = (side * INCH for side in inches)
    # Whole degrees of the studio's own scale, as its controllers show them.
    in_f = studio.temperature_unit == TemperatureUnit.F
    return Kiln.across_studios.create(
        studio=studio,
        name=name,
        inner_width_mm=width,
        inner_depth_mm=depth,
        inner_height_mm=height,
        shelf_width_mm=width - 2 * INCH,
        shelf_depth_mm=depth - 2 * INCH,
        max_temperature_c=fahrenheit_to_celsius(1700) if in_f else 930,
        opening_temperature_c=fahrenheit_to_celsius(125) if in_f else 50,
        power_w=power_w,
        holding_fraction=0.45,
        cooling_time_constant_s=cooling_h * 3600,
        controller_unit=studio.temperature_unit,
        controller_segments=12,
        slowest_rate_c_per_h=(1 / 1.8) if in_f else 0.5,
        fastest_rate_c_per_h=(999 / 1.8) if in_f else 550,
        hourly_rate=Decimal(hourly),
    )


def _hours(
    studio: Studio, *, weekdays: tuple[int, int], weekend: tuple[int, int]
) -> None:
    for weekday, (opens, closes) in enumerate([weekdays] * 5 + [weekend] * 2):
        AccessHours.across_studios.create(
            studio=studio,
            weekday=weekday,
            opens=dt.time(opens),
            closes=dt.time(closes),
        )


def _materials(
    studio: Studio, *, sheet_price: str, enamel_price: str
) -> tuple[Glass, Material]:
    glass = Glass.across_studios.create(
        studio=studio,
        name="Clear 3 mm, 90",
        family=GlassFamily.EXPANSION_90,
        sheet_thickness_mm=3.0,
        anneal_soak_c=482,
        strain_point_c=486,
        cost_per_m2=Decimal(sheet_price),
    )
    Glass.across_studios.create(
        studio=studio,
        name="Clear 3 mm, 96",
        family=GlassFamily.EXPANSION_96,
        sheet_thickness_mm=3.0,
        # As its family's, for thick work: 510 °C is where thin work is soaked.
        anneal_soak_c=482,
        strain_point_c=476,
        cost_per_m2=Decimal(sheet_price) * Decimal("0.95"),
    )
    in_inches = studio.length_unit == LengthUnit.IN
    weight, area = ("oz", "ft²") if in_inches else ("g", "m²")
    enamel = Material.across_studios.create(
        studio=studio,
        name="Enamel greys and blacks",
        kind=MaterialKind.ENAMEL,
        unit=weight,
        cost_per_unit=Decimal(enamel_price),
        used_per=UsedPer.PASS_AREA,
        # For a square metre, in either.
        amount_used=Decimal("1.94") if in_inches else Decimal(55),
        on_hand=Decimal("22.5") if in_inches else Decimal(640),
        caution="May hold lead or cadmium: gloves, no food use, wet cleaning.",
    )
    fibre, wash = ("1.30", "10.7639", 43), ("0.57", "6.35", 88)
    if not in_inches:
        fibre, wash = ("14", "1", 4), ("0.02", "180", 2500)
    for name, kind, unit, cost, used_per, amount, on_hand in (
        (
            "Fibre paper",
            MaterialKind.FIBRE_PAPER,
            area,
            fibre[0],
            "fuse area",
            *fibre[1:],
        ),
        (
            "Kiln wash",
            MaterialKind.KILN_WASH,
            weight,
            wash[0],
            "firing area",
            *wash[1:],
        ),
        ("Decal film", MaterialKind.DECAL, "sheet", "2.10", "not priced", "0", 30),
    ):
        Material.across_studios.create(
            studio=studio,
            name=name,
            kind=kind,
            unit=unit,
            cost_per_unit=Decimal(cost),
            used_per=used_per,
            amount_used=Decimal(amount),
            on_hand=on_hand,
        )
    return glass, enamel
