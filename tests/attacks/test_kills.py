"""Killed at any moment, nothing that was acknowledged is lost and nothing counts twice."""

import contextlib
import json
import os
import signal
import threading
import time
from pathlib import Path

import pytest

from tests.attacks.person import CUT_OFF, Person
from tests.attacks.servers import children_of, own_servers, start_with_a_studio
from tests.attacks.test_disk import PASSWORD, manage
from tests.patience import LONG_S, in_form
from tests.studio.test_up import Up, free_port
from tests.worker import wait_until

pytestmark = [pytest.mark.slow, pytest.mark.worker]
ROUNDS = in_form(1, 4)
WRITERS = 4
BETWEEN_S = 1.5
# Waits until no work is open, and tells what there is.
STORED = f"""
import json
import time
from django.db import connection
from studio.models import Export, HistoryEntry, Job, Material
jobs = Job.across_studios
deadline = time.monotonic() + {LONG_S}
while jobs.filter(state__in=["waiting", "running"]).exists():
    assert time.monotonic() < deadline, list(jobs.values())
    time.sleep(0.1)
told = {{
    "names": list(Material.across_studios.values_list("name", flat=True)),
    "told": [one.what for one in HistoryEntry.across_studios.all()],
    "failed": list(jobs.filter(state="failed").values_list("name", "error")),
    "archives": Export.across_studios.exclude(file="").count(),
}}
if connection.vendor == "sqlite":
    with connection.cursor() as cursor:
        told["faults"] = cursor.execute("PRAGMA integrity_check").fetchall()
print(json.dumps(told))
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
            with contextlib.suppress(*CUT_OFF):
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
    with contextlib.suppress(*CUT_OFF):
        return up.get("/sign-in/")[0] == 200
    return False


def stored(up):
    done = manage(up.folder, "shell", "-v", "0", "-c", STORED, **up.variables)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def all_is_there(up, load):
    found = stored(up)
    assert load.told - {302, 200, 502, 503} == set(), "nothing else was ever answered"
    assert len(load.accepted) > 5
    assert set(load.accepted) - set(found["names"]) == set(), "acknowledged and lost"
    added = [what for what in found["told"] if "Frit" in what]
    assert len(added) == len(set(added)) == len(found["names"]), "half or twice"
    assert found["failed"] == []
    assert found["archives"] == 1
    assert found.get("faults", [["ok"]]) == [["ok"]]


def order_an_archive(up):
    owner = Person(f"http://127.0.0.1:{up.port}")
    owner.sign_in("una@example.org", PASSWORD)
    owner.get("/settings/yours/")
    assert owner.post("/settings/yours/archive/", {}).status == 302


def test_web_worker_and_up_are_killed_while_people_write(tmp_path):
    up = Up(tmp_path / "var", free_port())
    try:
        start_with_a_studio(up)
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
                up.start()
                up.wait_until_ready()
                wait_until(lambda: answers(up))
                time.sleep(BETWEEN_S)
        all_is_there(up, load)
    finally:
        up.end()


@pytest.fixture
def own():
    with own_servers() as servers:
        yield servers


@pytest.mark.long
def test_postgres_and_redis_are_killed_while_people_write(tmp_path, own):
    postgres, redis_server = own
    up = Up(
        tmp_path / "var",
        free_port(),
        STUDIO_DATABASE_URL=postgres.url,
        STUDIO_REDIS_URL=redis_server.url,
    )
    try:
        start_with_a_studio(up)
        with Load(up.port) as load:
            for _ in range(ROUNDS):
                time.sleep(BETWEEN_S)
                order_an_archive(up)
                for server in own:
                    server.kill()
                    time.sleep(2 * BETWEEN_S)
                    server.start()
                    wait_until(lambda: answers(up))
                    time.sleep(BETWEEN_S)
        assert 503 in load.told, "while it was gone, that was said"
        all_is_there(up, load)
    finally:
        up.end()
