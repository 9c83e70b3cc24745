"""Sends what waits to be sent: claimed by one worker, tried again until it is gone.

A worker that is killed before it hands a mail over leaves it to the next. One that is
killed in the moment between handing over and noting that cannot be told from it, so
such a mail goes out again, under the same Message-ID: twice, rather than never.
"""

import logging
import smtplib
from collections.abc import Callable
from datetime import datetime, timedelta
from email.utils import formataddr, parseaddr
from typing import TYPE_CHECKING

from django.conf import settings
from django.core.mail import EmailMessage
from django.db.models import F, Q

from studio.errors import Refused
from studio.models import Delivery, DeliveryState, Document, Phone
from studio.outbox import hand_over
from studio.selectors.messages import due_deliveries, is_still_wanted
from studio.services.messages import when_wanted
from studio.web_push import PhoneGone, push

if TYPE_CHECKING:
    from django.db.models import QuerySet

log = logging.getLogger(__name__)

# Longer than a slow mail server takes for all its steps.
LEASE = timedelta(minutes=10)
FIRST_PAUSE, LONGEST_PAUSE = timedelta(minutes=1), timedelta(hours=1)
# A server that is down for a day, or a weekend, loses nothing.
GIVE_UP_AFTER = timedelta(days=4)
# From this code on an SMTP answer is final (RFC 5321, section 4.2.1).
FINAL = 500
NO_SUCH_ADDRESS = (
    "The mail server does not take this address. Correct it, then send again."
)
NO_SENDER = "studio@localhost.invalid"


class MailServerAway(Exception):
    """The mail server cannot be reached: no other mail can be handed over now."""


def send_due(*, clock: Callable[[], datetime]) -> int:
    """Send everything that is due, pushes first; return how much was tried.

    A mail server that is not there is asked once in a run: nobody waits behind it.
    """
    count = 0
    for pk in due_deliveries(clock()):
        try:
            count += send_one(pk, clock=clock)
        except MailServerAway:
            return count + 1
    return count


def send_one(pk: int, *, clock: Callable[[], datetime]) -> bool:
    """Claim one delivery and send it; false if another worker has it."""
    now = clock()
    free = Q(state=DeliveryState.WAITING, send_at__lte=now) | Q(
        state=DeliveryState.SENDING, lease_until__lt=now
    )
    claimed = Delivery.across_studios.filter(free, pk=pk).update(
        state=DeliveryState.SENDING, lease_until=now + LEASE, attempts=F("attempts") + 1
    )
    if not claimed:
        return False
    delivery = Delivery.across_studios.select_related(
        "studio", "phone", "message", "paper"
    ).get(pk=pk)
    try:
        _send(delivery)
    except PhoneGone:
        if delivery.phone is not None:
            delivery.phone.gone_at = clock()
            delivery.phone.save(update_fields=["gone_at"])
        _end(delivery, "This phone no longer takes messages: it left the push service.")
    except Refused as problem:
        _end(delivery, str(problem))
    except smtplib.SMTPRecipientsRefused as problem:
        codes = [code for code, _ in problem.recipients.values()]
        if codes and min(codes) >= FINAL:
            _end(delivery, NO_SUCH_ADDRESS)
        else:
            _put_off(delivery, "The mail server asks to try later.", clock())
    except smtplib.SMTPException as problem:
        _put_off(delivery, _words(problem), clock())
    except OSError as problem:
        _put_off(delivery, _words(problem), clock())
        if delivery.phone is None:
            raise MailServerAway from problem
    except Exception as problem:  # a door: the log has it, the page what to do
        log.exception("Delivery %s", delivery.pk)
        _put_off(delivery, f"Something went wrong in the program: {problem}", clock())
    else:
        _mine(delivery).update(
            state=DeliveryState.SENT, sent_at=clock(), problem="", lease_until=None
        )
    return True


def _send(delivery: Delivery) -> None:
    if not is_still_wanted(delivery):
        raise Refused("Nobody wants this by this way any more.")
    if delivery.phone is not None:
        _push(delivery, delivery.phone)
        return
    name = f"{delivery.made_at:%Y%m%d-%H%M%S}-{delivery.pk}"
    hand_over(mail_of(delivery), studio_id=delivery.studio_id, name=name)


def mail_of(delivery: Delivery) -> EmailMessage:
    """Return a delivery as a mail; sent again it is the same mail.

    It comes from the studio's name at the server's address, and is answered to the
    studio's own. How to end such letters stands in the text and in the headers
    (RFC 2369; RFC 8058 where the address is https).
    """
    studio = delivery.studio
    sender = _sender(delivery)
    text, domain = delivery.text, sender.rpartition("@")[2]
    headers = {"Message-ID": f"<slowcool-{studio.pk}-{delivery.pk}@{domain}>"}
    if delivery.message is not None:
        # Nobody's absence is answered to the program (RFC 3834).
        headers["Auto-Submitted"] = "auto-generated"
    address = settings.ADDRESS
    if delivery.message is not None and address:
        text += f"\n\n{address}{delivery.message.path}"
    if delivery.stop_path and address:
        stop = f"{address}{delivery.stop_path}"
        text += f"\n\n--\nNo more letters like this: {stop}"
        headers["List-Unsubscribe"] = f"<{stop}>"
        if stop.startswith("https:"):
            headers["List-Unsubscribe-Post"] = "List-Unsubscribe=One-Click"
    mail = EmailMessage(
        subject=" ".join(delivery.subject.split()),
        body=f"{text}\n",
        from_email=formataddr((" ".join(studio.name.split()), sender)),
        to=[delivery.to],
        reply_to=[studio.email] if studio.email else [],
        headers=headers,
    )
    if delivery.paper is not None:
        mail.attach(
            f"{delivery.paper.title}.pdf", _bytes_of(delivery.paper), "application/pdf"
        )
    return mail


def _bytes_of(paper: Document) -> bytes:
    try:
        with paper.file.open("rb") as file:
            read: bytes = file.read()
            return read
    except FileNotFoundError as problem:
        raise Refused(
            "Its PDF is gone from the disk. Make it again, and send the letter anew."
        ) from problem


def _push(delivery: Delivery, phone: Phone) -> None:
    message = delivery.message
    if message is None:
        raise Refused("A letter cannot be pushed.")
    push(
        endpoint=phone.endpoint,
        p256dh=phone.p256dh,
        auth=phone.auth,
        told={
            "title": message.title,
            "text": message.text,
            "path": message.path,
            "key": message.key,
        },
        topic=message.key,
        is_urgent=message.is_urgent,
        sender_address=_sender(delivery),
    )


def _sender(delivery: Delivery) -> str:
    """Return the address that mail and pushes come from.

    The setting may have a name of its own before the address.
    """
    given = parseaddr(settings.DEFAULT_FROM_EMAIL)[1]
    return given or delivery.studio.email or NO_SENDER


def _words(problem: Exception) -> str:
    if isinstance(problem, smtplib.SMTPResponseException):
        said = problem.smtp_error
        text = said.decode("utf-8", "replace") if isinstance(said, bytes) else said
        return f"The mail server said: {problem.smtp_code} {text}"
    return str(problem) or type(problem).__name__


def _mine(delivery: Delivery) -> "QuerySet[Delivery]":
    return Delivery.across_studios.filter(
        pk=delivery.pk, state=DeliveryState.SENDING, attempts=delivery.attempts
    )


def _end(delivery: Delivery, problem: str) -> None:
    _mine(delivery).update(
        state=DeliveryState.FAILED, problem=problem[:300], lease_until=None
    )


def _put_off(delivery: Delivery, problem: str, now: datetime) -> None:
    if now - delivery.made_at > GIVE_UP_AFTER:
        _end(delivery, problem)
        return
    pause = min(FIRST_PAUSE * 2 ** min(delivery.attempts - 1, 10), LONGEST_PAUSE)
    _mine(delivery).update(
        state=DeliveryState.WAITING,
        problem=problem[:300],
        send_at=when_wanted(delivery, now + pause),
        lease_until=None,
    )


def send_again(*, delivery: Delivery, at: datetime) -> None:
    """Send what failed, or waits for its pause, now."""
    unsent = (DeliveryState.FAILED, DeliveryState.WAITING)
    Delivery.across_studios.filter(pk=delivery.pk, state__in=unsent).update(
        state=DeliveryState.WAITING, send_at=at, made_at=at
    )
