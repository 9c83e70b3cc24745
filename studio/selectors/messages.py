"""Reads of messages, of what people want to be told, and of what waits to be sent."""

from datetime import datetime, time

from django.db.models import F, Prefetch, Q

from studio.models import (
    Delivery,
    DeliveryState,
    Membership,
    Message,
    MessageWishes,
    Phone,
    StoppedAddress,
    Studio,
    Topic,
)
from studio.tenancy import StudioQuerySet

SHOWN = 50


def wishes_of(membership: Membership) -> MessageWishes:
    """Return what a member wants to be told of; everything, until they choose."""
    found: MessageWishes | None = (
        MessageWishes.owned.for_studio(membership.studio)
        .filter(person=membership.person)
        .first()
    )
    return found or MessageWishes(
        studio=membership.studio,
        person=membership.person,
        mail=list(Topic.values),
        phone=list(Topic.values),
        quiet_from=time(22),
        quiet_to=time(7),
    )


def messages_to(membership: Membership) -> list[Message]:
    """Return what somebody was told last, with how it was sent."""
    sent = Delivery.owned.for_studio(membership.studio).select_related("phone")
    return list(
        Message.owned.for_studio(membership.studio)
        .filter(person=membership.person)
        .prefetch_related(Prefetch("deliveries", queryset=sent))
        .order_by("-made_at", "-pk")[:SHOWN]
    )


def phones_of(membership: Membership) -> StudioQuerySet[Phone]:
    """Return a member's phones that take messages."""
    return Phone.owned.for_studio(membership.studio).filter(
        person=membership.person, gone_at__isnull=True
    )


def failed_deliveries(
    membership: Membership, *, every: bool
) -> StudioQuerySet[Delivery]:
    """Return what could not be sent: of `every`body, or to this member alone."""
    found = Delivery.owned.for_studio(membership.studio)
    if not every:
        found = found.filter(message__person=membership.person)
    return (
        found.filter(state=DeliveryState.FAILED)
        .select_related("phone", "message")
        .order_by("-made_at", "-pk")
    )


def due_deliveries(now: datetime) -> list[int]:
    """Return the keys of what is to be sent now, in whatever studio."""
    waits = Q(state=DeliveryState.WAITING, send_at__lte=now)
    was_left = Q(state=DeliveryState.SENDING, lease_until__lt=now)
    return list(
        Delivery.across_studios.filter(waits | was_left)
        # Pushes, then what calls somebody, then letters.
        .order_by(
            F("phone").asc(nulls_last=True),
            F("message__is_urgent").desc(nulls_last=True),
            "send_at",
            "pk",
        )
        .values_list("pk", flat=True)[:SHOWN]
    )


def has_stopped(studio: Studio, address: str) -> bool:
    """Return whether an address asked for no more letters from a studio."""
    stopped = StoppedAddress.owned.for_studio(studio)
    return stopped.filter(address=address.strip().lower()).exists()


def is_still_wanted(delivery: Delivery) -> bool:
    """Return whether whoever it is for still belongs here, and wants it by this way."""
    message, phone = delivery.message, delivery.phone
    if message is None:
        return not has_stopped(delivery.studio, delivery.to)
    membership = (
        Membership.owned.for_studio(delivery.studio)
        .filter(person=message.person_id, is_active=True)
        .select_related("studio", "person")
        .first()
    )
    if membership is None or (phone and phone.person_id != message.person_id):
        return False
    wishes = wishes_of(membership)
    return message.topic in (wishes.mail if phone is None else wishes.phone)
