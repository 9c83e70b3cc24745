"""A forgotten password: a link by mail, or whom to ask for one."""

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from studio.forms.invitations import ForgottenForm
from studio.http import OK, attempt, origin_for_mail, posted, public
from studio.services.accounts import mail_password_link


@never_cache
@public
@require_http_methods(["GET", "POST"])
def password_forgotten(request: HttpRequest) -> HttpResponse:
    """Mail a link to an address; the answer is the same where nobody has it."""
    form = ForgottenForm(posted(request))
    status, is_asked = OK, False
    if request.method == "POST" and settings.MAIL_IS_SET:
        now = timezone.now()
        status = attempt(
            form,
            lambda: mail_password_link(
                email=form.cleaned_data["email"],
                origin=origin_for_mail(request),
                at=now,
            ),
        )
        is_asked = status == OK
    context = {"form": form, "has_mail": settings.MAIL_IS_SET, "is_asked": is_asked}
    return render(request, "studio/password_forgotten.html", context, status=status)
