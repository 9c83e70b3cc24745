"""Orders the papers of a firing from the worker."""

from django.db import transaction

from firing.firings import documents
from firing.firings.documents import ControllerSheet
from firing.models import Firing
from firing.readings import verdict_sheet
from firing.readings.verdict_sheet import VerdictSheet


@transaction.atomic
def ask_for_sheet(*, firing: Firing, sheet: ControllerSheet, origin: str) -> None:
    """Have the sheet's PDF made in the background, unless it exists or is being made."""
    documents.order_sheet(firing, sheet, origin=origin)


@transaction.atomic
def ask_for_verdict(*, firing: Firing, sheet: VerdictSheet) -> None:
    """Have the PDF of a verdict made, unless it exists or is being made."""
    verdict_sheet.order_sheet(firing, sheet)
