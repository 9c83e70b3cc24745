"""The Celery application: which broker, from the settings. No task lives here."""

import os
from pathlib import Path

from celery import Celery
from celery.signals import beat_embedded_init, setup_logging, worker_process_init
from django.conf import settings
from kombu.transport import TRANSPORT_ALIASES

from studio import folder_broker, startup
from studio.supervisor import die_with_parent

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")

TRANSPORT_ALIASES[folder_broker.SCHEME] = folder_broker.TRANSPORT

NICENESS = 5

app = Celery("studio")
app.config_from_object("django.conf:settings", namespace="CELERY")

if not settings.REDIS_URL:
    for name in ("data_folder_in", "control_folder", "processed_folder"):
        folder = Path(str(settings.CELERY_BROKER_TRANSPORT_OPTIONS[name]))
        folder.mkdir(parents=True, exist_ok=True)


@setup_logging.connect
def keep_django_logging(**_: object) -> None:
    """Leave logging as the settings have it; with a receiver, Celery leaves it alone."""


@beat_embedded_init.connect
def end_beat_with_worker(**_: object) -> None:
    """End a beat inside a worker when that worker is killed."""
    die_with_parent()


@worker_process_init.connect
def start_up(**_: object) -> None:
    """Warm up a new worker process beside its first job: Celery ends slow starters."""
    # Whoever waits for a page comes first.
    os.nice(NICENESS)
    startup.begin_beside()
