"""Requests that never end keep no thread: others are answered meanwhile."""

import socket
import subprocess
import sys
import time
from contextlib import ExitStack

import pytest

from studio.bootstrap import ROOT
from tests.attacks.person import Person
from tests.patience import LONG_S
from tests.studio.test_up import free_port
from tests.worker import wait_until

pytestmark = pytest.mark.slow
THREADS = 2
HEAD = b"POST / HTTP/1.1\r\nHost: 127.0.0.1\r\n"
NEVER_ENDING = {
    "a head": HEAD,
    "a body": HEAD + b"Content-Length: 1000\r\n\r\nabc",
    "chunks": HEAD + b"Transfer-Encoding: chunked\r\n\r\n3\r\nabc\r\n",
}


@pytest.fixture(scope="module")
def server():
    port = free_port()
    command = [sys.executable, "-m", "gunicorn", "tests.attacks.impatient_wsgi"]
    command += ["--worker-class", "studio.slow_senders.Worker", "--no-control-socket"]
    command += ["--threads", str(THREADS), "--bind", f"127.0.0.1:{port}"]
    with subprocess.Popen(command, cwd=ROOT) as started:
        try:
            wait_until(lambda: _connects(port))
            yield port
        finally:
            started.terminate()


def _connects(port):
    with socket.socket() as tried:
        return tried.connect_ex(("127.0.0.1", port)) == 0


def connect(port):
    return socket.create_connection(("127.0.0.1", port), timeout=LONG_S)


@pytest.mark.parametrize("name", NEVER_ENDING)
def test_whoever_sends_without_end_stops_nobody(server, name):
    with ExitStack() as open_ones:
        senders = [open_ones.enter_context(connect(server)) for _ in range(4 * THREADS)]
        for one in senders:
            one.sendall(NEVER_ENDING[name])
        assert Person(f"http://127.0.0.1:{server}").get("/").status == 200
        for one in senders:
            one.shutdown(socket.SHUT_WR)


def test_what_comes_slowly_but_steadily_arrives(server):
    with connect(server) as sender:
        sender.sendall(HEAD + b"Content-Length: 50000\r\nConnection: close\r\n\r\n")
        for _ in range(10):
            sender.sendall(b"x" * 5_000)
            time.sleep(0.2)
        answer = b"".join(iter(lambda: sender.recv(4096), b""))
    assert b"50000 bytes" in answer
