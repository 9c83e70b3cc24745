"""What is done to a firing's controller sheet: ordered from the worker."""

from django.db import transaction

from firing import documents
from firing.documents import ControllerSheet
from firing.models import Firing


@transaction.atomic
def ask_for_sheet(*, firing: Firing, sheet: ControllerSheet, origin: str) -> None:
    """Have the sheet's PDF made in the background, unless it is there or under way."""
    documents.order_sheet(firing, sheet, origin=origin)
