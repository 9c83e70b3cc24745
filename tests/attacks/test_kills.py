"""Killed at any moment, nothing that was acknowledged is lost and nothing counts twice."""

import contextlib
import json
import os
import signal
import tempfile
import threading
import time
import urllib.error
from pathlib import Path

import pytest

from tests.attacks.person import Person
from tests.attacks.servers import Postgres, Redis, children_of
from tests.attacks.test_disk import OPEN_STUDIO, PASSWORD, manage
from tests.patience import in_form
from tests.studio.test_up import Up, free_port
from tests.worker import wait_until

pytestmark = [pytest.mark.slow, pytest.mark.worker]
ROUNDS = in_form(1, 4)
WRITERS = 4
BETWEEN_S = 1.5
STORED = """
import json
from studio.models import Export, HistoryEntry, Job, Material
print(json.dumps({
    "names": list(Material.across_studios.values_list("name", flat=True)),
    "told": [one.what for one in HistoryEntry.across_studios.all()],
    "open": Job.across_studios.filter(state__in=["waiting", "running"]).count(),
    "failed": list(Job.across_studios.filter(state="failed").values_list("name", "error")),
    "archives": Export.across_studios.exclude(file="").count(),
}))
"""
CHECK = """
from django.db import connection
with connection.cursor() as cursor:
    cursor.execute("PRAGMA integrity_check")
    print(cursor.fetchone()[0])
"""


class Load:
    """People who add materials as fast as they can, and remember what was accepted."""

    def __init__(self, port: int) -> None:
        self.port = port
        self.accepted: list[str] = []
        self.told: set[int] = set()
        self.over = threading.Event()
        self.threads = [
            threading.Thread(target=self._work, args=[one]) for one in range(WRITERS)
        ]

    def __enter__(self) -> "Load":
        for thread in self.threads:
            thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.over.set()
        for thread in self.threads:
            thread.join()

    def _work(self, number: int) -> None:
        person = Person(f"http://127.0.0.1:{self.port}")
        person.sign_in("una@example.org", PASSWORD)
        made = 0
        while not self.over.is_set():
            name = f"Frit {number}-{made}"
            made += 1
            # A server that is being started again does not answer, or says so.
            with contextlib.suppress(urllib.error.URLError, OSError):
                status = self._add(person, name)
                self.told.add(status)
                if status == 302:
                    self.accepted.append(name)
            time.sleep(0.02)

    def _add(self, person: Person, name: str) -> int:
        page = person.get("/stock/materials/new/")
        if page.status != 200:
            return page.status
        material = {
            "name": name,
            "kind": "other",
            "unit": "g",
            "used_per": "not priced",
        }
        amounts = {"cost_per_unit": "1", "amount_used": "0", "on_hand": "5"}
        return person.post("/stock/materials/new/", material | amounts).status


def web(up):
    """Return the web server's processes: its head and what serves."""
    for pid in children_of(up.process.pid):
        if b"gunicorn" in Path(f"/proc/{pid}/cmdline").read_bytes():
            return [pid, *children_of(pid)]
    return []


def worker(up):
    """Return the worker's processes."""
    for pid in children_of(up.process.pid):
        if b"celery" in Path(f"/proc/{pid}/cmdline").read_bytes():
            return [pid, *children_of(pid)]
    return []


def kill(pids):
    for pid in pids:
        with contextlib.suppress(ProcessLookupError):
            os.kill(pid, signal.SIGKILL)


def answers(up):
    with contextlib.suppress(urllib.error.URLError, OSError):
        return up.get("/sign-in/")[0] == 200
    return False


def ready(up):
    up.start()
    up.wait_until_ready()


def stored(up):
    done = manage(up.folder, "shell", "-v", "0", "-c", STORED, **up.variables)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def all_is_there(up, load):
    wait_until(lambda: stored(up)["open"] == 0)
    found = stored(up)
    assert load.told - {302, 200, 502, 503} == set(), "nothing else was ever answered"
    assert len(load.accepted) > 5
    assert set(load.accepted) - set(found["names"]) == set(), "acknowledged and lost"
    added = [what for what in found["told"] if "Frit" in what]
    assert len(added) == len(set(added)) == len(found["names"]), "half or twice"
    assert found["failed"] == []
    assert found["archives"] == 1


def order_an_archive(up):
    owner = Person(f"http://127.0.0.1:{up.port}")
    owner.sign_in("una@example.org", PASSWORD)
    owner.get("/settings/yours/")
    assert owner.post("/settings/yours/archive/", {}).status == 302


def test_web_worker_and_up_are_killed_while_people_write(tmp_path):
    up = Up(tmp_path / "var", free_port())
    try:
        ready(up)
        assert manage(up.folder, "shell", "-c", OPEN_STUDIO).returncode == 0
        with Load(up.port) as load:
            for _ in range(ROUNDS):
                time.sleep(BETWEEN_S)
                order_an_archive(up)
                kill(worker(up))
                time.sleep(BETWEEN_S)
                kill(web(up))
                wait_until(lambda: answers(up))
                time.sleep(BETWEEN_S)
                up.process.kill()
                up.process.wait()
                wait_until(lambda: not up.pids())
                ready(up)
                wait_until(lambda: answers(up))
                time.sleep(BETWEEN_S)
        all_is_there(up, load)
        assert manage(up.folder, "shell", "-v", "0", "-c", CHECK).stdout == "ok\n"
    finally:
        up.end()


@pytest.fixture
def servers():
    made = []
    with contextlib.ExitStack() as folders:
        for kind in (Postgres, Redis):
            # PostgreSQL's user must reach it, and pytest's folders are closed to others.
            folder = folders.enter_context(tempfile.TemporaryDirectory())
            made.append(kind(Path(folder)))
        try:
            for server in made:
                server.start()
            yield made
        finally:
            for server in made:
                if server.process is not None:
                    server.kill()


@pytest.mark.long
def test_postgres_and_redis_are_killed_while_people_write(tmp_path, servers):
    postgres, redis_server = servers
    up = Up(
        tmp_path / "var",
        free_port(),
        STUDIO_DATABASE_URL=postgres.url,
        STUDIO_REDIS_URL=redis_server.url,
    )
    try:
        ready(up)
        made = manage(up.folder, "shell", "-c", OPEN_STUDIO, **up.variables)
        assert made.returncode == 0, made.stderr
        with Load(up.port) as load:
            for _ in range(ROUNDS):
                time.sleep(BETWEEN_S)
                order_an_archive(up)
                for server in servers:
                    server.kill()
                    time.sleep(2 * BETWEEN_S)
                    server.start()
                    wait_until(lambda: answers(up))
                    time.sleep(BETWEEN_S)
        assert 503 in load.told, "while it was gone, that was said"
        all_is_there(up, load)
    finally:
        up.end()
