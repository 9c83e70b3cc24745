"""Where the client's page is."""

from datetime import datetime
from typing import TYPE_CHECKING

from django.urls import reverse

from commissions.selectors.share_links import link_token, live_link
from studio.http import StudioRequest

if TYPE_CHECKING:
    from commissions.models import Commission, ShareLink


def share_url(request: StudioRequest, link: "ShareLink") -> str:
    """Return the full address of the client's page."""
    path = reverse("commissions:shared_page", args=[link_token(link)])
    return request.build_absolute_uri(path)


def client_page_url(
    request: StudioRequest, commission: "Commission", *, at: datetime
) -> str:
    """Return the full address of a client's page, or nothing if they have none."""
    link = live_link(commission, at=at)
    return share_url(request, link) if link else ""
