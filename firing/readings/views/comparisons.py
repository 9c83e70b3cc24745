"""Comparisons of a kiln's display with another thermometer: added and removed."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from firing.readings.forms.comparisons import ComparisonForm
from firing.readings.services.kilns import keep_comparison, remove_comparison
from firing.readings.views.lookups import comparison_or_404
from firing.schedules.views.lookups import kiln_or_404
from studio.http import (
    OK,
    StudioRequest,
    attempt,
    posted,
    render_page,
    requires,
    viewer_for,
)
from studio.roles import Can

INTRO = (
    "A kiln's own readings cannot tell how far they are off: everything it does goes by "
    "the same thermocouple. Put a second one beside the glass, or cones on the shelf, "
    "and write down what both said at the same moment."
)


@require_http_methods(["GET", "POST"])
@requires(Can.MANAGE_KILNS)
def comparison_new(request: StudioRequest, pk: int) -> HttpResponse:
    """Add what a kiln showed and what was measured beside the glass."""
    kiln = kiln_or_404(request, pk)
    now = timezone.now()
    form = ComparisonForm(posted(request), viewer=viewer_for(request), now=now)
    status = OK
    if request.method == "POST":
        status = attempt(
            form,
            lambda: keep_comparison(
                kiln=kiln, by=request.user, at=now, **form.cleaned_data
            ),
        )
        if status == OK:
            messages.success(
                request, "The comparison is kept. See what it makes of the kiln below."
            )
            return redirect(f"{reverse('firing:kiln_detail', args=[pk])}#kiln-measured")
    context = {"kiln": kiln, "form": form, "intro": INTRO}
    return render_page(
        request, "firing/readings/comparison_form.html", context, status=status
    )


@require_POST
@requires(Can.MANAGE_KILNS)
def comparison_remove(request: StudioRequest, pk: int) -> HttpResponse:
    """Remove a comparison."""
    comparison = comparison_or_404(request, pk)
    kiln_pk = comparison.kiln_id
    remove_comparison(comparison=comparison, by=request.user, at=timezone.now())
    messages.success(request, "The comparison is removed; the kiln stays as it is set.")
    return redirect("firing:kiln_detail", kiln_pk)
