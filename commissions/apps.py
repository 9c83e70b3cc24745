"""The commissions app: adds its sections to the studio's pages."""

from importlib import import_module

from django.apps import AppConfig


class CommissionsConfig(AppConfig):
    """Clients, quotes, payments and the client's page."""

    name = "commissions"
    verbose_name = "Commissions"

    def ready(self) -> None:
        import_module("commissions.tasks")
        import_module("commissions.views.panels")
        due_dates = import_module("firing.kiln_time.selectors.due_dates")
        promises = import_module("commissions.selectors.promises")
        due_dates.on_due_dates(promises.promised_dates)
        bench_times = import_module("firing.plans.selectors.bench_times")
        bench_times.on_bench_times(promises.studio_bench_times)
