"""No private link is in any log, not even in the web server's own at its loudest."""

import os
import socket
import subprocess
import sys

import pytest
from django.conf import settings
from django.urls import reverse

from studio import bootstrap
from studio.services.accounts import password_link
from tests.commissions import build
from tests.patience import LONG_S
from tests.worker import database_url, wait_until

SECRET = "D6DgqW0QhLh1Utoq6F_g5GG7VLkWmNLpxGh9hlkpKRLu67SVW_OG_RbKbcO-BREAK"
LOUD = ["--log-level", "debug", "--access-logfile", "-", "--error-logfile", "-"]
# All that an access log can be told to write of an address.
LOUD += ["--access-logformat", '%(r)s %(U)s %(q)s "%(f)s" %({raw_uri}e)s %(s)s']


class Server:
    """A real web server on this test's database."""

    def __init__(self, folder):
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.log = folder / "server.log"
        command = [sys.executable, "-m", "gunicorn"]
        command += ["tests.attacks.breaking_wsgi:application"]
        command += ["--bind", f"127.0.0.1:{self.port}", "--worker-class", "gthread"]
        command += ["--threads", "2", "--no-control-socket", *LOUD]
        environment = {
            **os.environ,
            "DJANGO_SETTINGS_MODULE": "studio.settings",
            "STUDIO_VAR_DIR": str(settings.VAR_DIR),
            "STUDIO_DATABASE_URL": database_url(),
            "STUDIO_LOG_LEVEL": "DEBUG",
        }
        with self.log.open("wb") as log:
            self.process = subprocess.Popen(
                command, cwd=bootstrap.ROOT, env=environment, stdout=log, stderr=log
            )

    def ask(self, line, *headers):
        """Send a request as it is written and return its status."""
        with socket.create_connection(("127.0.0.1", self.port), LONG_S) as to:
            lines = [line, *(headers or ["Host: localhost"]), "Connection: close"]
            to.sendall("\r\n".join([*lines, "", ""]).encode())
            answer = b""
            while more := to.recv(65536):
                answer += more
        return int(answer.split(b" ", 2)[1]) if answer else 0

    def is_up(self):
        try:
            return self.ask("GET /healthz HTTP/1.1") == 200
        except OSError:
            assert self.process.poll() is None, self.told()
            return False

    def told(self):
        return self.log.read_text(errors="replace")

    def stop(self):
        self.process.terminate()
        self.process.wait(timeout=LONG_S)


@pytest.fixture
def server(transactional_db, tmp_path):
    running = Server(tmp_path)
    yield running
    running.stop()


@pytest.mark.slow
def test_no_link_is_in_any_log(server, request):
    cast = request.getfixturevalue("cast")
    token = build.token(build.sent(cast).commission)
    wait_until(server.is_up)
    link = reverse("commissions:shared_page", args=[token])
    broken = f"/c/{SECRET}/"
    wrong = f"/c/{SECRET[:-5]}/"
    spelt = f"/%63/{SECRET[:-5]}/"
    password = password_link(cast.owner)
    password_token = password.split("/")[-2]
    invitation = reverse("studio:invitation_link", args=[SECRET[:43]])
    host = "Host: localhost"
    asked = [
        (200, f"GET {link} HTTP/1.1", host),
        (200, f"GET /sign-in/?next={link} HTTP/1.1", host, f"Referer: http://x{link}"),
        (404, f"GET {wrong} HTTP/1.1", host),
        (404, f"GET {spelt} HTTP/1.1", host),
        (302, f"GET {password} HTTP/1.1", host),
        (302, f"GET {password.replace('/p', '/%70')} HTTP/1.1", host),
        (302, f"GET {invitation} HTTP/1.1", host),
        (302, f"GET {invitation.replace('inv', '%69nv')} HTTP/1.1", host),
        (404, f"GET {wrong}no/such/page HTTP/1.1", host),
        (400, f"GET {link} HTTP/1.1", "Host: a_b/c"),
        (400, f"GET {link} HTTP/1.1", host, f"Ref erer: http://x{link}"),
        (400, f"GET {link} HTTP/9.9.9", host),
        (400, f"G@T {link} HTTP/1.1", host),
        (414, f"GET {link}?{'x' * 9000} HTTP/1.1", host),
        (405, f"DELETE {link} HTTP/1.1", host),
        (500, f"GET {broken} HTTP/1.1", host),
        (500, f"GET {link}?break=server HTTP/1.1", host),
    ]
    for status, line, *headers in asked:
        assert server.ask(line, *headers) == status, line[:99]
    server.stop()
    told = server.told()
    assert "cannot read" in told, "the fault itself is told"
    assert "cannot answer" in told
    assert " 404" in told, "the access log is on"
    assert password_token not in told
    for secret in (token, SECRET, SECRET[:-5]):
        assert secret not in told
        assert secret[8:40] not in told
