"""Takes a request in, or changes it, as one form writes it: client, picture, facts."""

from datetime import datetime
from typing import Any, BinaryIO

from django.db import transaction

from commissions.models import Client, Commission
from commissions.services.clients import create_client
from commissions.services.commissions import change_commission, create_commission
from studio.models import Person, Picture, Studio
from studio.services.pictures import add_picture


@transaction.atomic
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
    if client is None:
        client = create_client(studio=studio, by=by, at=at, **new_client)
    return create_commission(
        studio=studio,
        client=client,
        reference=_reference(studio, reference_file, by, at),
        by=by,
        at=at,
        **facts,
    )


@transaction.atomic
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
    if client is None:
        client = create_client(studio=studio, by=by, at=at, **new_client)
    if reference_file is not None:
        facts = facts | {"reference": _reference(studio, reference_file, by, at)}
    change_commission(commission=commission, client=client, by=by, at=at, **facts)


def _reference(
    studio: Studio, upload: BinaryIO | None, by: Person, at: datetime
) -> Picture | None:
    if upload is None:
        return None
    name = str(getattr(upload, "name", "The file"))
    return add_picture(
        studio=studio, upload=upload, name=name, by=by, at=at, caption="Reference"
    )
