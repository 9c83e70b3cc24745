"""The devices on which a person is signed in: noted, kept, ended."""

import logging
from datetime import datetime

from django.contrib.sessions.backends.base import SessionBase
from django.contrib.sessions.models import Session
from django.db import DatabaseError, transaction
from ua_parser import parse

from studio.jobs import on_forget
from studio.models import Person, SignedIn
from studio.sessions import BEGAN

log = logging.getLogger(__name__)

# What a browser says of itself may be of any length; what is known stands in front.
LOOKED_AT = 300
SHOWN_AS = {"Mac OS X": "Mac", "Chrome OS": "Chromebook"}


def begin_session(
    session: SessionBase, *, person: Person, address: str, user_agent: str, at: datetime
) -> None:
    """Let the session of somebody who showed who they are begin, and note where."""
    session[BEGAN] = at.timestamp()
    session.save()  # The note points at its row.
    SignedIn.objects.create(
        session_id=str(session.session_key),
        person=person,
        signed_in_at=at,
        used_at=at,
        address=address,
        browser=browser_words(user_agent),
    )


def keep_signed_in(*, session_key: str, until: datetime, at: datetime) -> None:
    """Note that a session is used. Where that cannot be written, work goes on."""
    try:
        with transaction.atomic():
            Session.objects.filter(pk=session_key).update(expire_date=until)
            SignedIn.objects.filter(session=session_key).update(used_at=at)
    except DatabaseError as problem:
        log.warning("A session's use could not be noted: %s", problem)


def end_device(*, device: SignedIn) -> None:
    """Sign out there, at once: its next request finds no session."""
    Session.objects.filter(signed_in=device).delete()


def end_devices(*, person: Person, but: str | None = None) -> int:
    """Sign the person out everywhere, but for one session; return how many ended."""
    sessions = Session.objects.filter(signed_in__person=person)
    return sessions.exclude(pk=but).delete()[1].get(SignedIn._meta.label, 0)


def browser_words(user_agent: str) -> str:
    """Return a browser as people call it: Safari on iPad."""
    if not user_agent:
        return ""
    found = parse(user_agent[:LOOKED_AT])
    browser = found.user_agent.family if found.user_agent else ""
    # A phone's own name is often a code; only those that people know are shown.
    device = found.device.family if found.device else ""
    machine = found.os.family if found.os else ""
    if device in {"iPad", "iPhone"}:
        machine = device
    browser = browser.removeprefix("Mobile ").removesuffix(" Mobile")
    words = " on ".join(filter(None, (browser, SHOWN_AS.get(machine, machine))))
    return words[: SignedIn._meta.get_field("browser").max_length]


@on_forget
def forget_sessions(now: datetime) -> int:
    """Delete sessions that are over; return how many."""
    return Session.objects.filter(expire_date__lt=now).delete()[0]
