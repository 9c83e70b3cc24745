"""The firing app: guards kiln time and adds its sections to the studio's pages."""

from importlib import import_module

from django.apps import AppConfig
from django.db.models.signals import post_migrate, pre_migrate

from firing import guard
from studio.startup import at_start


def warm_up_physics() -> None:
    """Load or compile the engine now, so that no request has to wait for it."""
    import_module("firing.physics.slab.warm").warm_up()


class FiringConfig(AppConfig):
    """Schedules, kiln time, firings and readings."""

    name = "firing"
    verbose_name = "Firing"

    def ready(self) -> None:
        pre_migrate.connect(guard.drop_triggers, sender=self)
        post_migrate.connect(guard.create_triggers, sender=self)
        at_start(warm_up_physics)
        import_module("firing.tasks")
        import_module("firing.firings.selectors.load_days")
        import_module("firing.schedules.selectors.glass_sheet")
        import_module("firing.schedules.selectors.mixed")
        import_module("firing.plans.services.watch")
        import_module("firing.panels")
        import_module("firing.styleguide")
        import_module("firing.portable")
