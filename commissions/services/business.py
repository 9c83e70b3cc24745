"""Changes what a studio's papers say of it as a business."""

from datetime import datetime
from typing import TypedDict, Unpack

from django.db import transaction

from commissions.bank import is_bic, is_iban, tidy
from commissions.models import BusinessDetails
from studio.errors import Refused
from studio.models import Person, Studio
from studio.services import history


class BusinessFacts(TypedDict, total=False):
    """What can be said; what is left out stays as it is."""

    name: str
    address: str
    tax_number: str
    account_holder: str
    iban: str
    bic: str
    other_ways: str
    payment_link: str
    days_to_pay: int
    terms: str


@transaction.atomic
def set_business_details(
    *, studio: Studio, by: Person | None, at: datetime, **facts: Unpack[BusinessFacts]
) -> BusinessDetails:
    """Set a studio's details; invoices already issued keep what they say.

    Raises
    ------
    Refused
        When an IBAN or BIC cannot be right.
    """
    kept: BusinessFacts = {**facts}
    for name in ("iban", "bic"):
        if name in kept:
            kept[name] = tidy(kept[name])
    if kept.get("iban") and not is_iban(kept["iban"]):
        raise Refused(
            "This IBAN has a wrong digit. Compare it with your bank's letter."
        )
    if kept.get("bic") and not is_bic(kept["bic"]):
        raise Refused("A BIC has 8 or 11 letters and digits.")
    details, _ = BusinessDetails.across_studios.update_or_create(
        studio=studio, defaults=kept
    )
    history.record(
        studio=studio,
        by=by,
        at=at,
        what="Changed the business details",
        is_about_money=True,
    )
    return details
