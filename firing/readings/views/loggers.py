"""The address for loggers, and the buttons that make and revoke their tokens."""

from django.conf import settings
from django.contrib import messages
from django.core.cache import cache
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_POST, require_safe

from firing.controller_log.openapi import description
from firing.controller_log.pushed import (
    PushProblem,
    read_clock,
    read_pushed,
    unpacked,
)
from firing.readings.selectors.loggers import find_logger
from firing.readings.services.loggers import make_logger, revoke_logger, take_pushed
from firing.readings.views.lookups import logger_or_404
from firing.schedules.views.lookups import kiln_or_404
from studio.errors import StudioError
from studio.http import REFUSED, StudioRequest, origin_of, public, requires
from studio.roles import Can

MOST_BYTES = 512 * 1024
MOST_A_MINUTE = 30
ENCODINGS = ("identity", "gzip")
NOT_THIS_ENCODING = 415
TOO_LARGE_WORDS = "That is more than 512 KiB. Send fewer lines at once."
NOT_ALLOWED, NEEDS_HTTPS, TOO_LARGE, TOO_OFTEN, BAD = 401, 403, 413, 429, 400


def _told(problem: str, status: int, **headers: str) -> JsonResponse:
    return JsonResponse({"problem": problem}, status=status, headers=headers)


@require_safe
@public
def readings_openapi(request: HttpRequest) -> HttpResponse:
    """Describe the address for loggers, for whoever writes one (OpenAPI 3.1)."""
    told = description(
        origin_of(request), reverse("firing:readings_push"), most_bytes=MOST_BYTES
    )
    return JsonResponse(told)


@csrf_exempt
@require_POST
@public
def readings_push(request: HttpRequest) -> HttpResponse:
    """Save readings from a logger. Its token is the only authority; no cookie counts."""
    if settings.SECURE_SSL_REDIRECT and not request.is_secure():
        return _told(
            "Send to https, not http: anybody on the way could read the token. "
            "Take it away on the kiln's page and make another.",
            NEEDS_HTTPS,
        )
    scheme, _, token = request.headers.get("Authorization", "").partition(" ")
    logger = find_logger(token.strip()) if scheme.lower() == "bearer" else None
    if logger is None:
        return _told(
            "This token opens nothing. Send “Authorization: Bearer ...” with the token "
            "from the kiln's page.",
            NOT_ALLOWED,
            **{"WWW-Authenticate": "Bearer"},
        )
    if _is_too_often(logger.pk):
        return _told(
            f"At most {MOST_A_MINUTE} times a minute. Send several readings at once.",
            TOO_OFTEN,
            **{"Retry-After": "60"},
        )
    try:
        body = _body(request)
    except OSError:  # The connection broke, or a chunk is none.
        return _told("The readings did not arrive whole. Send them again.", BAD)
    if body is None:
        return _told(TOO_LARGE_WORDS, TOO_LARGE)
    encoding = request.headers.get("Content-Encoding", "identity")
    if encoding not in ENCODINGS:
        return _told("Send it as it is, or packed with gzip.", NOT_THIS_ENCODING)
    is_json = "json" in (request.content_type or "")
    try:
        if encoding == "gzip":
            body = unpacked(body, most=MOST_BYTES)
        if body is None:
            return _told(TOO_LARGE_WORDS, TOO_LARGE)
        readings = read_pushed(body, is_json=is_json, unit=request.GET.get("unit", "C"))
        clock = read_clock(body, is_json=is_json, given=request.GET.get("clock", ""))
    except PushProblem as problem:
        return _told(str(problem), BAD)
    try:
        taken = take_pushed(
            logger=logger, readings=readings, clock=clock, at=timezone.now()
        )
    except StudioError as problem:
        return _told(str(problem), REFUSED)
    return JsonResponse(
        {
            "firing": taken.firing.booking.title,
            "kept": taken.kept,
            "known_already": taken.known,
        }
    )


def _body(request: HttpRequest) -> bytes | None:
    """Return what was sent, or none if it is too much.

    Django takes a body without a length, sent in chunks, for an empty one.
    """
    if "chunked" in request.headers.get("Transfer-Encoding", "").lower():
        read: bytes = request.META["wsgi.input"].read(MOST_BYTES + 1)
        return read if len(read) <= MOST_BYTES else None
    length = request.headers.get("Content-Length") or "0"
    is_little = length.isdecimal() and len(length) < 10 and int(length) <= MOST_BYTES
    return request.body if is_little else None


def _is_too_often(pk: int) -> bool:
    key = f"logger-{pk}-{int(timezone.now().timestamp() // 60)}"
    cache.add(key, 0, 120)
    try:
        return int(cache.incr(key)) > MOST_A_MINUTE
    except ValueError:  # It ran out in between.
        return False


@require_POST
@requires(Can.MANAGE_KILNS)
def kiln_logger_new(request: StudioRequest, pk: int) -> HttpResponse:
    """Let a logger send readings of a kiln."""
    kiln = kiln_or_404(request, pk)
    try:
        made = make_logger(
            kiln=kiln,
            name=request.POST.get("name", ""),
            by=request.user,
            at=timezone.now(),
        )
    except StudioError as problem:
        messages.error(request, str(problem))
    else:
        messages.success(request, f"{made} may send readings. Its token is below.")
    return redirect(f"{reverse('firing:kiln_detail', args=[pk])}#kiln-loggers")


@require_POST
@requires(Can.MANAGE_KILNS)
def logger_revoke(request: StudioRequest, pk: int) -> HttpResponse:
    """Revoke a logger's token."""
    logger = logger_or_404(request, pk)
    revoke_logger(logger=logger, by=request.user, at=timezone.now())
    messages.success(request, f"{logger} may send no more; what it sent stays.")
    return redirect("firing:kiln_detail", logger.kiln_id)
