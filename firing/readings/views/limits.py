"""The studio's limits of tension, as its settings."""

from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from firing.readings.services.limits import set_limits
from firing.schedules.forms.stress import StudioLimitsForm
from firing.schedules.selectors.limits import limits_of
from studio.answers import FormPage, answer_form
from studio.http import StudioRequest, posted, requires
from studio.roles import Can

INTRO = (
    "Schedules are designed so that the whole computed band stays within these limits, "
    "and firings are judged by them. A single design may choose its own. Schedules that "
    "are kept already stay as they are; firings with readings are judged anew."
)
CAUTIONS = (
    "Glass breaks at the worst bubble, chip or scratch, not at a number. Annealed window "
    "glass is designed for about 7 MPa of lasting tension; a fused slab bears less.",
    "Higher limits give shorter firings and more broken pieces. Try them on a maquette "
    "and look at it between crossed polarisers before a commission is fired so.",
)


@require_http_methods(["GET", "POST"])
@requires(Can.MANAGE_KILNS)
def limits_edit(request: StudioRequest) -> HttpResponse:
    """Set the limits that designs start from and firings are judged by."""
    form = StudioLimitsForm(posted(request), limits=limits_of(request.studio))
    page = FormPage(
        title="Limits of tension",
        submit="Set these limits",
        back_url=reverse("studio:settings"),
        back_label="Settings",
        intro=INTRO,
        caution_title="Before you raise them",
        caution_points=CAUTIONS,
    )
    return answer_form(
        request,
        page,
        form,
        lambda: set_limits(
            studio=request.studio,
            limits=form.limits,
            by=request.user,
            at=timezone.now(),
        ),
        told="The limits of tension are set.",
    )
