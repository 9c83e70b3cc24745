"""Plain builders of records: required arguments are what the test is about."""

import datetime as dt
import itertools
from decimal import Decimal
from itertools import groupby
from zoneinfo import ZoneInfo

from django.utils import timezone

from studio.models import (
    AccessHours,
    Glass,
    GlassFamily,
    Invitation,
    Kiln,
    LengthUnit,
    Membership,
    PaperSize,
    Pass,
    Person,
    Piece,
    Role,
    Studio,
    Technique,
    TemperatureUnit,
)
from studio.selectors.invitations import token_hash
from studio.services import layers as layer_services
from studio.services import pieces as piece_services
from studio.services.due_dates import set_due_date
from studio.services.invitations import LIFETIME
from studio.services.pieces import LayerPlan

ZONE = ZoneInfo("America/New_York")  # of a studio in °F, as the cast's is
NOW = dt.datetime(2026, 3, 4, 9, 0, tzinfo=dt.UTC)
GLASS = {
    "anneal_soak_c": 482,
    "annealing_point_c": 516,
    "strain_point_c": 486,
    "cost_per_m2": Decimal(90),
}
KILN = {
    "inner_width_mm": 600,
    "inner_depth_mm": 600,
    "inner_height_mm": 300,
    "shelf_width_mm": 560,
    "shelf_depth_mm": 560,
    "max_temperature_c": 930,
    "power_w": 9000,
    "controller_unit": TemperatureUnit.F,
    "controller_segments": 12,
    "hourly_rate": Decimal("2.50"),
}
_numbers = itertools.count(1)


def studio(*, name: str = "Gullmarsh", in_fahrenheit: bool = True) -> Studio:
    made = Studio.objects.create(
        name=name,
        currency="USD" if in_fahrenheit else "EUR",
        time_zone=ZONE.key if in_fahrenheit else "Europe/Lisbon",
        temperature_unit=TemperatureUnit.F if in_fahrenheit else TemperatureUnit.C,
        length_unit=LengthUnit.IN if in_fahrenheit else LengthUnit.MM,
        paper_size=PaperSize.LETTER if in_fahrenheit else PaperSize.A4,
        created_at=NOW,
    )
    for weekday in range(7):
        AccessHours.across_studios.create(
            studio=made, weekday=weekday, opens=dt.time(8), closes=dt.time(20)
        )
    return made


def member(*, studio: Studio, role: str, name: str = "Somebody") -> Person:
    person = Person.objects.create_user(
        f"person{next(_numbers)}@example.org", "a long pass phrase", name=name
    )
    Membership.across_studios.create(
        studio=studio,
        person=person,
        role=role,
        temperature_unit=studio.temperature_unit,
        length_unit=studio.length_unit,
    )
    return person


def invitation(
    *, studio: Studio, email: str = "", token: str = "", is_mailed: bool = False
) -> Invitation:
    now = timezone.now()
    return Invitation.across_studios.create(
        studio=studio,
        email=email or f"guest{next(_numbers)}@example.org",
        role=Role.HELPER,
        token_sha256=token_hash(token or f"token {next(_numbers)}"),
        made_at=now,
        expires_at=now + LIFETIME,
        mailed_at=now if is_mailed else None,
    )


def glass(
    *,
    studio: Studio,
    family: str = GlassFamily.EXPANSION_90,
    name: str = "",
    expansion_1e7_per_k: float | None = None,
) -> Glass:
    return Glass.across_studios.create(
        studio=studio,
        name=name or f"Clear sheet {next(_numbers)}",
        family=family,
        expansion_1e7_per_k=expansion_1e7_per_k,
        **GLASS,
    )


def kiln(*, studio: Studio, name: str = "", **changes: object) -> Kiln:
    return Kiln.across_studios.create(
        studio=studio, name=name or f"Kiln {next(_numbers)}", **(KILN | changes)
    )


def promised(piece: Piece, day: dt.date | None) -> None:
    set_due_date(piece=piece, day=day)


def piece(
    *,
    studio: Studio,
    glass: Glass,
    layers: int = 3,
    passes: int = 1,
    caps: int = 1,
    title: str = "Low water at the sluice",
    by: Person | None = None,
    at: dt.datetime = NOW,
) -> Piece:
    painted = LayerPlan(technique=Technique.PAINTED, passes=passes, glass=glass)
    clear = LayerPlan(technique=Technique.CLEAR, passes=0, glass=glass)
    return piece_services.plan_piece(
        studio=studio,
        title=title,
        width_mm=300,
        height_mm=200,
        glass=glass,
        layers=[painted] * (layers - caps) + [clear] * caps,
        by=by,
        at=at,
    )


def passes_of(piece: Piece) -> list[Pass]:
    """Return the passes of the sheets in use, by layer and number."""
    return list(
        Pass.owned.for_studio(piece.studio)
        .filter(sheet__layer__piece=piece, sheet__set_aside_at__isnull=True)
        .select_related("sheet__layer__piece__studio")
        .order_by("sheet__layer__number", "number")
    )


def paint_and_fire(piece: Piece, *, by: Person | None = None, at: dt.datetime = NOW):
    """Record every pass as painted and burnt on well, in order."""
    passes = sorted(passes_of(piece), key=lambda of_pass: of_pass.number)
    for _, same in groupby(passes, key=lambda of_pass: of_pass.number):
        painted = list(same)
        layer_services.record_painted(passes=painted, by=by, at=at, minutes=60)
        for of_pass in painted:
            layer_services.record_outcome(of_pass=of_pass, outcome="fine", by=by, at=at)


def paint_and_fuse(piece: Piece, *, by: Person | None = None, at: dt.datetime = NOW):
    """Paint, burn, stack and fuse a piece of six sheets of 3 mm; it comes out well."""
    paint_and_fire(piece, by=by, at=at)
    piece_services.check_stack(
        piece=piece,
        layers_counted=6,
        measured_height_mm=18,
        is_order_right=True,
        by=by,
        at=at,
    )
    facts = {"piece": piece, "firing_kind": "full fuse", "by": by, "at": at}
    piece_services.note_into_kiln(**facts)
    piece_services.note_out_of_kiln(outcome="fine", **facts)
