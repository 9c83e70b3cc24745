"""Calendar feeds, and each person's links to them."""

import hashlib

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.http import parse_etags
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from firing.kiln_time.feed_file import feed_file
from firing.kiln_time.forms.feeds import FeedForm
from firing.kiln_time.selectors.feeds import entries_of, find_link, links_of, token_of
from firing.kiln_time.services.feeds import make_feed, take_feed_away
from studio.http import (
    OK,
    StudioRequest,
    attempt,
    origin_of,
    posted,
    public,
    render_page,
    requires,
)
from studio.roles import Can

NOT_MODIFIED = 304


@require_safe
@public
def calendar_feed(request: HttpRequest, token: str) -> HttpResponse:
    """Send a calendar feed; the address alone opens it, and only to look."""
    link = find_link(token)
    if link is None:
        raise Http404("This calendar link was taken away.")
    origin = origin_of(request)
    told = feed_file(
        entries_of(link, now=timezone.now()),
        name=f"{link.studio.name}: {link}",
        source=f"{origin}{request.path}",
        origin=origin,
        studio=f"{link.studio_id} {link.studio.created_at.isoformat()}",
    )
    mark = f'"{hashlib.sha256(told).hexdigest()[:32]}"'
    if mark in parse_etags(request.headers.get("If-None-Match", "")):
        answer = HttpResponse(status=NOT_MODIFIED)
    else:
        answer = HttpResponse(told, content_type="text/calendar; charset=utf-8")
        answer["Content-Disposition"] = 'inline; filename="slowcool.ics"'
    answer["ETag"] = mark
    return answer


@require_http_methods(["GET", "HEAD", "POST"])
@requires(Can.SEE_WORK)
def calendar_links(request: StudioRequest) -> HttpResponse:
    """Show one's links to calendar feeds, and make another."""
    form = FeedForm(posted(request), studio=request.studio)
    status = OK
    if request.method == "POST":
        status = attempt(form, lambda: _make(request, form))
        if status == OK:
            messages.success(request, "The link is made: copy it below.")
            return redirect("firing:calendar_links")
    rows = [
        {
            "link": one,
            "address": request.build_absolute_uri(
                reverse("firing:calendar_feed", args=[token_of(one)])
            ),
        }
        for one in links_of(request.studio, request.user)
    ]
    return render_page(
        request,
        "firing/kiln_time/calendar_links.html",
        {"form": form, "rows": rows},
        status=status,
    )


def _make(request: StudioRequest, form: FeedForm) -> None:
    kind, kiln = form.chosen
    make_feed(
        studio=request.studio,
        person=request.user,
        kind=kind,
        kiln=kiln,
        at=timezone.now(),
    )


@require_POST
@requires(Can.SEE_WORK)
def calendar_link_remove(request: StudioRequest, pk: int) -> HttpResponse:
    """Take one's link away: calendar programs that have it find nothing."""
    link = get_object_or_404(links_of(request.studio, request.user), pk=pk)
    take_feed_away(link=link, at=timezone.now())
    messages.success(request, "The link opens nothing any more.")
    return redirect("firing:calendar_links")
