"""Builders of commissions, quotes and links for the tests of this app."""

import datetime as dt
import io
from dataclasses import replace
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.utils import timezone
from PIL import Image

from commissions.models import Client, Commission, PriceBook, Quote, ShareLink
from commissions.selectors.rates import RatesFrom, choices_for
from commissions.selectors.share_links import link_token
from commissions.services import addenda, clients, commissions, quotes, sharing
from studio.models import Material, MaterialKind, UsedPer
from tests import make
from tests.cast import Cast


def client(cast: Cast, *, name: str = "Perpetua Vane", **changes) -> Client:
    return clients.create_client(
        studio=cast.studio, name=name, by=cast.owner, at=timezone.now(), **changes
    )


def commission(cast: Cast, *, client: Client | None = None, **changes) -> Commission:
    facts = {
        "title": "Slack water",
        "width_mm": 300,
        "height_mm": 200,
        "layer_count": 6,
        "cap_count": 1,
        "technique": "painted",
        "passes_per_layer": 2,
        "glass": cast.glass,
        "is_dammed": True,
    }
    who = client or globals()["client"](cast)
    return commissions.create_commission(
        studio=cast.studio,
        client=who,
        by=cast.owner,
        at=timezone.now(),
        **(facts | changes),
    )


def maquette() -> dict:
    return {
        "maquette_layer_count": 3,
        "maquette_width_mm": 150,
        "maquette_height_mm": 100,
    }


def quote(
    cast: Cast, *, of: Commission | None = None, rates: dict | None = None, **changes
) -> Quote:
    asked = of or commission(cast)
    return quotes.draft_quote(
        commission=asked,
        choices=replace(choices_for(asked), **rates or {}),
        by=cast.owner,
        at=timezone.now(),
        **changes,
    )


def sent(cast: Cast, *, of: Commission | None = None, **changes) -> Quote:
    drafted = quote(cast, of=of, **changes)
    return quotes.send_quote(quote=drafted, by=cast.owner, at=timezone.now())


def accepted(cast: Cast, *, of: Commission | None = None, **changes) -> Quote:
    return quotes.accept_quote(
        quote=sent(cast, of=of, **changes), name="Perpetua Vane", at=timezone.now()
    )


def addendum(
    cast: Cast, *, of: Commission, terms: RatesFrom = RatesFrom.VERSION, **changes
) -> Quote:
    return addenda.draft_addendum(
        commission=of, terms=terms, by=cast.owner, at=timezone.now(), **changes
    )


def accepted_addendum(cast: Cast, *, of: Commission, **changes) -> Quote:
    drafted = addendum(cast, of=of, **changes)
    sent = quotes.send_quote(quote=drafted, by=cast.owner, at=timezone.now())
    return quotes.accept_quote(quote=sent, name="Perpetua Vane", at=timezone.now())


def link(of: Commission) -> ShareLink:
    return sharing.make_share_link(commission=of, by=None, at=timezone.now())


def token(of: Commission) -> str:
    return link_token(link(of))


def rates(cast: Cast, **changes) -> PriceBook:
    book, _ = PriceBook.across_studios.update_or_create(
        studio=cast.studio, defaults=changes
    )
    return book


def enamel(cast: Cast, **changes) -> Material:
    facts = {
        "name": "Grey enamel",
        "kind": MaterialKind.ENAMEL,
        "unit": "g",
        "cost_per_unit": Decimal("0.12"),
        "used_per": UsedPer.PASS_AREA,
        "amount_used": Decimal(40),
    }
    return Material.across_studios.create(studio=cast.studio, **(facts | changes))


def image(*, size=(60, 40), colour="teal", name="photo.jpg") -> io.BytesIO:
    out = io.BytesIO()
    Image.new("RGB", size, colour).save(out, "JPEG")
    out.seek(0)
    out.name = name
    return out


def day(days: int, *, of: Cast | None = None) -> dt.date:
    """Return a day so many days from today where a studio is, else where the cast's is."""
    zone = make.ZONE if of is None else ZoneInfo(of.studio.time_zone)
    return timezone.localdate(timezone=zone) + dt.timedelta(days=days)
