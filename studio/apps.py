"""The studio app: sets up Celery and names the modules that register things."""

from importlib import import_module

from django.apps import AppConfig

from studio.sqlite_side_files import keep_side_files
from studio.sqlite_statistics import look_at_indexes
from studio.startup import at_start


class StudioConfig(AppConfig):
    """What the workshop is, owns and makes."""

    name = "studio"
    verbose_name = "Studio"

    def ready(self) -> None:
        at_start(keep_side_files)
        at_start(look_at_indexes)
        import_module("studio.celery")
        import_module("studio.tasks")
        import_module("studio.middleware")
        import_module("studio.security_log")
        import_module("studio.forms.words")
        import_module("studio.portable")
