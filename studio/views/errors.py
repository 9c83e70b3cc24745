"""The pages for what is not allowed, not there, or went wrong."""

import sys

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string

from studio import security_log
from studio.outages import outage_of, outage_page


def bad_request(
    request: HttpRequest, exception: Exception | None = None
) -> HttpResponse:
    """Say that nobody can read what was sent.

    Nothing is asked about the request or the database: either may be what is broken.
    """
    return HttpResponse(render_to_string("400.html"), status=400)


def forbidden(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """Say what the person's role may not do."""
    security_log.refused(request, str(exception or ""))
    return render(request, "403.html", {"reason": str(exception or "")}, status=403)


def page_too_old(request: HttpRequest, reason: str = "") -> HttpResponse:
    """Say that a form did not come from a current page, and how to go on."""
    security_log.refused(request, reason)
    return render(request, "403_form.html", {"reason": reason}, status=403)


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """Say that nothing is here, and offer the way back."""
    return render(request, "404.html", status=404)


def server_error(request: HttpRequest) -> HttpResponse:
    """Say that the disk or the database is at fault, or that the program is.

    Django calls this while it handles the exception. Neither page needs a context.
    """
    if (outage := outage_of(sys.exception())) is not None:
        return outage_page(request, outage)
    return render(request, "500.html", status=500)
