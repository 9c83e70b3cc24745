"""Prints what a long file of readings costs those who work meanwhile; not a test.

    python -m tests.firing.readings.benchmark_import [--rows 432000] [--people 9]

Starts a real `up` with the demo on a data folder of its own, has several people look and
write over HTTP while one sends the file, and prints the longest request, the answers, the
memory of web server and worker, and the time beside the database's own bulk load of the
same rows. On a machine that does nothing else.
"""

import argparse
import datetime as dt
import os
import random
import re
import shutil
import sqlite3
import statistics
import tempfile
import threading
import time
from pathlib import Path

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
os.environ.setdefault("STUDIO_NO_BOOTSTRAP", "1")
django.setup()

from tests.attacks.person import Person  # noqa: E402 - settings first
from tests.attacks.test_disk import manage  # noqa: E402
from tests.studio.test_up import Up, free_port  # noqa: E402

PASSWORD = "slow-cooling"
PEOPLE = ("wren", "tobin", "isla", "odo")
ROUND = ("/", "/kilns/", "/pieces/", "/firings/", "/stock/", "/settings/")


def log_of(rows, start):
    lines = (
        f"{start + dt.timedelta(seconds=n):%Y-%m-%d %H:%M:%S},{20 + n % 9000 / 10:.1f}\n"
        for n in range(rows)
    )
    return ("Time,Temp (C)\n" + "".join(lines)).encode()


def bulk_load_s(database, rows):
    """Return how long SQLite takes for the same rows, in one transaction."""
    copy = database.with_name("bulk.sqlite3")
    connection = sqlite3.connect(copy, isolation_level=None)
    source = sqlite3.connect(database)
    source.backup(connection)
    source.close()
    connection.execute("PRAGMA journal_mode=WAL")
    connection.execute("PRAGMA synchronous=NORMAL")
    studio, firing = connection.execute(
        "SELECT studio_id, id FROM firing_firing LIMIT 1"
    ).fetchone()
    begin = dt.datetime(2026, 3, 2, 8)  # noqa: DTZ001 - as SQLite holds it
    values = [
        (studio, firing, str(begin + dt.timedelta(seconds=n)), 20 + n % 9000 / 10)
        for n in range(rows)
    ]
    began = time.perf_counter()
    connection.execute("BEGIN IMMEDIATE")
    connection.executemany(
        "INSERT INTO firing_reading (studio_id, firing_id, source_id, at, temperature_c) "
        "VALUES (?, ?, (SELECT min(id) FROM firing_readingimport), ?, ?)",
        values,
    )
    connection.execute("COMMIT")
    took = time.perf_counter() - began
    connection.close()
    copy.unlink()
    return took


def memory_mb(up):
    """Return the resident memory of each process of `up` [MB]."""
    found = {}
    for pid in up.pids():
        status = Path(f"/proc/{pid}/status").read_text()
        found[pid] = int(re.search(r"VmRSS:\s+(\d+)", status).group(1)) / 1024
    return found


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rows", type=int, default=432_000)
    parser.add_argument("--people", type=int, default=9)
    parser.add_argument(
        "--pause", type=float, default=2.0, help="seconds of each person"
    )
    options = parser.parse_args()
    folder = Path(tempfile.mkdtemp(prefix="slowcool-import-"))
    up = Up(folder / "var", free_port())
    try:
        measure(up, options.rows, options.people, options.pause)
    finally:
        up.end()
        shutil.rmtree(folder, ignore_errors=True)


def measure(up, rows, people, pause_s):
    up.start()
    up.wait_until_ready()
    loaded = manage(up.folder, "load_demo")
    assert loaded.returncode == 0, loaded.stderr
    database = up.folder / "slowcool.sqlite3"
    print(
        f"SQLite's own bulk load of {rows:,} rows: {bulk_load_s(database, rows):.2f} s"
    )
    address = f"http://127.0.0.1:{up.port}"
    workers = [Person(address) for _ in range(people)]
    sender = workers[0]
    for number, one in enumerate(workers):
        one.sign_in(f"{PEOPLE[number % 4]}@example.org", PASSWORD)
    running = (
        sqlite3.connect(database)
        .execute(
            "SELECT id, started_at FROM firing_firing WHERE started_at IS NOT NULL "
            "AND studio_id = 1 ORDER BY started_at DESC LIMIT 1"
        )
        .fetchone()
    )
    firing, start = running[0], dt.datetime.fromisoformat(running[1])
    data = log_of(rows, start)
    time.sleep(10)  # What the start ordered is done.
    calm = memory_mb(up)
    over, answers, most = threading.Event(), [], dict(calm)

    pause = random.Random(1)

    def work(one):
        at = 0
        time.sleep(pause.uniform(0.0, 2.0) * pause_s)
        while not over.is_set():
            path = ROUND[at % len(ROUND)]
            answers.append((path, one.get(path)))
            one.get("/settings/")
            units = {"temperature_unit": "CF"[at % 2], "length_unit": "mm"}
            answers.append(("units", one.post("/settings/units/", units)))
            at += 1
            time.sleep(pause.uniform(0.5, 1.5) * pause_s)

    def watch():
        while not over.is_set():
            for pid, now in memory_mb(up).items():
                most[pid] = max(most.get(pid, 0), now)
            time.sleep(0.1)

    for path in ROUND:
        sender.get(path)  # Nobody waits for what is read once after a start.
    threads = [threading.Thread(target=work, args=[one]) for one in workers[1:]]
    threads.append(threading.Thread(target=watch))
    for thread in threads:
        thread.start()
    time.sleep(5)
    before = len(answers)
    sender.get(f"/firings/{firing}/readings/")
    began = time.perf_counter()
    sent = sender.send_file(f"/firings/{firing}/readings/", "file", data)
    print(f"sending {len(data) / 1e6:.1f} MB: {sent.status} in {sent.took_s:.2f} s")
    while sender.get(sent.headers["Location"]).status == 200:
        time.sleep(0.2)
    took = time.perf_counter() - began
    over.set()
    for thread in threads:
        thread.join()
    print(f"until everybody sees them: {took:.1f} s")
    for label, part in (("before", answers[:before]), ("meanwhile", answers[before:])):
        times = sorted((one.took_s, path) for path, one in part)
        codes = sorted({one.status for _, one in part})
        print(
            f"{label}: {len(times)} requests, {codes}, median "
            f"{statistics.median(s for s, _ in times) * 1000:.0f} ms, longest "
            + ", ".join(f"{s * 1000:.0f} ms {path}" for s, path in times[:-6:-1])
        )
    more = {pid: most[pid] - calm.get(pid, 0) for pid in calm}
    print(f"more memory: {max(more.values()):.0f} MB in one process")


if __name__ == "__main__":
    main()
