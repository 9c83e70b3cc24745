"""What is entered of a kiln: changes, comparisons and how even it is; put right, removed."""

from datetime import datetime
from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from firing.readings.forms.comparisons import ComparisonForm
from firing.readings.forms.evenness import EvennessForm
from firing.readings.forms.kiln_book import ChangeForm, DoneForm
from firing.readings.forms.measured import MeasuredForm
from firing.readings.selectors.kiln_book import CAUTION, changes
from firing.readings.services.kiln_book import (
    Entry,
    correct_entry,
    keep_entry,
    remove_entry,
)
from firing.readings.views.lookups import comparison_or_404, evenness_or_404
from firing.schedules.views.lookups import kiln_or_404
from studio.answers import FormPage, answer_form
from studio.http import StudioRequest, posted, requires, viewer_for
from studio.roles import Can

if TYPE_CHECKING:
    from studio.models import Kiln

BOOK, MEASURED = "kiln-book", "kiln-measured"
COMPARING = (
    "A kiln's own readings cannot tell how far they are off: everything it does goes by "
    "the same thermocouple. Put a second one beside the glass, or cones on the shelf, "
    "and write down what both said at the same moment."
)
READING_BOTH = (
    "Glass that anneals while its edge is hotter or colder than its middle keeps that as "
    "stress, however slowly it cools. Lay two thermocouples on the shelf, one in the "
    "middle and one where the edge of a large slab would be, and read both."
)


@require_http_methods(["GET", "POST"])
@requires(Can.MANAGE_KILNS)
def kiln_change_new(request: StudioRequest, pk: int) -> HttpResponse:
    """Add what was changed in a kiln."""
    kiln, now = kiln_or_404(request, pk), timezone.now()
    form = ChangeForm(posted(request), viewer=viewer_for(request), now=now)
    page = _change_page(kiln, "Enter a change", "Save the change")
    return _enter(request, page, form, kiln, now, "The change is in the kiln book.")


@require_http_methods(["GET", "POST"])
@requires(Can.MANAGE_KILNS)
def kiln_change_edit(request: StudioRequest, pk: int) -> HttpResponse:
    """Correct what was changed in a kiln, or when its upkeep was done."""
    change = get_object_or_404(changes(request.studio), pk=pk)
    now = timezone.now()
    kind = ChangeForm if change.upkeep is None else DoneForm
    form = kind(
        posted(request),
        viewer=viewer_for(request),
        now=now,
        initial=kind.initial_of(change),
    )
    page = _change_page(change.kiln, f"Correct: {change.what}", "Save")
    return _correct(
        request, page, form, change, now, "It is corrected in the kiln book."
    )


@require_POST
@requires(Can.MANAGE_KILNS)
def kiln_change_remove(request: StudioRequest, pk: int) -> HttpResponse:
    """Remove what was changed in a kiln."""
    change = get_object_or_404(changes(request.studio), pk=pk)
    return _remove(request, change, BOOK, "It is removed from the kiln book.")


@require_http_methods(["GET", "POST"])
@requires(Can.MANAGE_KILNS)
def comparison_new(request: StudioRequest, pk: int) -> HttpResponse:
    """Enter what a kiln showed and what was measured beside the glass."""
    kiln, now = kiln_or_404(request, pk), timezone.now()
    form = ComparisonForm(posted(request), viewer=viewer_for(request), now=now)
    page = _measured_page(kiln, "Compare with another thermometer", COMPARING)
    told = "The comparison is kept. See what it makes of the kiln below."
    return _enter(request, page, form, kiln, now, told)


@require_http_methods(["GET", "POST"])
@requires(Can.MANAGE_KILNS)
def comparison_edit(request: StudioRequest, pk: int) -> HttpResponse:
    """Correct a comparison."""
    kept, now = comparison_or_404(request, pk), timezone.now()
    form = ComparisonForm(
        posted(request),
        viewer=viewer_for(request),
        now=now,
        initial=ComparisonForm.initial_of(kept),
    )
    page = _measured_page(kept.kiln, "Correct a comparison", COMPARING)
    told = "The comparison is corrected; the kiln stays as it is set."
    return _correct(request, page, form, kept, now, told)


@require_POST
@requires(Can.MANAGE_KILNS)
def comparison_remove(request: StudioRequest, pk: int) -> HttpResponse:
    """Remove a comparison with another thermometer."""
    told = "The comparison is removed; the kiln stays as it is set."
    return _remove(request, comparison_or_404(request, pk), MEASURED, told)


@require_http_methods(["GET", "POST"])
@requires(Can.MANAGE_KILNS)
def evenness_new(request: StudioRequest, pk: int) -> HttpResponse:
    """Enter what was measured in the middle of a shelf and at its edge."""
    kiln, now = kiln_or_404(request, pk), timezone.now()
    form = EvennessForm(posted(request), kiln=kiln, viewer=viewer_for(request), now=now)
    page = _measured_page(kiln, "How even is it?", READING_BOTH)
    told = "Saved. Designs in this kiln count it from now on."
    return _enter(request, page, form, kiln, now, told)


@require_http_methods(["GET", "POST"])
@requires(Can.MANAGE_KILNS)
def evenness_edit(request: StudioRequest, pk: int) -> HttpResponse:
    """Correct how even a kiln was."""
    kept, now = evenness_or_404(request, pk), timezone.now()
    form = EvennessForm(
        posted(request),
        kiln=kept.kiln,
        viewer=viewer_for(request),
        now=now,
        initial=EvennessForm.initial_of(kept),
    )
    page = _measured_page(kept.kiln, "Correct how even it is", READING_BOTH)
    told = "Corrected. Designs in this kiln count it from now on."
    return _correct(request, page, form, kept, now, told)


@require_POST
@requires(Can.MANAGE_KILNS)
def evenness_remove(request: StudioRequest, pk: int) -> HttpResponse:
    """Remove a measurement of how even a kiln is."""
    told = "The measurement is removed."
    return _remove(request, evenness_or_404(request, pk), MEASURED, told)


def _change_page(kiln: "Kiln", title: str, submit: str) -> FormPage:
    return FormPage(
        title=title,
        submit=submit,
        back_url=part_url(kiln.pk, BOOK),
        back_label=str(kiln),
        place="kilns",
        caution_title="Electrical work",
        caution_points=(CAUTION,),
    )


def _measured_page(kiln: "Kiln", title: str, intro: str) -> FormPage:
    return FormPage(
        title=title,
        submit="Save",
        back_url=part_url(kiln.pk, MEASURED),
        back_label=str(kiln),
        place="kilns",
        intro=intro,
    )


def part_url(pk: int, part: str) -> str:
    """Return the address of a part of a kiln's page."""
    return f"{reverse('firing:kiln_detail', args=[pk])}#{part}"


def _enter(
    request: StudioRequest,
    page: FormPage,
    form: MeasuredForm,
    kiln: "Kiln",
    now: datetime,
    told: str,
) -> HttpResponse:
    return answer_form(
        request,
        page,
        form,
        lambda: keep_entry(
            kind=form.kind,
            kiln=kiln,
            values=form.cleaned_data,
            by=request.user,
            at=now,
        ),
        told=told,
    )


def _correct(
    request: StudioRequest,
    page: FormPage,
    form: MeasuredForm,
    entry: Entry,
    now: datetime,
    told: str,
) -> HttpResponse:
    return answer_form(
        request,
        page,
        form,
        lambda: correct_entry(
            entry=entry, values=form.cleaned_data, by=request.user, at=now
        ),
        told=told,
    )


def _remove(request: StudioRequest, entry: Entry, part: str, told: str) -> HttpResponse:
    kiln_pk = entry.kiln_id
    remove_entry(entry=entry, by=request.user, at=timezone.now())
    messages.success(request, told)
    return redirect(part_url(kiln_pk, part))
