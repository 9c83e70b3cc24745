"""Two answers for whoever monitors the service; no sign-in, no studio's data."""

from django.db import DatabaseError, connection
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.views.decorators.http import require_safe
from kombu.exceptions import KombuError
from redis.exceptions import RedisError

from studio.celery import app
from studio.http import public
from studio.pdf import pdf_available


@public
@require_safe
def process_up(request: HttpRequest) -> HttpResponse:
    """Say that the process answers."""
    return HttpResponse("up\n", content_type="text/plain")


@public
@require_safe
def ready(request: HttpRequest) -> HttpResponse:
    """Return whether the database and the broker answer, and whether PDFs can be made.

    Without PDFs the studio still works, so that alone is not "not ready".
    """
    checks = {"database": _database(), "broker": _broker()}
    is_ready = all(checks.values())
    return JsonResponse(
        {**checks, "pdf": pdf_available()}, status=200 if is_ready else 503
    )


def _database() -> bool:
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError:
        return False
    return True


def _broker() -> bool:
    try:
        with app.connection_for_write(connect_timeout=2) as broker:
            broker.ensure_connection(max_retries=1, timeout=2)
    except (KombuError, RedisError, OSError):
        return False
    return True
