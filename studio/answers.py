"""Pages that hold one form and little else."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import NotRequired, TypedDict

from django.contrib import messages
from django.forms import BaseForm
from django.http import HttpResponse
from django.shortcuts import redirect

from studio.http import OK, StudioRequest, attempt, render_page


class WayBack(TypedDict):
    """Where a one-form page leads back to, and its place in the navigation."""

    back_url: str
    back_label: str
    place: NotRequired[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class FormPage:
    """A page with one form."""

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
    request: StudioRequest, page: FormPage, form: BaseForm, status: int = OK
) -> HttpResponse:
    """Show a form, or show it again with everything typed and what is wrong."""
    context = {"page": page, "form": form, "place": page.place}
    return render_page(request, "studio/form_page.html", context, status=status)


def answer_form(
    request: StudioRequest,
    page: FormPage,
    form: BaseForm,
    act: Callable[[], object],
    *,
    told: str,
) -> HttpResponse:
    """Show a form; once it is sent, act, say what was done and go back.

    A wrong or refused form is shown again with everything that was typed.
    """
    status = OK
    if request.method == "POST":
        status = attempt(form, act)
        if status == OK:
            messages.success(request, told)
            return redirect(page.back_url)
    return form_page(request, page, form, status)
