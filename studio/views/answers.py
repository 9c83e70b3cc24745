"""A page that holds one form and little else."""

from dataclasses import dataclass
from typing import Any

from django.http import HttpResponse

from studio.http import OK, StudioRequest, render_page


@dataclass(frozen=True, slots=True, kw_only=True)
class FormPage:
    """A page that holds one form."""

    title: str
    submit: str
    back_url: str
    back_label: str
    place: str = ""
    intro: str = ""
    is_danger: bool = False
    caution_title: str = ""
    caution_points: tuple[str, ...] = ()
    facts: tuple[str, ...] = ()
    is_paired: bool = False
    """Fields side by side where there is room, for a form of many short ones."""


def form_page(
    request: StudioRequest, page: FormPage, form: Any, status: int = OK
) -> HttpResponse:
    """Show a form, or show it again with what is wrong and all that was typed."""
    context = {"page": page, "form": form, "place": page.place}
    return render_page(request, "studio/form_page.html", context, status=status)
