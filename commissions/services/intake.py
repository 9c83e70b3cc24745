"""Takes a request in, or changes it, as one form writes it: client, picture, facts."""

from datetime import datetime
from typing import Any, BinaryIO

from django.db import transaction

from commissions.models import Client, Commission
from commissions.services.clients import create_client
from commissions.services.commissions import change_commission, create_commission
from studio.models import Person, Picture, Studio
from studio.services.photographs import Developed, develop
from studio.services.pictures import keep_picture


def take_in(
    *,
    studio: Studio,
    client: Client | None,
    new_client: dict[str, str],
    reference_file: BinaryIO | None,
    facts: dict[str, Any],
    by: Person,
    at: datetime,
) -> Commission:
    """Take a request in with its new client and its picture, all or nothing.

    Raises
    ------
    Refused
        When the picture cannot be read or no layer would carry an image.
    """
    developed = _developed(reference_file)
    with transaction.atomic():
        if client is None:
            client = create_client(studio=studio, by=by, at=at, **new_client)
        return create_commission(
            studio=studio,
            client=client,
            reference=_reference(studio, developed, by, at),
            by=by,
            at=at,
            **facts,
        )


def change(
    *,
    commission: Commission,
    client: Client | None,
    new_client: dict[str, str],
    reference_file: BinaryIO | None,
    facts: dict[str, Any],
    by: Person,
    at: datetime,
) -> None:
    """Change a request; without a new picture the old one stays.

    Raises
    ------
    Refused
        When a quote is accepted, or the picture cannot be read.
    """
    studio = commission.studio
    developed = _developed(reference_file)
    with transaction.atomic():
        if client is None:
            client = create_client(studio=studio, by=by, at=at, **new_client)
        if developed is not None:
            facts = facts | {"reference": _reference(studio, developed, by, at)}
        change_commission(commission=commission, client=client, by=by, at=at, **facts)


def _developed(upload: BinaryIO | None) -> Developed | None:
    if upload is None:
        return None
    return develop(upload, str(getattr(upload, "name", "The file")))


def _reference(
    studio: Studio, developed: Developed | None, by: Person, at: datetime
) -> Picture | None:
    if developed is None:
        return None
    return keep_picture(
        studio=studio, developed=developed, by=by, at=at, caption="Reference"
    )
