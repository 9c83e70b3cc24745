"""The studio's own settings, on one page, and each member's own units."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from studio.answers import FormPage, form_page
from studio.forms.people import StudioForm, UnitsForm
from studio.http import (
    OK,
    StudioRequest,
    attempt,
    posted,
    render_page,
    requires,
    viewer_for,
)
from studio.panels import PanelRequest, settings_panels
from studio.roles import Can
from studio.selectors import backups, invitations, kilns, people, pieces
from studio.selectors import history as history_reads
from studio.selectors.prices_held import last_currency_change
from studio.services.people import set_units
from studio.views.saving import save_form

LINES_ON_A_PAGE = 50


@require_safe
@requires(Can.SEE_WORK)
def settings(request: StudioRequest) -> HttpResponse:
    """Show everything that is set up: units, studio, people, kilns, hours, closures."""
    return settings_page(request)


def settings_page(
    request: StudioRequest, *, units_form: UnitsForm | None = None, status: int = OK
) -> HttpResponse:
    """Answer with the settings, with the units form if it was filled in wrongly."""
    studio, now = request.studio, timezone.now()
    viewer = viewer_for(request)
    mine = list(people.memberships_of(request.user))
    context = {
        "units_form": units_form or UnitsForm(instance=request.membership),
        "members": list(people.members(studio)),
        "invitations": list(invitations.unanswered(studio))
        if viewer.may_manage_studio
        else [],
        "memberships": mine,
        "home": people.home_of(request.user, mine),
        "invited_by": [
            one.studio for one in invitations.waiting_for(request.user, at=now)
        ],
        "kilns": list(kilns.kilns(studio)),
        "hours": list(kilns.access_hours(studio)),
        "closures": list(kilns.closures_to_come(studio, now)),
        "backups": backups.standing(now=now, since=backups.first_data_at())
        if viewer.may_manage_studio
        else None,
        "panels": settings_panels(PanelRequest(viewer=viewer, now=now)),
        "studio": studio,
        "currency_change": last_currency_change(studio)
        if viewer.may_manage_studio
        else None,
    }
    return render_page(request, "studio/settings.html", context, status=status)


@require_POST
@requires(Can.SEE_WORK)
def my_units(request: StudioRequest) -> HttpResponse:
    """Choose one's own units, whatever the others use."""
    form = UnitsForm(request.POST, instance=request.membership)
    status = attempt(
        form, lambda: set_units(membership=request.membership, **form.cleaned_data)
    )
    if status != OK:
        request.membership.refresh_from_db()
        return settings_page(request, units_form=form, status=status)
    messages.success(request, "You now read everything in these units.")
    return redirect("studio:settings")


@require_http_methods(["GET", "POST"])
@requires(Can.MANAGE_STUDIO)
def studio_edit(request: StudioRequest) -> HttpResponse:
    """Change the studio's own details."""
    form = StudioForm(posted(request), instance=request.studio)
    status = OK
    if request.method == "POST":
        status = save_form(request, form)
        if status == OK:
            messages.success(request, "The studio's details are saved.")
            return redirect("studio:settings")
        # The masthead keeps showing the studio as it is, not as it was mistyped.
        request.studio.refresh_from_db()
    page = FormPage(
        title="The studio",
        submit="Save",
        back_url=reverse("studio:settings"),
        back_label="Settings",
        intro="These stand on quotes and the client's page.",
    )
    return form_page(request, page, form, status)


@require_safe
@requires(Can.SEE_WORK)
def history(request: StudioRequest) -> HttpResponse:
    """Show who did what and when, of the whole studio or of one piece."""
    found = history_reads.entries(request.studio, viewer_for(request))
    asked = request.GET.get("piece", "")
    piece = None
    if asked.isascii() and asked.isdigit() and len(asked) < 19:
        piece = pieces.piece_titles(request.studio).filter(pk=asked).first()
        found = found.filter(piece_id=asked)
    page = Paginator(found, LINES_ON_A_PAGE).get_page(request.GET.get("page"))
    context = {"page_obj": page, "piece": piece}
    return render_page(request, "studio/history.html", context)
