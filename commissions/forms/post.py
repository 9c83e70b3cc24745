"""The form for news to the client."""

from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.utils.timezone import localtime

from studio.fields import RecordsField, choose_from
from studio.models import Picture
from studio.tenancy import StudioQuerySet

MOST_PICTURES = 12


class SeveralFiles(forms.ClearableFileInput):
    """The browser's file button, for several files at once."""

    allow_multiple_selected = True


class FilesField(forms.FileField):
    """Any number of files."""

    widget = SeveralFiles

    def clean(self, data: object, initial: object = None) -> list["UploadedFile[Any]"]:
        """Check each uploaded file."""
        sent = data if isinstance(data, list | tuple) else [data] if data else []
        if len(sent) > MOST_PICTURES:
            raise forms.ValidationError(f"At most {MOST_PICTURES} pictures at once.")
        return [super(FilesField, self).clean(one, initial) for one in sent]


class PictureChoices(RecordsField):
    """Pictures that exist, named by their layer or caption, and day."""

    def label_from_instance(self, obj: Any) -> str:
        """Name a picture."""
        name = f"Layer {obj.layer.number}" if obj.layer else obj
        return f"{name}, {localtime(obj.at):%-d %b}"


class PostForm(forms.Form):
    """Words and pictures."""

    text = forms.CharField(
        max_length=4000,
        required=False,
        label="News",
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="The client reads it on their page, newest first.",
    )
    uploads = FilesField(
        required=False,
        label="New pictures",
        help_text="JPEG, PNG or WebP, up to 25 MB each.",
        widget=SeveralFiles(attrs={"accept": "image/*"}),
    )
    pictures = PictureChoices(
        queryset=Picture.across_studios.none(),
        required=False,
        label="Pictures of the piece",
        widget=forms.CheckboxSelectMultiple,
    )

    def __init__(
        self, *args: Any, pictures: StudioQuerySet[Picture], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        choose_from(self, "pictures", pictures)
        if not pictures.exists():
            del self.fields["pictures"]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        is_empty = not any(data.get(n) for n in ("text", "uploads", "pictures"))
        if is_empty and not self.errors:
            self.add_error("text", "Write a few words or add a picture.")
        return data
