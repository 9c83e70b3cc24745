"""Who shares the kilns, on which terms, who is invoiced for them, and the rates."""

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from commissions.models import Client
from commissions.services.clients import create_client
from studio.errors import Refused
from studio.models import Kiln, KilnUser, Person, Studio
from studio.services import history
from studio.services.locks import held
from studio.tenancy import same_studio


@transaction.atomic
def save_kiln_user(
    *,
    studio: Studio,
    name: str,
    terms: str,
    free_hours: Decimal,
    by: Person | None,
    at: datetime,
    user: KilnUser | None = None,
    person: Person | None = None,
    client: Client | None = None,
    is_retired: bool = False,
) -> KilnUser:
    """Add or change a maker who shares the kilns.

    Parameters
    ----------
    user : KilnUser or None
        Who is changed; none adds one.
    client : Client or None
        Who is invoiced; none keeps who was, or makes a client of this name.

    Raises
    ------
    Refused
        When the name, the person or the client is another kiln user's already.
    """
    same_studio(studio, *filter(None, [user, client]))
    is_new = user is None
    saved = user or KilnUser(studio=studio)
    saved.name, saved.terms, saved.free_hours = name, terms, free_hours
    saved.person, saved.is_retired = person, is_retired
    _refuse_taken(saved, client)
    saved.save()
    payer = Client.owned.for_studio(studio).filter(kiln_user=saved).first()
    if client is not None and client != payer:
        if payer is not None:
            payer.kiln_user = None
            payer.save(update_fields=["kiln_user"])
        client.kiln_user = saved
        client.save(update_fields=["kiln_user"])
    elif payer is None:
        payer = create_client(studio=studio, name=name, by=by, at=at)
        payer.kiln_user = saved
        payer.save(update_fields=["kiln_user"])
    hours = f", {free_hours.normalize():f} free hours a month" if free_hours else ""
    _tell(
        studio,
        f"{'New kiln user' if is_new else 'Changed kiln user'} {name}: "
        f"{saved.get_terms_display().lower()}{hours}"
        f"{', no longer shares the kilns' if is_retired else ''}",
        by=by,
        at=at,
    )
    return saved


def _refuse_taken(user: KilnUser, client: Client | None) -> None:
    others = KilnUser.owned.for_studio(user.studio).exclude(pk=user.pk)
    if others.filter(name=user.name).exists():
        raise Refused(
            f"There is a kiln user “{user.name}” already. Choose another name."
        )
    if user.person is not None and others.filter(person=user.person).exists():
        raise Refused(f"{user.person} is a kiln user already.")
    if client is not None and client.kiln_user_id not in (None, user.pk):
        raise Refused(f"{client} is invoiced for {client.kiln_user} already.")


@transaction.atomic
def set_kiln_rates(
    *,
    studio: Studio,
    rates: Mapping[int, tuple[Decimal | None, Decimal | None]],
    by: Person | None,
    at: datetime,
) -> None:
    """Set what members and guests pay for an hour of each kiln, by its key.

    No rate of their own: they pay the kiln's price.
    """
    kilns = held(Kiln.owned.for_studio(studio)).filter(pk__in=rates).order_by("pk")
    for kiln in kilns:
        kiln.member_rate, kiln.guest_rate = rates[kiln.pk]
        kiln.save(update_fields=["member_rate", "guest_rate"])
    _tell(studio, "Changed what members and guests pay for the kilns", by=by, at=at)


def _tell(studio: Studio, what: str, *, by: Person | None, at: datetime) -> None:
    history.record(studio=studio, by=by, at=at, what=what, is_about_money=True)
