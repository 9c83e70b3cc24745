"""What every template gets: the viewer, the present moment, and the timer that runs."""

from collections.abc import Callable
from functools import cache
from typing import TYPE_CHECKING, Any

from django.http import HttpRequest
from django.utils import timezone

from studio.roles import Can, allowed
from studio.selectors.task_times import RunningTimer, running_timer
from studio.viewer import viewer_of

if TYPE_CHECKING:
    from studio.models import Membership


def viewer(request: HttpRequest) -> dict[str, Any]:
    """Give templates `viewer` (units, zone, abilities), `now` and `timer`."""
    return {
        "viewer": viewer_of(request),
        "now": timezone.now(),
        "timer": _timer_of(request),
    }


def _timer_of(request: HttpRequest) -> Callable[[], RunningTimer | None]:
    """Return a function that reads the person's timer once, if a template asks."""

    @cache
    def timer() -> RunningTimer | None:
        member: Membership | None = getattr(request, "membership", None)
        if member is None or not allowed(member.role, Can.RECORD_WORK):
            return None
        return running_timer(member.studio, member.person_id, timezone.now())

    return timer
