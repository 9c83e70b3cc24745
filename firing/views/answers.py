"""How this app's pages with a form answer, and how they find what an address names."""

from collections.abc import Callable
from typing import Any

from django.core.exceptions import ObjectDoesNotExist
from django.http import Http404, QueryDict
from django.shortcuts import get_object_or_404

from firing.selectors import fits
from firing.selectors.bookings import bookings
from firing.selectors.firings import firings
from firing.selectors.imports import imports
from firing.selectors.schedules import schedules
from studio.errors import StudioError
from studio.http import StudioRequest
from studio.reader import Reader
from studio.selectors import pieces
from studio.selectors.pieces import PieceView

OK, REFUSED, FILLED_IN_WRONGLY = 200, 409, 422


def attempt(form: Any, act: Callable[[], object]) -> int:
    """Act when the form is filled in well; a refusal becomes the form's own error."""
    if not form.is_valid():
        return FILLED_IN_WRONGLY
    try:
        act()
    except StudioError as problem:
        form.add_error(None, str(problem))
        return REFUSED
    return OK


def posted(request: StudioRequest) -> QueryDict | None:
    """Return what a form was sent with, none when it is only looked at."""
    return request.POST if request.method == "POST" else None


def reader_for(request: StudioRequest) -> Reader:
    """Return the signed-in member as a reader."""
    return Reader.of_member(request.membership)


def piece_or_404(request: StudioRequest, pk: int) -> PieceView:
    """Return a piece of the studio with its stage."""
    try:
        return pieces.piece_view(request.studio, pk)
    except ObjectDoesNotExist as problem:
        raise Http404("No such piece in this studio.") from problem


def kiln_or_404(request: StudioRequest, pk: int) -> Any:
    """Return a kiln of the studio, in use or not."""
    return get_object_or_404(fits.every_kiln(request.studio), pk=pk)


def booking_or_404(request: StudioRequest, pk: int) -> Any:
    """Return a booking of the studio."""
    return get_object_or_404(bookings(request.studio), pk=pk)


def firing_or_404(request: StudioRequest, pk: int) -> Any:
    """Return a firing of the studio with its load."""
    return get_object_or_404(firings(request.studio), pk=pk)


def schedule_or_404(request: StudioRequest, pk: int) -> Any:
    """Return a schedule of the studio with its segments."""
    return get_object_or_404(schedules(request.studio), pk=pk)


def import_or_404(request: StudioRequest, pk: int) -> Any:
    """Return a file of readings of the studio."""
    return get_object_or_404(imports(request.studio), pk=pk)
