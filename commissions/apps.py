"""The commissions app: adds its sections to the studio's pages."""

from importlib import import_module

from django.apps import AppConfig
from django.db.models.signals import post_migrate, pre_migrate

from commissions import guard


class CommissionsConfig(AppConfig):
    """Clients, quotes, payments and the client's page."""

    name = "commissions"
    verbose_name = "Commissions"

    def ready(self) -> None:
        pre_migrate.connect(guard.drop_triggers, sender=self)
        post_migrate.connect(guard.create_triggers, sender=self)
        import_module("commissions.tasks")
        import_module("commissions.views.panels")
        import_module("commissions.selectors.priced_in")
        import_module("commissions.selectors.quoted_parts")
        import_module("commissions.selectors.unpaid")
        import_module("commissions.services.promise_watch")
        import_module("commissions.portable")
