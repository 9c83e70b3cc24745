"""Pushes to phones: RFC 8030, encrypted by RFC 8291 and signed by RFC 8292.

The package `webpush` encrypts and signs; what is sent where is decided here.
"""

import base64
import hashlib
import http.client
import ipaddress
import json
import socket
import ssl
from functools import cache
from urllib.parse import urlsplit

from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    PublicFormat,
)
from django.conf import settings

from studio.errors import Refused

TIMEOUT_S = 10
# A phone that is off for longer learns it from the Messages page [s].
KEPT_S = 24 * 3600
GONE = (404, 410)
# A record holds 4096 bytes, 103 of them for what seals it (RFC 8188, section 2).
MOST_BYTES = 3500
AUTH_BYTES = 16
NO_SERVICE = "This browser named no push service that can be used."
# Mapped, translated, and 6to4 addresses (RFC 4291, 6052, 3056).
CARRIES_IPV4 = [
    ipaddress.ip_network(net) for net in ("::/96", "64:ff9b::/96", "2002::/16")
]
# Order of the curve P-256 (FIPS 186-5, SP 800-186).
P256_ORDER = 0xFFFFFFFF00000000FFFFFFFFFFFFFFFFBCE6FAADA7179E84F3B9CAC2FC632551


class PhoneGone(Exception):
    """The push service no longer knows the phone."""


@cache
def _key() -> ec.EllipticCurvePrivateKey:
    """Return this installation's key: from its secret, so every process has the same."""
    seed = hashlib.sha512(b"push to phones" + settings.SECRET_KEY.encode()).digest()
    number = int.from_bytes(seed, "big") % (P256_ORDER - 1) + 1
    return ec.derive_private_key(number, ec.SECP256R1())


def public_key() -> bytes:
    """Return the key that a browser ties its subscription to (RFC 8292, section 4)."""
    return (
        _key().public_key().public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)
    )


def check_endpoint(endpoint: str) -> None:
    """Refuse what is no push service's address on the public network.

    Raises
    ------
    Refused
        When it is no https address, or names a machine of a private network.
    """
    try:
        parts = urlsplit(endpoint)
        port = parts.port or 443
    except ValueError as problem:
        raise Refused(NO_SERVICE) from problem
    if parts.scheme != "https" or not parts.hostname:
        raise Refused(NO_SERVICE)
    if settings.PUSH_TO_ANY_HOST:
        return
    try:
        found = socket.getaddrinfo(parts.hostname, port)
    except OSError as problem:
        raise OSError(f"{parts.hostname} is not found.") from problem
    for *_, address in found:
        if not _is_public(str(address[0])):
            raise Refused("This push service is not on the public network.")


def _is_public(address: str) -> bool:
    """Return whether an address is one machine's on the public network.

    What carries an address of IPv4 inside is not: no push service needs it.
    """
    found = ipaddress.ip_address(address.partition("%")[0])
    if found.is_multicast or not found.is_global:
        return False
    return not any(found in net for net in CARRIES_IPV4)


def check_keys(p256dh: str, auth: str) -> None:
    """Refuse keys with which nothing can be encrypted (RFC 8291, sections 2 and 3).

    Raises
    ------
    Refused
        When one is no point of the curve, or the other is not 16 bytes.
    """
    try:
        ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), _plain(p256dh))
        is_usable = len(_plain(auth)) == AUTH_BYTES
    except ValueError:
        is_usable = False
    if not is_usable:
        raise Refused("This browser sent no usable keys. Try again in another one.")


def _plain(text: str) -> bytes:
    bare = text.rstrip("=")
    return base64.urlsafe_b64decode(bare + "=" * (-len(bare) % 4))


def push(
    *,
    endpoint: str,
    p256dh: str,
    auth: str,
    told: dict[str, str],
    topic: str,
    is_urgent: bool,
    sender_address: str,
) -> None:
    """Send a message to a phone.

    Raises
    ------
    PhoneGone
        When the push service says that nobody is there any more.
    OSError
        When it cannot be reached or does not take it now.
    Refused
        When its address may not be used.
    """
    # Pydantic takes a quarter of a second to load; only the worker sends.
    from webpush import WebPush, WebPushSubscription
    from webpush.types import WebPushKeys

    check_endpoint(endpoint)
    pem = _key().private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    public = _key().public_key()
    sender = WebPush(
        private_key=pem,
        public_key=public.public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo),
        ttl=KEPT_S,
    )
    sealed = sender.get(
        _fitted(told),
        WebPushSubscription(
            endpoint=endpoint, keys=WebPushKeys(auth=auth, p256dh=p256dh)
        ),
        subscriber=sender_address,
    )
    headers = {
        **sealed.headers,
        "Content-Type": "application/octet-stream",
        "Urgency": "high" if is_urgent else "normal",
        # One that is not yet there is replaced (RFC 8030, section 5.4).
        "Topic": hashlib.sha256(topic.encode()).hexdigest()[:32],
    }
    _post(endpoint, sealed.encrypted, headers)


def _fitted(told: dict[str, str]) -> bytes:
    """Return a message as JSON that fits into one record; its text is cut, if anything."""
    text = told["text"]
    while True:
        data = json.dumps(told | {"text": text}, ensure_ascii=False).encode()
        if len(data) <= MOST_BYTES or not text:
            return data
        text = text[: len(text) * 3 // 4]


def _post(endpoint: str, body: bytes, headers: dict[str, str]) -> None:
    parts = urlsplit(endpoint)
    connection = http.client.HTTPSConnection(
        parts.hostname or "",
        parts.port,
        timeout=TIMEOUT_S,
        context=ssl.create_default_context(),
    )
    path = f"{parts.path or '/'}{'?' + parts.query if parts.query else ''}"
    try:
        connection.request("POST", path, body=body, headers=headers)
        status = connection.getresponse().status
    except http.client.HTTPException as problem:
        raise OSError(f"The push service broke off: {problem!r}.") from problem
    finally:
        connection.close()
    if status in GONE:
        raise PhoneGone
    if not 200 <= status < 300:
        raise OSError(f"The push service answered {status}.")
