"""Writes the promised days of accepted quotes on their pieces."""

from django.db import migrations
from django.db.models.functions import Coalesce


def tell_due_dates(apps, schema_editor):
    """Fill in the days that count: agreed since, else promised; none once closed."""
    database = schema_editor.connection.alias
    quotes = apps.get_model("commissions", "Quote").across_studios.using(database)
    joined = apps.get_model("commissions", "CommissionedPiece").across_studios.using(
        database
    )
    pieces = apps.get_model("studio", "Piece").across_studios.using(database)
    days = dict(
        quotes.filter(accepted_at__isnull=False, commission__closed_at__isnull=True)
        .annotate(day=Coalesce("agreed_date", "promised_date"))
        .filter(day__isnull=False)
        .values_list("commission", "day")
    )
    rows = joined.filter(commission__in=days, is_maquette=False)
    for piece, commission in rows.values_list("piece", "commission"):
        pieces.filter(pk=piece).update(due_date=days[commission])


class Migration(migrations.Migration):
    dependencies = [
        ("commissions", "0004_price_book_without_minutes"),
        ("studio", "0005_bench_minutes_and_due_dates"),
    ]

    operations = [migrations.RunPython(tell_due_dates, migrations.RunPython.noop)]
