"""What every view shares: who is asking, what they may do, and how to answer."""

from collections.abc import Callable
from contextlib import suppress
from datetime import datetime, timedelta
from functools import wraps
from ipaddress import ip_address, ip_network
from typing import Any, cast

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import ObjectDoesNotExist, PermissionDenied
from django.db.models.fields.files import FieldFile
from django.forms import BaseForm
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, QueryDict
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render, resolve_url
from django.utils.cache import patch_vary_headers
from django_htmx.http import HttpResponseClientRedirect
from django_htmx.middleware import HtmxDetails

from studio.errors import StudioError
from studio.models import (
    SENT_AGAIN_WITHIN,
    Document,
    Membership,
    Person,
    Picture,
    Studio,
)
from studio.roles import Can, allowed
from studio.selectors import people, pieces
from studio.selectors.pieces import PieceView
from studio.viewer import Viewer

OPEN_STUDIO = "studio"
"""Session key: which of a person's studios is open."""

SECOND_STEP_TAKEN = "second_step"
"""Session key: its person signed in with a code, or set the second step up in it."""

OK, REFUSED, FILLED_IN_WRONGLY = 200, 409, 422
"""How a form was answered: acted on, refused by a rule, or not understood."""

MOST_DIGITS = 9

PICTURE_FILES = {"large": "image", "small": "thumbnail", "depth": "depth"}

View = Callable[..., HttpResponseBase]


class HtmxRequest(HttpRequest):
    """A request after django-htmx's middleware, whoever asks."""

    htmx: HtmxDetails


class VisitorRequest(HtmxRequest):
    """A request after `studio.middleware.StudioMiddleware`, whoever asks."""

    studio: Studio | None
    membership: Membership | None


class StudioRequest(VisitorRequest):
    """A visitor's request where they are a signed-in member."""

    user: Person
    studio: Studio
    membership: Membership


def needs_second_step(request: StudioRequest) -> bool:
    """Return whether this owner must set up a second step before anything else."""
    return (
        settings.OWNERS_NEED_SECOND_STEP
        and allowed(request.membership.role, Can.MANAGE_STUDIO)
        and not request.session.get(SECOND_STEP_TAKEN)
    )


def requires(
    ability: Can, *, even_before_second_step: bool = False
) -> Callable[[View], View]:
    """Let in a signed-in member whose role in the studio has the ability.

    Nobody signed in: go to the sign-in page. Role too low: 403. An owner without the
    second step that is asked of them: go and set it up. The ability stays readable on
    the view for the test that visits every address.
    """

    def decorate(view: View) -> View:
        @wraps(view)
        def guarded(
            request: VisitorRequest, *args: Any, **kwargs: Any
        ) -> HttpResponseBase:
            if request.membership is None:
                if request.user.is_authenticated:
                    raise PermissionDenied("You are not a member of any studio.")
                return redirect_to_login(request.get_full_path())
            if not allowed(request.membership.role, ability):
                raise PermissionDenied(f"Your role may not {ability}.")
            member = cast(StudioRequest, request)
            if needs_second_step(member) and not even_before_second_step:
                return redirect("studio:second_step")
            return view(request, *args, **kwargs)

        guarded.requires = ability  # type: ignore[attr-defined] # for that test
        return guarded

    return decorate


def public(view: View) -> View:
    """Declare that a view is open to anybody (sign-in, health, share links)."""
    view.requires = None  # type: ignore[attr-defined] # for the test of addresses
    return view


def who(request: StudioRequest) -> str:
    """Return who works in which studio, as their browser knows them: never a name."""
    return f"{request.user.pk}-{request.studio.pk}"


def kept_for(request: HttpRequest) -> timedelta | None:
    """Return how long a phone without a connection kept what it sends; else none."""
    said = request.headers.get("X-Kept-For", "")
    if not (said.isascii() and said.isdecimal()) or len(said) > MOST_DIGITS:
        return None
    return timedelta(seconds=int(said))


def done_at(request: HttpRequest, now: datetime) -> datetime:
    """Return when what is recorded was done: before now, where a phone kept it.

    By how long it was kept, so that a phone's wrong clock does no harm.
    """
    kept = kept_for(request)
    return now if kept is None or kept > SENT_AGAIN_WITHIN else now - kept


def client_address(request: HttpRequest) -> str:
    """Return the visitor's network address, to count failures.

    Behind the one trusted proxy it is the last address that the proxy added; the client
    wrote anything before it.
    """
    if settings.BEHIND_PROXY:
        last = request.headers.get("X-Forwarded-For", "").rpartition(",")[2].strip()
        with suppress(ValueError):  # Some proxies write a word, or add a port.
            return str(ip_address(last))
    return str(request.META.get("REMOTE_ADDR", ""))


def counted_address(request: HttpRequest) -> str:
    """Return the address by which failures to sign in are counted.

    Whoever has one address of IPv6 has the whole network of 64 bits.
    """
    address = client_address(request)
    try:
        found = ip_address(address)
    except ValueError:
        return ""  # A socket has none.
    if found.version == 6 and found.ipv4_mapped is None:
        return str(ip_network((found, 64), strict=False).network_address)
    return str(found)


def origin_of(request: HttpRequest) -> str:
    """Return the scheme and host under which the visitor reaches this server."""
    return f"{request.scheme}://{request.get_host()}"


def origin_for_mail(request: HttpRequest) -> str:
    """Return the scheme and host of a mailed link.

    Strangers have mail sent to others and write any port, or another allowed host, into
    their request: in production it is not asked.
    """
    return settings.ADDRESS or origin_of(request)


def send_document(document: Document, *, name: str) -> FileResponse:
    """Send a PDF to somebody already found allowed to read it.

    Raises
    ------
    Http404
        When its file is gone from the disk.
    """
    try:
        opened = document.file.open("rb")
    except FileNotFoundError as problem:
        raise Http404("The PDF's file is gone.") from problem
    response = FileResponse(opened, content_type="application/pdf", filename=name)
    response["X-Content-Type-Options"] = "nosniff"
    return response


def send_picture(picture: Picture, *, size: str) -> FileResponse:
    """Send a photograph, "large", "small" or "depth", to somebody found allowed to see it.

    Raises
    ------
    Http404
        For another size, or when its file is gone from the disk.
    """
    if size not in PICTURE_FILES:
        raise Http404("A picture is large, small or for the depth view.")
    # Until the worker has made the one for the depth view, the small one stands in.
    return send_webp(getattr(picture, PICTURE_FILES[size]) or picture.thumbnail)


def send_webp(file: FieldFile) -> FileResponse:
    """Send a picture's file.

    Raises
    ------
    Http404
        When there is none, or it is gone from the disk.
    """
    if not file:
        raise Http404("There is no picture.")
    try:
        opened = file.open("rb")
    except FileNotFoundError as problem:
        raise Http404("The picture's file is gone.") from problem
    response = FileResponse(opened, content_type="image/webp")
    response["X-Content-Type-Options"] = "nosniff"
    return response


def render_page(
    request: HtmxRequest,
    template: str,
    context: dict[str, Any] | None = None,
    *,
    fragment: str = "",
    status: int = 200,
) -> HttpResponse:
    """Render a page, or only its named partial when htmx asks for it.

    Boosted visits and history restores always get the whole page. The answer varies by
    the header, so that no cache mixes the two.
    """
    htmx = request.htmx
    only_part = bool(
        fragment and htmx and not htmx.boosted and not htmx.history_restore_request
    )
    name = f"{template}#{fragment}" if only_part else template
    response = render(request, name, context or {}, status=status)
    patch_vary_headers(response, ["HX-Request"])
    return response


def go_to(request: HtmxRequest, to: Any, *args: object) -> HttpResponse:
    """Redirect; where htmx asks, the browser itself goes there."""
    address = resolve_url(to, *args)
    return HttpResponseClientRedirect(address) if request.htmx else redirect(address)


def posted(request: HttpRequest) -> QueryDict | None:
    """Return what a form was sent with; none when it is only looked at."""
    return request.POST if request.method == "POST" else None


def attempt(form: BaseForm, act: Callable[[], object]) -> int:
    """Act when the form is valid; a refusal becomes the form's own error."""
    if not form.is_valid():
        return FILLED_IN_WRONGLY
    try:
        act()
    except StudioError as problem:
        for told in getattr(problem, "problems", None) or [problem.message]:
            form.add_error(None, told)
        return REFUSED
    return OK


def say_done(request: HttpRequest, told: str, *, undo_url: str = "") -> None:
    """Say what was done on the next page, with a button that undoes it if it can be.

    The address must take the POST of `studio.answers.answer_undo`.
    """
    messages.success(request, told, extra_tags=undo_url)


def viewer_for(request: StudioRequest) -> Viewer:
    """Return the signed-in member as a viewer."""
    return Viewer.of_member(request.membership)


def own_membership_or_404(request: StudioRequest) -> Membership:
    """Return the person's membership in the studio that the form names."""
    asked = request.POST.get("studio", "")
    for one in people.memberships_of(request.user):
        if str(one.studio_id) == asked:
            return one
    raise Http404("You do not belong to that studio.")


def weight_fact(view: PieceView, viewer: Viewer) -> str:
    """Say what a piece weighs, and how it is lifted when it is heavy."""
    words = f"about {viewer.weight(view.weight_kg)}"
    return f"{words}: {view.lifting_words}" if view.lifting_words else words


def piece_or_404(request: StudioRequest, pk: int) -> PieceView:
    """Return a piece of the studio, read with everything its pages show."""
    try:
        return pieces.piece_view(request.studio, pk)
    except ObjectDoesNotExist as problem:
        raise Http404("No such piece in this studio.") from problem
