"""Resolves who asks: `request.membership`, `request.studio`, and the studio's zone.

And how long they stay signed in, and that a record which comes twice counts once.
"""

import re
from collections.abc import Callable
from typing import cast
from zoneinfo import ZoneInfo

from django.contrib.auth import logout
from django.contrib.auth.signals import user_logged_in
from django.dispatch import receiver
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.utils import timezone

from studio.http import (
    OPEN_STUDIO,
    StudioRequest,
    View,
    VisitorRequest,
    client_address,
    go_to,
    kept_for,
    needs_second_step,
    who,
)
from studio.models import Person
from studio.selectors import people
from studio.services.devices import begin_session, keep_signed_in
from studio.services.sent_once import take_once
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


ONCE_KEY = re.compile("[0-9a-f]{32}")
DONE, NOT_THEIRS = 204, 401
NOT_RECORDED = (
    "Not recorded: somebody else has signed in on this device, or another studio is "
    "open. Load this page again."
)


class OnceMiddleware:
    """Takes a form with a key once, however often it comes.

    A phone sends again what it kept without a connection, or whose answer got lost. It
    is told the outcome by the status alone: what is to be read is on the next page.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(
        self,
        request: VisitorRequest,
        view: View,
        args: tuple[object, ...],
        kwargs: dict[str, object],
    ) -> HttpResponseBase | None:
        key = request.POST.get("once", "") if request.method == "POST" else ""
        if request.membership is None or not ONCE_KEY.fullmatch(key):
            return None
        member = cast(StudioRequest, request)
        # Whoever is signed in now must not record what another did, or elsewhere.
        if request.POST.get("once_who") != who(member) or needs_second_step(member):
            return HttpResponse(
                NOT_RECORDED,
                status=NOT_THEIRS,
                content_type="text/plain; charset=utf-8",
            )
        answer = take_once(
            person=member.user,
            key=key,
            at=timezone.now(),
            act=lambda: view(request, *args, **kwargs),
        )
        if isinstance(answer, str):
            answer = go_to(request, answer or "studio:today")
        if kept_for(request) is not None and answer.status_code < 400:
            return HttpResponse(status=DONE)
        return answer
