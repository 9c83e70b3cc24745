"""Two answers for whoever monitors the service; no sign-in, no studio's data."""

import os

from django.conf import settings
from django.db import DatabaseError, InterfaceError, connection
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.views.decorators.http import require_safe
from kombu.exceptions import KombuError
from redis.exceptions import RedisError

from studio.celery import app
from studio.http import public
from studio.pdf import pdf_available

# With less room the next backup or photograph fills the disk.
LEAST_B = 20 * 1024 * 1024


@public
@require_safe
def process_up(request: HttpRequest) -> HttpResponse:
    """Say that the process answers."""
    return HttpResponse("up\n", content_type="text/plain; charset=utf-8")


@public
@require_safe
def ready(request: HttpRequest) -> HttpResponse:
    """Return whether disk, database and broker work, and whether PDFs can be made.

    Without PDFs the studio still works, so that alone is not "not ready".
    """
    checks = {"disk": _disk(), "database": _database(), "broker": _broker()}
    is_ready = all(checks.values())
    return JsonResponse(
        {**checks, "pdf": pdf_available()}, status=200 if is_ready else 503
    )


def _disk() -> bool:
    """Return whether the folder of the data may be written and has room."""
    try:
        told = os.statvfs(settings.VAR_DIR)
    except OSError:
        return False
    return not told.f_flag & os.ST_RDONLY and told.f_bavail * told.f_frsize > LEAST_B


def _database() -> bool:
    try:
        with connection.cursor() as cursor:
            # SQLite opens its file only when a table is looked into.
            cursor.execute("SELECT count(*) FROM django_migrations")
    except (DatabaseError, InterfaceError):
        return False
    return True


def _broker() -> bool:
    try:
        with app.connection_for_write(connect_timeout=2) as broker:
            broker.ensure_connection(max_retries=1, timeout=2)
    except (KombuError, RedisError, OSError):
        return False
    return True
