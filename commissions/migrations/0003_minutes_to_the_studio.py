"""Carries the minutes of work by hand from the price books to the studios."""

from django.db import migrations

MINUTES = (
    "cutting_minutes_per_layer",
    "painting_minutes_per_pass",
    "loading_minutes_per_firing",
    "assembly_minutes",
    "coldwork_minutes",
)


def carry_down(apps, schema_editor):
    """Give each studio with a price book the minutes of that book."""
    database = schema_editor.connection.alias
    books = apps.get_model("commissions", "PriceBook").across_studios.using(database)
    minutes = apps.get_model("studio", "BenchMinutes").across_studios.using(database)
    for book in books.values("studio_id", *MINUTES):
        studio = book.pop("studio_id")
        minutes.update_or_create(studio_id=studio, defaults=book)


def carry_up(apps, schema_editor):
    """Give each price book the minutes of its studio."""
    database = schema_editor.connection.alias
    books = apps.get_model("commissions", "PriceBook").across_studios.using(database)
    minutes = apps.get_model("studio", "BenchMinutes").across_studios.using(database)
    for row in minutes.values("studio_id", *MINUTES):
        books.filter(studio_id=row.pop("studio_id")).update(**row)


class Migration(migrations.Migration):
    dependencies = [
        ("commissions", "0002_promise_checks"),
        ("studio", "0005_bench_minutes_and_due_dates"),
    ]

    operations = [migrations.RunPython(carry_down, carry_up)]
