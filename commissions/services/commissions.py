"""Creates and changes commissions."""

from datetime import date, datetime
from decimal import Decimal
from typing import TypedDict, Unpack

from django.db import transaction

from commissions.models import Client, Commission
from commissions.selectors.quotes import accepted_quote
from commissions.services.notes import note
from studio.errors import Refused
from studio.models import Glass, Person, Picture, Studio
from studio.services.locks import held
from studio.tenancy import same_studio


class CommissionFacts(TypedDict, total=False):
    """What a commission is about; lengths in mm."""

    title: str
    brief: str
    reference: Picture | None
    width_mm: float
    height_mm: float
    layer_count: int
    cap_count: int
    technique: str
    passes_per_layer: int
    glass: Glass
    is_dammed: bool
    maquette_layer_count: int
    maquette_width_mm: float | None
    maquette_height_mm: float | None
    gallery: Client | None
    gallery_cut_percent: Decimal
    gallery_sells: bool
    gallery_returns_date: date | None
    wanted_by_date: date | None


@transaction.atomic
def create_commission(
    *,
    studio: Studio,
    client: Client,
    by: Person | None,
    at: datetime,
    request_key: str = "",
    **facts: Unpack[CommissionFacts],
) -> Commission:
    """Create a commission; `request_key` is that of the form it came from, if any.

    Raises
    ------
    Refused
        When no layer would carry an image.
    """
    same_studio(
        studio,
        client,
        facts.get("glass"),
        facts.get("reference"),
        facts.get("gallery"),
    )
    commission = Commission(
        studio=studio,
        client=client,
        created_by=by,
        created_at=at,
        request_key=request_key,
        **facts,
    )
    _refuse_empty_picture(commission)
    commission.save()
    note(commission, by=by, at=at, what=f"New commission {commission.title}")
    return commission


@transaction.atomic
def change_commission(
    *,
    commission: Commission,
    by: Person | None,
    at: datetime,
    client: Client | None = None,
    **facts: Unpack[CommissionFacts],
) -> None:
    """Change the brief; existing quotes keep what they were made from.

    What was accepted stands as it is until the client accepts an addendum to it.

    Raises
    ------
    Refused
        When no layer would carry an image, or a client who accepted would be changed.
    """
    same_studio(
        commission.studio,
        client,
        facts.get("glass"),
        facts.get("reference"),
        facts.get("gallery"),
    )
    current = locked(commission)
    if client is not None and client.pk != current.client_id:
        if (accepted := accepted_quote(current)) is not None:
            raise Refused(
                f"{current.client} accepted quote {accepted.version}, so this stays "
                "their commission. Take in another one for another client."
            )
        current.client = client
    for name, value in facts.items():
        setattr(current, name, value)
    _refuse_empty_picture(current)
    current.save()
    note(current, by=by, at=at, what=f"Changed commission {current.title}")


def locked(commission: Commission) -> Commission:
    """Reread a commission and lock it: quotes, answers and payments wait here."""
    found: Commission = (
        held(Commission.across_studios)
        .select_related("studio", "client", "glass", "gallery")
        .get(pk=commission.pk)
    )
    return found


def refuse_closed(commission: Commission) -> None:
    """Refuse to go on with a commission that was closed.

    Raises
    ------
    Refused
        With why it was closed.
    """
    if commission.closed_at is not None:
        raise Refused(
            f"{commission.title} is closed: {commission.closed_reason}. Reopen it first."
        )


def _refuse_empty_picture(commission: Commission) -> None:
    if commission.cap_count >= commission.layer_count:
        raise Refused(
            f"Of {commission.layer_count} layers {commission.cap_count} are clear "
            "caps, so none carries an image. Take fewer caps or more layers."
        )
    if commission.maquette_layer_count == 1 and commission.cap_count:
        raise Refused("A maquette with a cap needs at least two layers.")
