"""Tells people of the studio what they want to know: once, and when they want it."""

import logging
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from functools import partial
from zoneinfo import ZoneInfo

from django.core import signing
from django.db import transaction
from django.urls import reverse

from studio.errors import Refused
from studio.jobs import on_forget
from studio.letters import Letter
from studio.models import (
    Delivery,
    Membership,
    Message,
    MessageWishes,
    Person,
    Phone,
    StoppedAddress,
    Studio,
    Topic,
)
from studio.roles import Can, allowed
from studio.selectors.messages import has_stopped, wishes_of
from studio.services.locks import held
from studio.viewer import Viewer
from studio.web_push import check_endpoint, check_keys

log = logging.getLogger(__name__)

MOST_PHONES = 8
MORNING_LASTS = timedelta(hours=3)
KEPT_FOR = timedelta(days=90)
STOP_SALT, ADDRESS_SALT = "studio.no more of this", "studio.no more letters"


@transaction.atomic
def tell(
    *,
    studio: Studio,
    topic: str,
    key: str,
    write: Callable[[Viewer], Letter],
    path: str,
    at: datetime,
    is_urgent: bool = False,
) -> None:
    """Tell everybody in the studio who wants to know, each in their own units.

    Told twice under one key is told once. It is sent by the worker, after the caller's
    transaction.
    """
    members = Membership.owned.for_studio(studio).filter(is_active=True)
    for membership in members.select_related("person", "studio").order_by("pk"):
        if Topic(topic) in topics_for(membership):
            _tell_one(membership, topic, key, write, path, at, is_urgent=is_urgent)


def topics_for(membership: Membership) -> list[Topic]:
    """Return what a member may be told of: what clients answer is about money."""
    sees_money = allowed(membership.role, Can.SEE_MONEY)
    return [one for one in Topic if one is not Topic.CLIENTS or sees_money]


def _tell_one(
    membership: Membership,
    topic: str,
    key: str,
    write: Callable[[Viewer], Letter],
    path: str,
    at: datetime,
    *,
    is_urgent: bool,
) -> None:
    studio, person = membership.studio, membership.person
    wishes = wishes_of(membership)
    if topic not in wishes.mail and topic not in wishes.phone:
        return
    if _told(studio, person, key):
        return
    letter = write(Viewer.of_member(membership))
    message, is_new = Message.across_studios.get_or_create(
        studio=studio,
        person=person,
        key=key,
        defaults={
            "topic": topic,
            "title": letter.title[:160],
            "text": letter.text,
            "path": path,
            "is_urgent": is_urgent,
            "made_at": at,
        },
    )
    if not is_new:
        return
    send_at = at
    # The hour of the morning's message was chosen, too.
    if topic != Topic.TODAY and not (is_urgent and wishes.is_woken):
        send_at = after_quiet(wishes, at, ZoneInfo(studio.time_zone))
    ways: list[dict[str, object]] = []
    if topic in wishes.mail:
        stop = reverse("studio:message_stop", args=[stop_token(membership, topic)])
        ways.append(
            {
                "to": person.email,
                "subject": letter.title[:200],
                "text": letter.text,
                "stop_path": stop,
            }
        )
    if topic in wishes.phone:
        standing = Phone.owned.for_studio(studio).filter(
            person=person, gone_at__isnull=True
        )
        ways += [{"phone": phone} for phone in standing.order_by("pk")]
    for way in ways:
        Delivery.across_studios.create(
            studio=studio, message=message, made_at=at, send_at=send_at, **way
        )


def tell_the_morning(
    *, write: Callable[[Viewer, datetime], Letter | None], now: datetime
) -> None:
    """Tell everybody whose hour it is what is to be done today, once a day.

    A program that was off at that hour still tells it within three hours.
    """
    members = Membership.across_studios.filter(
        is_active=True, studio__delete_at__isnull=True
    )
    for membership in members.select_related("person", "studio").order_by("pk"):
        try:
            _tell_morning(membership, write, now)
        except Exception:  # a door: one studio's trouble keeps no other's message back
            log.exception("The morning of membership %s", membership.pk)


def _tell_morning(
    membership: Membership,
    write: Callable[[Viewer, datetime], Letter | None],
    now: datetime,
) -> None:
    local = now.astimezone(ZoneInfo(membership.studio.time_zone))
    wishes = wishes_of(membership)
    begins = datetime.combine(local.date(), wishes.morning_at, tzinfo=local.tzinfo)
    key = f"today {local.date()}"
    if (
        not begins <= local < begins + MORNING_LASTS
        or _told(membership.studio, membership.person, key)
        or Topic.TODAY not in (*wishes.mail, *wishes.phone)
    ):
        return
    letter = write(Viewer.of_member(membership), now)
    if letter is None:
        return
    with transaction.atomic():
        _tell_one(
            membership,
            Topic.TODAY,
            key,
            partial(_same, letter),
            reverse("studio:today"),
            now,
            is_urgent=False,
        )


def _same(letter: Letter, viewer: Viewer) -> Letter:
    return letter


def _told(studio: Studio, person: Person, key: str) -> bool:
    return Message.owned.for_studio(studio).filter(person=person, key=key).exists()


def after_quiet(wishes: MessageWishes, at: datetime, zone: ZoneInfo) -> datetime:
    """Return when somebody may be disturbed: now, or at the end of their quiet hours."""
    begins, ends = wishes.quiet_from, wishes.quiet_to
    if begins is None or ends is None or begins == ends:
        return at
    local = at.astimezone(zone)
    clock = local.time().replace(tzinfo=None)
    is_over_midnight = begins > ends
    is_quiet = (
        (clock >= begins or clock < ends)
        if is_over_midnight
        else begins <= clock < ends
    )
    if not is_quiet:
        return at
    day = local.date()
    if is_over_midnight and clock >= begins:
        day += timedelta(days=1)
    return datetime.combine(day, ends, tzinfo=zone).astimezone(UTC)


def when_wanted(delivery: Delivery, at: datetime) -> datetime:
    """Return when a delivery that is put off may go out: quiet hours hold for it too."""
    message = delivery.message
    if message is None:
        return at
    membership = Membership.owned.for_studio(delivery.studio).get(
        person=message.person_id
    )
    wishes = wishes_of(membership)
    if message.is_urgent and wishes.is_woken:
        return at
    return after_quiet(wishes, at, ZoneInfo(delivery.studio.time_zone))


def stop_token(membership: Membership, topic: str) -> str:
    """Return what ends one person's mail on a topic, without signing in."""
    return signing.dumps([membership.pk, topic], salt=STOP_SALT)


def stopped_by(token: str) -> tuple[Membership, Topic] | None:
    """Return whose mail on what a token ends; none if it is none of ours."""
    try:
        pk, given = signing.loads(token, salt=STOP_SALT)
        topic = Topic(given)
    except (signing.BadSignature, ValueError, TypeError):
        return None
    found = Membership.across_studios.filter(pk=pk).select_related("studio", "person")
    membership: Membership | None = found.first()
    return None if membership is None else (membership, topic)


@transaction.atomic
def stop_mail(*, membership: Membership, topic: Topic) -> None:
    """Send somebody no more mail on a topic; the rest of their wishes stays."""
    held(Membership.across_studios).get(pk=membership.pk)
    wishes = wishes_of(membership)
    save_wishes(
        membership=membership,
        mail=[one for one in wishes.mail if one != topic],
        phone=wishes.phone,
        quiet_from=wishes.quiet_from,
        quiet_to=wishes.quiet_to,
        is_woken=wishes.is_woken,
        morning_at=wishes.morning_at,
    )


def address_token(studio: Studio, address: str) -> str:
    """Return what ends a studio's letters to an address, and allows them again."""
    return signing.dumps([studio.pk, address], salt=ADDRESS_SALT)


def address_of(token: str) -> tuple[Studio, str] | None:
    """Return whose letters to which address a token ends; none if it is none of ours."""
    try:
        pk, address = signing.loads(token, salt=ADDRESS_SALT)
    except (signing.BadSignature, ValueError, TypeError):
        return None
    studio = Studio.objects.filter(pk=pk).first()
    return None if studio is None else (studio, str(address))


def stop_letters(*, studio: Studio, address: str, at: datetime) -> None:
    """Send a studio's letters to an address no more."""
    StoppedAddress.across_studios.get_or_create(
        studio=studio, address=address.strip().lower(), defaults={"at": at}
    )


def allow_letters(*, studio: Studio, address: str) -> None:
    """Allow a studio's letters to an address again: only its reader has the link."""
    stopped = StoppedAddress.owned.for_studio(studio)
    stopped.filter(address=address.strip().lower()).delete()


def save_wishes(*, membership: Membership, **wishes: object) -> None:
    """Keep what somebody wants to be told of, how and when."""
    MessageWishes.across_studios.update_or_create(
        studio=membership.studio, person=membership.person, defaults=wishes
    )


def add_phone(
    *,
    membership: Membership,
    name: str,
    endpoint: str,
    p256dh: str,
    auth: str,
    at: datetime,
) -> Phone:
    """Send a person's messages to this browser too; asking again renews it.

    Raises
    ------
    Refused
        When its address is no push service's, its keys are none, or the person has many
        already.
    """
    check_keys(p256dh, auth)
    try:
        # Outside a transaction: a name server may be slow.
        check_endpoint(endpoint)
    except OSError as problem:
        raise Refused("The push service of this browser is not found.") from problem
    mine = Phone.owned.for_studio(membership.studio)
    others = mine.filter(person=membership.person, gone_at__isnull=True).exclude(
        endpoint=endpoint
    )
    if others.count() >= MOST_PHONES:
        raise Refused(f"You have {MOST_PHONES} phones here. Remove one first.")
    phone: Phone
    phone, _ = Phone.across_studios.update_or_create(
        studio=membership.studio,
        endpoint=endpoint,
        defaults={
            "person": membership.person,
            "name": name[:120] or "Phone",
            "p256dh": p256dh,
            "auth": auth,
            "made_at": at,
            "gone_at": None,
        },
    )
    return phone


def remove_phone(*, phone: Phone) -> None:
    """Send nothing to a phone any more."""
    phone.delete()


@transaction.atomic
def post_letter(
    *,
    studio: Studio,
    to: str,
    subject: str,
    text: str,
    at: datetime,
    paper_id: int | None = None,
    stop_path: str = "",
) -> Delivery:
    """Have a letter of the studio sent to one address.

    Raises
    ------
    Refused
        When the address asked for no more letters.
    """
    if has_stopped(studio, to):
        raise Refused(
            f"{to} asked for no more letters from the studio. Write or call "
            "yourself; they can allow letters again by the link in the last one."
        )
    made: Delivery = Delivery.across_studios.create(
        studio=studio,
        to=to.strip(),
        subject=" ".join(subject.split())[:200],
        text=text,
        paper_id=paper_id,
        stop_path=stop_path,
        made_at=at,
        send_at=at,
    )
    return made


@on_forget
def forget_messages(now: datetime) -> int:
    """Delete what was told three months ago."""
    return Message.across_studios.filter(made_at__lt=now - KEPT_FOR).delete()[0]
