"""How pages with a form answer: acted, refused by a rule, or filled in wrongly."""

from collections.abc import Callable
from typing import Any

from django import forms
from django.shortcuts import get_object_or_404

from commissions.selectors.commissions import commissions
from studio.errors import StudioError
from studio.http import StudioRequest
from studio.reader import Reader

OK, REFUSED, FILLED_IN_WRONGLY = 200, 409, 422


def attempt(form: forms.Form, act: Callable[[], object]) -> int:
    """Act when the form is filled in well; a refusal becomes the form's own error."""
    if not form.is_valid():
        return FILLED_IN_WRONGLY
    try:
        act()
    except StudioError as problem:
        form.add_error(None, str(problem))
        return REFUSED
    return OK


def reader_for(request: StudioRequest) -> Reader:
    """Return the signed-in member as a reader."""
    return Reader.of_member(request.membership)


def commission_or_404(request: StudioRequest, pk: int) -> Any:
    """Return the commission, in the studio of whoever asks."""
    return get_object_or_404(commissions(request.studio), pk=pk)
