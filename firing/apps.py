"""The firing app: guards kiln time and adds its sections to the studio's pages."""

from importlib import import_module

from django.apps import AppConfig
from django.db.models.signals import post_migrate, pre_migrate

from firing import guard


class FiringConfig(AppConfig):
    """Schedules, kiln time, firings and readings."""

    name = "firing"
    verbose_name = "Firing"

    def ready(self) -> None:
        pre_migrate.connect(guard.drop_triggers, sender=self)
        post_migrate.connect(guard.create_triggers, sender=self)
        import_module("firing.tasks")
        import_module("firing.views.panels")
        import_module("firing.views.styleguide")
