"""How pages with a form answer: acted, refused by a rule, or filled in wrongly."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.http import HttpResponse, QueryDict

from studio.errors import StudioError
from studio.http import StudioRequest, render_page
from studio.reader import Reader

OK, REFUSED, FILLED_IN_WRONGLY = 200, 409, 422


def attempt(form: Any, act: Callable[[], object]) -> int:
    """Act when the form is filled in well; a refusal becomes the form's own error."""
    if not form.is_valid():
        return FILLED_IN_WRONGLY
    try:
        act()
    except StudioError as problem:
        for told in getattr(problem, "problems", [problem.message]):
            form.add_error(None, told)
        return REFUSED
    return OK


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


def posted(request: StudioRequest) -> QueryDict | None:
    """Return what a form was sent with, none when it is only looked at."""
    return request.POST if request.method == "POST" else None


def reader_for(request: StudioRequest) -> Reader:
    """Return the signed-in member as a reader."""
    return Reader.of_member(request.membership)
