"""Reads share links and the tokens in their addresses.

A token is the row's nonce and a keyed digest of it. A copy of the database opens
nothing, and a mistyped or guessed token costs no query.
"""

from datetime import datetime

from commissions.models import Commission, ShareLink
from studio.keyed_tokens import nonce_in, token_with

KEY_SALT = "commissions.share link"


def link_token(link: ShareLink) -> str:
    """Return what goes into the address of the client's page."""
    return token_with(link.nonce, salt=KEY_SALT)


def find_link(token: str) -> ShareLink | None:
    """Return the link for a token, even if expired or revoked, or none."""
    nonce = nonce_in(token, salt=KEY_SALT)
    if nonce is None:
        return None
    return (
        ShareLink.across_studios.select_related("commission__client", "studio")
        .filter(nonce=nonce)
        .first()
    )


def live_link(commission: Commission, *, at: datetime) -> ShareLink | None:
    """Return the commission's newest link that still opens, or none."""
    links: list[ShareLink] = list(
        ShareLink.owned.for_studio(commission.studio)
        .filter(commission=commission, revoked_at__isnull=True, expires_at__gt=at)
        .order_by("-made_at", "-pk")[:1]
    )
    return links[0] if links else None


def closed_links(commission: Commission, *, at: datetime) -> list[ShareLink]:
    """Return the links that were closed and could work again, the last closed first."""
    found = ShareLink.owned.for_studio(commission.studio).filter(
        commission=commission, revoked_at__isnull=False, expires_at__gt=at
    )
    return list(found.order_by("-revoked_at", "-pk"))
