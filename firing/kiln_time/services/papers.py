"""Orders the papers of the kilns' week from the worker."""

from datetime import date

from django.db import transaction

from firing.kiln_time import week_sheet
from firing.kiln_time.week_sheet import WeekSheet
from studio.models import Studio


@transaction.atomic
def ask_for_week(*, studio: Studio, sheet: WeekSheet, first_day: date) -> None:
    """Have the PDF of a week made, unless it exists or is being made."""
    week_sheet.order_sheet(studio, sheet, first_day)
