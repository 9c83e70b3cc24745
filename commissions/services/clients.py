"""Adds clients and corrects their details."""

from datetime import datetime

from django.db import transaction

from commissions.models import Client
from studio.models import Person, Studio
from studio.services import history


@transaction.atomic
def create_client(
    *,
    studio: Studio,
    name: str,
    by: Person | None,
    at: datetime,
    email: str = "",
    phone: str = "",
    address: str = "",
    note: str = "",
) -> Client:
    """Add a client."""
    client = Client.across_studios.create(
        studio=studio,
        name=name,
        email=email,
        phone=phone,
        address=address,
        note=note,
        created_at=at,
    )
    _tell(client, by=by, at=at, what=f"New client {name}")
    return client


@transaction.atomic
def change_client(
    *,
    client: Client,
    name: str,
    email: str,
    phone: str,
    address: str,
    note: str,
    by: Person | None,
    at: datetime,
) -> None:
    """Correct a client's details; quotes already issued keep what they say."""
    client.name = name
    client.email = email
    client.phone = phone
    client.address = address
    client.note = note
    client.save()
    _tell(client, by=by, at=at, what=f"Changed the details of client {name}")


def _tell(client: Client, *, by: Person | None, at: datetime, what: str) -> None:
    history.record(
        studio=client.studio,
        by=by,
        at=at,
        what=what,
        subject=f"client {client.pk}",
        is_about_money=True,
    )
