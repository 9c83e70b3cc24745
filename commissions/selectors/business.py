"""What a studio's papers say of it as a business."""

from commissions.models import BusinessDetails
from studio.models import Studio


def business_details(studio: Studio) -> BusinessDetails:
    """Return the studio's details, or unsaved empty ones."""
    found: BusinessDetails | None = BusinessDetails.owned.for_studio(studio).first()
    if found is None:
        return BusinessDetails(studio=studio)
    found.studio = studio
    return found


def business_name(details: BusinessDetails) -> str:
    """Return the name on papers."""
    return details.name or details.studio.name


def business_address(details: BusinessDetails) -> str:
    """Return the address on papers."""
    return details.address or details.studio.address
