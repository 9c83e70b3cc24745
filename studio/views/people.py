"""The people of a studio: given another role, let back in. For owners."""

from typing import TYPE_CHECKING

from django.conf import settings
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from studio.errors import StudioError
from studio.forms.people import MemberForm
from studio.http import (
    OK,
    REFUSED,
    StudioRequest,
    attempt,
    origin_for_mail,
    origin_of,
    posted,
    render_page,
    requires,
)
from studio.roles import Can
from studio.services.people import change_member, give_password_link
from studio.views.found import member_or_404

if TYPE_CHECKING:
    from studio.models import Membership


@require_http_methods(["GET", "POST"])
@requires(Can.MANAGE_STUDIO)
def member_edit(request: StudioRequest, pk: int) -> HttpResponse:
    """Change a member's role, or end their access."""
    member = member_or_404(request, pk)
    initial = {"role": member.role, "is_active": member.is_active}
    form = MemberForm(posted(request), initial=initial)
    status = OK
    if request.method == "POST":
        now = timezone.now()
        status = attempt(
            form,
            lambda: change_member(
                membership=member, by=request.user, at=now, **form.cleaned_data
            ),
        )
        if status == OK:
            messages.success(request, f"{member.person} is changed.")
            # Somebody who gave up being owner may no longer see the pages around this
            # one.
            return redirect("studio:settings")
    return _member_page(request, member, form, status=status)


def _member_page(
    request: StudioRequest,
    member: "Membership",
    form: MemberForm,
    *,
    status: int = OK,
    **more: str,
) -> HttpResponse:
    context = {"member": member, "form": form, "has_mail": settings.MAIL_IS_SET, **more}
    return render_page(request, "studio/member_edit.html", context, status=status)


@never_cache
@require_POST
@requires(Can.MANAGE_STUDIO)
def member_password(request: StudioRequest, pk: int) -> HttpResponse:
    """Give a member who forgot their password a link to set another one."""
    member = member_or_404(request, pk)
    try:
        path = give_password_link(
            membership=member,
            by=request.user,
            at=timezone.now(),
            origin=origin_for_mail(request),
        )
    except StudioError as refusal:
        initial = {"role": member.role, "is_active": member.is_active}
        form = MemberForm(initial=initial)
        return _member_page(
            request, member, form, problem=refusal.message, status=REFUSED
        )
    if not path:
        messages.success(request, f"A link is on its way to {member.person.email}.")
        return redirect("studio:member_edit", pk=pk)
    context = {
        "title": "New password",
        "facts": [str(member.person), member.person.email],
        "told": f"Send {member.person} this link, or hand it over. It is shown only now "
        "and works once, within a day.",
        "url": origin_of(request) + path,
        "back_url": reverse("studio:settings"),
        "back_label": "Settings",
    }
    return render_page(request, "studio/hand_over.html", context)
