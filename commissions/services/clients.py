"""Adds clients and corrects their details."""

from datetime import datetime

from django.db import transaction

from commissions.models import Client, TaxStatus
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
    tax_status: str = TaxStatus.TAXED,
    tax_number: str = "",
) -> Client:
    """Add a client."""
    client = Client.across_studios.create(
        studio=studio,
        name=name,
        email=email,
        phone=phone,
        address=address,
        note=note,
        tax_status=tax_status,
        tax_number=tax_number,
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
    tax_status: str | None = None,
    tax_number: str | None = None,
) -> None:
    """Correct a client's details; papers already issued keep what they say.

    What is not given of their tax stays as it is.
    """
    client.name = name
    client.email = email
    client.phone = phone
    client.address = address
    client.note = note
    if tax_status is not None:
        client.tax_status = tax_status
    if tax_number is not None:
        client.tax_number = tax_number
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
