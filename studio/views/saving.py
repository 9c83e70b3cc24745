"""Saves a plain record from its form."""

from django.utils import timezone

from studio.forms.base import StudioModelForm
from studio.forms.people import StudioForm
from studio.http import StudioRequest, attempt
from studio.services.keeping import keep


def save_form(request: StudioRequest, form: StudioModelForm | StudioForm) -> int:
    """Save the form's record with its line of history; return how it was answered."""
    return attempt(
        form,
        lambda: keep(
            studio=request.studio,
            record=form.instance,
            changed=form.changed_words,
            by=request.user,
            at=timezone.now(),
        ),
    )
