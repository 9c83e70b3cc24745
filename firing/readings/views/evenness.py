"""How even a kiln is: measurements added and removed."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from firing.readings.forms.evenness import EvennessForm
from firing.readings.services.kilns import keep_evenness, remove_evenness
from firing.readings.views.lookups import evenness_or_404
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
    "Glass that anneals while its edge is hotter or colder than its middle keeps that as "
    "stress, however slowly it cools. Lay two thermocouples on the shelf, one in the "
    "middle and one where the edge of a large slab would be, and read both."
)


@require_http_methods(["GET", "POST"])
@requires(Can.MANAGE_KILNS)
def evenness_new(request: StudioRequest, pk: int) -> HttpResponse:
    """Add what was measured in the middle of a shelf and at its edge."""
    kiln = kiln_or_404(request, pk)
    now = timezone.now()
    form = EvennessForm(posted(request), kiln=kiln, viewer=viewer_for(request), now=now)
    status = OK
    if request.method == "POST":
        status = attempt(
            form,
            lambda: keep_evenness(
                kiln=kiln, by=request.user, at=now, **form.cleaned_data
            ),
        )
        if status == OK:
            messages.success(
                request, "Saved. Designs in this kiln count it from now on."
            )
            return redirect(f"{reverse('firing:kiln_detail', args=[pk])}#kiln-measured")
    context = {"kiln": kiln, "form": form, "intro": INTRO}
    return render_page(
        request, "firing/readings/evenness_form.html", context, status=status
    )


@require_POST
@requires(Can.MANAGE_KILNS)
def evenness_remove(request: StudioRequest, pk: int) -> HttpResponse:
    """Remove a measurement."""
    measured = evenness_or_404(request, pk)
    kiln_pk = measured.kiln_id
    remove_evenness(measured=measured, by=request.user, at=timezone.now())
    messages.success(request, "Removed.")
    return redirect("firing:kiln_detail", kiln_pk)
