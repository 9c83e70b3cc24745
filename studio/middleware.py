"""Resolves who asks: `request.membership`, `request.studio`, and the studio's zone.

And how long they stay signed in.
"""

from collections.abc import Callable
from typing import cast
from zoneinfo import ZoneInfo

from django.contrib.auth import logout
from django.contrib.auth.signals import user_logged_in
from django.dispatch import receiver
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from studio.http import OPEN_STUDIO, VisitorRequest, client_address
from studio.models import Person
from studio.selectors import people
from studio.services.devices import begin_session, keep_signed_in
from studio.sessions import BEGAN, STEP, SessionStore, end_of


@receiver(user_logged_in)
def note_sign_in(request: HttpRequest, user: Person, **_: object) -> None:
    """Let a session begin that its person finds in their list of devices."""
    begin_session(
        request.session,
        person=user,
        address=client_address(request),
        user_agent=request.headers.get("User-Agent", ""),
        at=timezone.now(),
    )


def keep_session(request: HttpRequest) -> None:
    """Move the end of a session that is used; leave one that never began."""
    session = cast(SessionStore, request.session)
    if BEGAN not in session:
        logout(request)
    elif session.ends_at is not None:
        now = timezone.now()
        until = end_of(session[BEGAN], now)
        if until - session.ends_at >= STEP:
            keep_signed_in(session_key=str(session.session_key), until=until, at=now)


class StudioMiddleware:
    """Finds the member's studio; a person of several has one open at a time."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: VisitorRequest) -> HttpResponse:
        request.membership = None
        request.studio = None
        if request.user.is_authenticated:
            keep_session(request)
        if request.user.is_authenticated:
            chosen = request.session.get(OPEN_STUDIO)
            request.membership = people.membership_of(request.user, chosen)
        if request.membership is not None:
            request.studio = request.membership.studio
            with timezone.override(ZoneInfo(request.studio.time_zone)):
                return self.get_response(request)
        return self.get_response(request)
