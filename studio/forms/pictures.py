"""Forms for photographs."""

from typing import Any

from django import forms

from studio.viewer import Viewer


class PictureForm(forms.Form):
    """A photograph of a piece or of one layer."""

    picture = forms.FileField(
        # Opens a phone's camera.
        widget=forms.FileInput(attrs={"accept": "image/*", "capture": "environment"})
    )
    caption = forms.CharField(max_length=200, required=False)
    is_shown_to_client = forms.BooleanField(
        label="Show it on the client's page", required=False
    )

    def __init__(self, *args: Any, viewer: Viewer, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # Only those responsible for the piece decide what the client sees.
        if not viewer.may_plan_pieces:
            del self.fields["is_shown_to_client"]


class ShotForm(forms.Form):
    """A shot that a page of the bench sends behind its form, and its own key."""

    shot = forms.UUIDField()
    # The service judges pictures.
    picture = forms.FileField(allow_empty_file=True)


class CaptionForm(forms.Form):
    """The caption of a picture."""

    caption = forms.CharField(max_length=200, required=False)
