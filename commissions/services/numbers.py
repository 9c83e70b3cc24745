"""Gives invoices and receipts their numbers: no number twice, none left out."""

from datetime import date

from commissions.models import NumberSeries
from studio.models import Studio
from studio.services.locks import held

# Enough for a small studio's year; a longer number is written out all the same.
DIGITS = 4
PREFIX = {NumberSeries.Name.INVOICE: "", NumberSeries.Name.RECEIPT: "R"}


def next_number(
    *, studio: Studio, name: NumberSeries.Name, day: date
) -> tuple[int, int, str]:
    """Return the next year, serial and number.

    Called inside the transaction that uses it, as late as can be: the series' row stays
    held to its end, and a transaction that fails gives the number back.
    """
    row, _ = NumberSeries.across_studios.get_or_create(
        studio=studio, name=name, year=day.year
    )
    series = held(NumberSeries.across_studios).get(pk=row.pk)
    series.last += 1
    series.save(update_fields=["last"])
    return day.year, series.last, f"{PREFIX[name]}{day.year}-{series.last:0{DIGITS}d}"
