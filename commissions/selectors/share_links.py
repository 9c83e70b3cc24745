"""Reads share links and the tokens in their addresses.

A token is the row's nonce and a keyed digest of it. A copy of the database opens
nothing, and a mistyped or guessed token costs no query.
"""

import base64
from datetime import datetime

from django.utils.crypto import constant_time_compare, salted_hmac

from commissions.models import Commission, ShareLink

KEY_SALT = "commissions.share link"
NONCE_LETTERS = 32
DIGEST_LETTERS = 32


def link_token(link: ShareLink) -> str:
    """Return what goes into the address of the client's page."""
    return f"{link.nonce}{_digest(link.nonce)}"


def find_link(token: str) -> ShareLink | None:
    """Return the link for a token, even if expired or revoked, or none."""
    nonce, digest = token[:NONCE_LETTERS], token[NONCE_LETTERS:]
    if not token.isascii() or not constant_time_compare(digest, _digest(nonce)):
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


def _digest(nonce: str) -> str:
    mac = salted_hmac(KEY_SALT, nonce, algorithm="sha256").digest()
    return base64.urlsafe_b64encode(mac).decode("ascii")[:DIGEST_LETTERS]
