"""Saves a plain record from its form."""

from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING

from django.db import transaction
from django.utils import timezone

from studio.forms.base import StudioModelForm
from studio.forms.people import StudioForm
from studio.http import StudioRequest, attempt
from studio.services.keeping import keep

if TYPE_CHECKING:
    from django.db.models import Model

    from studio.models import Person


def save_form(
    request: StudioRequest,
    form: StudioModelForm | StudioForm,
    afterwards: "Callable[[Model, Person, datetime], None] | None" = None,
) -> int:
    """Save the form's record with its line of history; return how it was answered.

    `afterwards` writes what follows from it, in the same transaction.
    """
    return attempt(form, lambda: _save(request, form, afterwards))


@transaction.atomic
def _save(
    request: StudioRequest,
    form: StudioModelForm | StudioForm,
    afterwards: "Callable[[Model, Person, datetime], None] | None",
) -> None:
    now = timezone.now()
    keep(
        studio=request.studio,
        record=form.instance,
        changed=form.changed_words,
        by=request.user,
        at=now,
    )
    if afterwards is not None:
        afterwards(form.instance, request.user, now)
