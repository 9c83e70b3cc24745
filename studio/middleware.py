"""Resolves who asks: `request.membership`, `request.studio`, and the studio's zone."""

from collections.abc import Callable
from zoneinfo import ZoneInfo

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from studio.http import OPEN_STUDIO, VisitorRequest
from studio.selectors import people


class StudioMiddleware:
    """Finds the member's studio; a person of several has one open at a time."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: VisitorRequest) -> HttpResponse:
        request.membership = None
        request.studio = None
        if request.user.is_authenticated:
            chosen = request.session.get(OPEN_STUDIO)
            request.membership = people.membership_of(request.user, chosen)
        if request.membership is not None:
            request.studio = request.membership.studio
            with timezone.override(ZoneInfo(request.studio.time_zone)):
                return self.get_response(request)
        return self.get_response(request)
