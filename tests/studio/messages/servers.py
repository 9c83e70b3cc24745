"""A real mail server and a real push service on loopback."""

import asyncio
import base64
import datetime as dt
import http.server
import ipaddress
import os
import socket
import ssl
import threading
from contextlib import contextmanager

from aiosmtpd.controller import Controller
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from cryptography.x509.oid import NameOID

UNCOMPRESSED = (
    serialization.Encoding.X962,
    serialization.PublicFormat.UncompressedPoint,
)


class Mailbox:
    """Takes mail, or refuses it for now, as an SMTP server does."""

    def __init__(self):
        self.letters = []
        self.refuses = ""
        self.is_asked, self.may_answer = threading.Event(), threading.Event()
        self.is_lost = threading.Event()
        self.may_answer.set()

    async def handle_DATA(self, server, session, envelope):  # noqa: N802 - its hook
        self.is_asked.set()
        if self.refuses:
            return self.refuses
        try:
            while not self.may_answer.is_set():
                await asyncio.sleep(0.05)
        except asyncio.CancelledError:
            self.is_lost.set()
            raise
        self.letters.append(envelope)
        return "250 OK"


@contextmanager
def mail_server():
    """Run a mail server; give its mailbox and its port."""
    box = Mailbox()
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    controller = Controller(box, hostname="127.0.0.1", port=port)
    controller.start()
    try:
        yield box, port
    finally:
        controller.stop()


def encoded(data: bytes) -> str:
    return base64.urlsafe_b64encode(data).decode().rstrip("=")


class Browser:
    """The keys that a browser makes for a subscription, and how it opens a message."""

    def __init__(self, *, key=None, secret=None):
        self.key = key or ec.generate_private_key(ec.SECP256R1())
        self.secret = secret or os.urandom(16)

    @property
    def p256dh(self) -> str:
        return encoded(self.key.public_key().public_bytes(*UNCOMPRESSED))

    @property
    def auth(self) -> str:
        return encoded(self.secret)

    def opened(self, body: bytes) -> bytes:
        """Decrypt by RFC 8291, section 3.4, and RFC 8188, section 2."""
        salt, id_length = body[:16], body[20]
        sender, sealed = body[21 : 21 + id_length], body[21 + id_length :]
        own = self.key.public_key().public_bytes(*UNCOMPRESSED)
        peer = ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), sender)
        shared = self.key.exchange(ec.ECDH(), peer)
        info = b"WebPush: info\x00" + own + sender
        ikm = _hkdf(32, self.secret, info).derive(shared)
        cek = _hkdf(16, salt, b"Content-Encoding: aes128gcm\x00").derive(ikm)
        nonce = _hkdf(12, salt, b"Content-Encoding: nonce\x00").derive(ikm)
        padded = AESGCM(cek).decrypt(nonce, sealed, None).rstrip(b"\x00")
        assert padded[-1:] == b"\x02"
        return padded[:-1]


def _hkdf(length, salt, info):
    return HKDF(algorithm=hashes.SHA256(), length=length, salt=salt, info=info)


@contextmanager
def push_service(folder, *, status=201):
    """Run a push service with TLS; give what it got, its address, and its certificate."""
    got = []
    answer = {"status": status}

    class Service(http.server.BaseHTTPRequestHandler):
        def do_POST(self):
            body = self.rfile.read(int(self.headers["Content-Length"]))
            got.append((dict(self.headers), body))
            self.send_response(answer["status"])
            self.send_header("Content-Length", "0")
            self.end_headers()

        def log_message(self, *_):
            """Say nothing."""

    certificate = _certificate(folder)
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Service)
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(certificate)
    server.socket = context.wrap_socket(server.socket, server_side=True)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        address = f"https://127.0.0.1:{server.server_address[1]}/push/abc"
        yield got, address, certificate, answer
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


def _certificate(folder):
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "loopback")])
    now = dt.datetime.now(dt.UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - dt.timedelta(days=1))
        .not_valid_after(now + dt.timedelta(days=2))
        .add_extension(
            x509.SubjectAlternativeName(
                [x509.IPAddress(ipaddress.ip_address("127.0.0.1"))]
            ),
            critical=False,
        )
        .add_extension(x509.BasicConstraints(ca=True, path_length=None), critical=True)
        .sign(key, hashes.SHA256())
    )
    path = folder / "loopback.pem"
    path.write_bytes(
        key.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        )
        + made.public_bytes(serialization.Encoding.PEM)
    )
    return path
