"""Tokens that a database alone does not give away: a nonce, and a keyed digest of it."""

import base64
import secrets

from django.utils.crypto import constant_time_compare, salted_hmac

NONCE_LETTERS = DIGEST_LETTERS = 32


def new_nonce() -> str:
    """Return the half of a token that its row keeps."""
    return secrets.token_urlsafe(24)


def token_with(nonce: str, *, salt: str) -> str:
    """Return the token of a nonce."""
    return f"{nonce}{_digest(nonce, salt)}"


def nonce_in(token: str, *, salt: str) -> str | None:
    """Return the nonce of a token that we made, or none."""
    nonce, digest = token[:NONCE_LETTERS], token[NONCE_LETTERS:]
    if not token.isascii():
        return None
    return nonce if constant_time_compare(digest, _digest(nonce, salt)) else None


def _digest(nonce: str, salt: str) -> str:
    mac = salted_hmac(salt, nonce, algorithm="sha256").digest()
    return base64.urlsafe_b64encode(mac).decode("ascii")[:DIGEST_LETTERS]
