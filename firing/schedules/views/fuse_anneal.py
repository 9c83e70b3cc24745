"""How the studio anneals a fuse, as one of its settings."""

from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from firing.schedules.forms.fuse_anneal import FuseAnnealForm
from firing.schedules.selectors.fuse_anneal import fuse_rule
from firing.schedules.services.fuse_anneal import set_fuse_rule
from studio.answers import FormPage, answer_form
from studio.http import StudioRequest, posted, requires
from studio.roles import Can

INTRO = (
    "The fuse page offers this schedule first; any other is one tap away. The kiln plan, "
    "free time and estimates count its hours. A computed design is not known that early: "
    "they count the next row's hours until its schedule is booked."
)
CAUTIONS = (
    "A shorter anneal leaves more stress in the glass. Try it on a maquette and look at "
    "it between crossed polarisers before a commission is fired so.",
)


@require_http_methods(["GET", "POST"])
@requires(Can.MANAGE_KILNS)
def fuse_anneal_edit(request: StudioRequest) -> HttpResponse:
    """Set the rule that a fuse's schedule is first offered by; `?rule` is ticked."""
    first = request.GET.get("rule", fuse_rule(request.studio).value)
    form = FuseAnnealForm(posted(request), initial={"rule": first})
    page = FormPage(
        title="Anneal for a fuse",
        submit="Save",
        back_url=reverse("studio:settings"),
        back_label="Settings",
        intro=INTRO,
        caution_title="Before you choose a shorter one",
        caution_points=CAUTIONS,
    )
    return answer_form(
        request,
        page,
        form,
        lambda: set_fuse_rule(
            studio=request.studio,
            rule=form.chosen,
            by=request.user,
            at=timezone.now(),
        ),
        told="The anneal for a fuse is set.",
    )
