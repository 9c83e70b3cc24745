"""How many wrong passwords and codes are taken, and what opens a lock again.

django-axes asks before every password and is told of every failure; here is what it
counts. Each limit stands alone: one name from one address, one name from anywhere, one
address for any name, and a device on which its person has signed in before. A count
begins anew an hour after its last failure. Guesses sent at once are let in before any of
them is counted, so a limit is passed by as many as the web server has threads.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from axes.handlers.database import AxesDatabaseHandler
from axes.handlers.proxy import AxesProxyHandler
from axes.helpers import get_client_username, get_cool_off
from axes.models import AccessAttempt, AccessFailureLog, AccessLog
from django.conf import settings
from django.contrib.auth.signals import user_login_failed
from django.db import transaction
from django.db.models import F, Max, Q, Sum
from django.http import HttpRequest

from studio.errors import Refused
from studio.jobs import on_forget
from studio.models import Person
from studio.services import second_step
from studio.services.known_devices import device_of

# Several people share one address, so it may have more failures than one of them; and a
# name more than from one address, because its person may be elsewhere.
MOST_OF_A_NAME = 20
MOST_OF_AN_ADDRESS = 30


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asker:
    """Who wants to be let in. `device` is empty where the person never was before."""

    name: str
    address: str | None
    device: str

    @property
    def limits(self) -> list[tuple[Q, int]]:
        """Return what is counted and how many failures it may have."""
        most = settings.AXES_FAILURE_LIMIT
        name, address = Q(username=self.name), Q(ip_address=self.address)
        if self.device:
            return [(name & Q(user_agent=self.device), most)]
        unknown = Q(user_agent="")
        return [
            (unknown & name & address, most),
            (unknown & name, MOST_OF_A_NAME),
            (unknown & address, MOST_OF_AN_ADDRESS),
        ]


class Throttle(AxesDatabaseHandler):  # type: ignore[misc] # axes has no types
    """What axes counts; the limits' rows live for an hour after their last failure."""

    def is_locked(
        self, request: HttpRequest, credentials: dict[str, Any] | None = None
    ) -> bool:
        """Return whether any limit is used up."""
        since = request.axes_attempt_time - get_cool_off(request)  # type: ignore[attr-defined]
        return any(
            _failures(counted, since) >= most
            for counted, most in _asker(request, credentials).limits
        )

    @transaction.atomic
    def user_login_failed(
        self,
        sender: object,
        credentials: dict[str, Any],
        request: HttpRequest | None = None,
        **_: object,
    ) -> None:
        """Count a failure; what was asked while locked does not make it longer."""
        if request is None or request.axes_locked_out:  # type: ignore[attr-defined]
            return
        self.clean_expired_user_attempts(request, credentials)
        asker = _asker(request, credentials)
        # Of what was typed only the name is kept: a form may hold a password.
        attempt, is_new = AccessAttempt.objects.select_for_update().get_or_create(
            username=asker.name,
            ip_address=asker.address,
            user_agent=asker.device,
            defaults={"failures_since_start": 1},
        )
        if not is_new:
            attempt.failures_since_start = F("failures_since_start") + 1
            attempt.attempt_time = request.axes_attempt_time  # type: ignore[attr-defined]
            attempt.save(update_fields=["failures_since_start", "attempt_time"])
        if self.is_locked(request, credentials):
            request.axes_locked_out = True  # type: ignore[attr-defined]

    def user_logged_in(
        self, sender: object, request: HttpRequest, user: Person, **_: object
    ) -> None:
        """Forget the person's own failures; a stranger's guesses still count."""
        asker = _asker(request, {"username": user.email})
        AccessAttempt.objects.filter(asker.limits[0][0]).delete()


def _asker(request: HttpRequest, credentials: dict[str, Any] | None) -> _Asker:
    name = (get_client_username(request, credentials) or "").strip().lower()
    device, cookie = "", request.COOKIES.get(settings.DEVICE_COOKIE_NAME, "")
    if cookie and (person := Person.objects.filter(email=name).first()):
        device = device_of(cookie, person)
    address: str = request.axes_ip_address  # type: ignore[attr-defined]
    return _Asker(name=name, address=address or None, device=device)


def _failures(counted: Q, since: datetime) -> int:
    found = AccessAttempt.objects.filter(counted, attempt_time__gte=since)
    return found.aggregate(total=Sum("failures_since_start"))["total"] or 0


def opens_in(request: HttpRequest, name: str, *, at: datetime) -> timedelta:
    """Return how long a lock lasts at most: the hour after its last failure."""
    cool_off: timedelta = get_cool_off(request)
    asker = _asker(request, {"username": name})
    last = max(
        (
            AccessAttempt.objects.filter(counted).aggregate(at=Max("attempt_time"))[
                "at"
            ]
            or at
            for counted, most in asker.limits
            if _failures(counted, at - cool_off) >= most
        ),
        default=at,
    )
    return max(last + cool_off - at, timedelta())


def was_guessed_here(request: HttpRequest, name: str, *, at: datetime) -> bool:
    """Return whether failures from here alone used up a limit: no stranger's guesses."""
    counted, most = _asker(request, {"username": name}).limits[0]
    return _failures(counted, at - get_cool_off(request)) >= most


def check_code(
    request: HttpRequest, *, person: Person, code: str, at: datetime
) -> None:
    """Use up a code of the second step; a wrong one counts like a wrong password.

    Raises
    ------
    Refused
        When it is wrong or used, or too many were wrong before it.
    """
    try:
        second_step.check(person=person, code=code, at=at)
    except Refused:
        user_login_failed.send(
            sender=__name__, credentials={"username": person.email}, request=request
        )
        raise


def is_locked(request: HttpRequest, person: Person) -> bool:
    """Return whether the person must wait; the lock's page is then what is answered."""
    is_let = AxesProxyHandler.is_allowed(request, {"username": person.email})
    request.axes_locked_out = not is_let  # type: ignore[attr-defined]
    return not is_let


def unlock(person: Person) -> None:
    """Forget every failure of a person's name: they have shown who they are."""
    AccessAttempt.objects.filter(username=person.email).delete()


@on_forget
def forget_attempts(now: datetime) -> int:
    """Delete what axes recorded and counts no more; return how much."""
    old = now - timedelta(hours=settings.AXES_COOLOFF_TIME)
    return sum(
        model.objects.filter(attempt_time__lt=old).delete()[0]
        for model in (AccessAttempt, AccessFailureLog, AccessLog)
    )
