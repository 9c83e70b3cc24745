"""A full, read-only, damaged or newer database: reading goes on, writing says so."""

import os
import secrets
import sqlite3
import stat
import subprocess
import sys
import time
from contextlib import suppress

import pytest

from studio import bootstrap
from tests.attacks.person import Person
from tests.studio.test_up import Up, free_port

pytestmark = [pytest.mark.slow, pytest.mark.worker]
PASSWORD = "seven quiet herons at noon"
OPEN_STUDIO = f"""
from django.utils import timezone
from studio.services.workshops import open_studio
open_studio(name="Skerry", currency="EUR", time_zone="Europe/Lisbon",
    temperature_unit="C", length_unit="mm", owner_name="Una Invented",
    owner_email="una@example.org", password={PASSWORD!r}, at=timezone.now())
"""


def manage(folder, *words, **variables):
    """Run a command on a data folder, as somebody at a terminal would."""
    environment = {k: v for k, v in os.environ.items() if "STUDIO_" not in k}
    environment.pop("DJANGO_SETTINGS_MODULE", None)
    environment |= {"STUDIO_NO_BOOTSTRAP": "1", "STUDIO_VAR_DIR": str(folder)}
    environment |= variables
    return subprocess.run(
        [sys.executable, "manage.py", *words],
        cwd=bootstrap.ROOT,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
        umask=0o022,
    )


def refused_by_up(folder):
    """Return what `up` says instead of starting."""
    done = manage(folder, "up", "--no-demo", "--port", str(free_port()))
    assert done.returncode == 1, done.stdout
    assert "Traceback" not in done.stderr
    return done.stderr


@pytest.fixture
def up(tmp_path):
    started = Up(tmp_path / "var", free_port())
    yield started
    started.end()


@pytest.fixture
def disk(tmp_path):
    """Return a small disk of its own; `up` ends before it goes."""
    place = tmp_path / "disk"
    place.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=60m", "tmpfs", str(place)]
    if os.geteuid() != 0 or subprocess.run(mount, check=False).returncode:
        pytest.skip("Only root may mount the small disk that this fills.")
    yield place
    subprocess.run(["umount", "--lazy", str(place)], check=True)


def fill(path, database):
    """Write until nothing more fits, to the last byte, and no file of SQLite's has room.

    Its log is written over from the start once it is copied, which takes no new room.
    """
    opened = sqlite3.connect(database, timeout=20)
    with suppress(sqlite3.OperationalError):  # Full already.
        opened.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    opened.close()
    for size in (1 << 20, 4096, 1):
        with path.open("ab", buffering=0) as file:
            try:
                while True:
                    file.write(b"0" * size)
            except OSError:
                continue


def test_on_a_full_disk_pages_are_read_and_forms_keep_what_was_typed(disk):
    up = Up(disk / "var", free_port())
    up.log_path = disk.parent / "up.log"
    try:
        up.start()
        up.wait_until_ready()
        assert manage(up.folder, "shell", "-c", OPEN_STUDIO).returncode == 0
        person = Person(f"http://127.0.0.1:{up.port}")
        person.sign_in("una@example.org", PASSWORD)
        database = up.folder / "slowcool.sqlite3"
        fill(disk / "filler", database)

        for path in ("/", "/kilns/", "/pieces/", "/stock/", "/settings/"):
            assert person.get(path).status == 200, path
        person.get("/settings/")
        fill(disk / "filler", database)  # Whatever was tidied away meanwhile.
        typed = {"temperature_unit": "F", "length_unit": "in"}
        refused = person.post("/settings/units/", typed)
        ready = person.get("/readyz")
        (disk / "filler").unlink()
        assert refused.status == 503, refused.text
        assert "The disk is full" in refused.text
        assert "temperature_unit" in refused.text
        assert ready.status == 503
        assert '"disk": false' in ready.text
        assert person.get("/healthz").status == 200

        assert person.post("/settings/units/", typed).status == 302
        assert person.get("/readyz").status == 200
    finally:
        up.end()


def test_up_names_what_is_wrong_with_its_folder(disk):
    folder = disk / "var"
    folder.mkdir()
    subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
    told = refused_by_up(folder)
    assert str(folder) in told
    assert "Read-only file system" in told
    assert "STUDIO_DATABASE_URL" not in told


def test_up_names_a_damaged_database_and_how_to_go_on(tmp_path):
    folder = tmp_path / "var"
    assert manage(folder, "migrate", "-v", "0").returncode == 0
    path = folder / "slowcool.sqlite3"
    good = path.read_bytes()
    path.write_bytes(b"no database" + good[11:])
    told = refused_by_up(folder)
    assert f"The database {path} is damaged" in told
    assert "manage.py restore" in told
    assert "STUDIO_DATABASE_URL" not in told
    # Its first page whole, and the next ones not.
    path.write_bytes(good[:4096] + os.urandom(len(good) - 4096))
    assert f"The database {path} is damaged" in refused_by_up(folder)


def test_up_refuses_a_newer_database_and_changes_nothing(tmp_path):
    folder = tmp_path / "var"
    assert manage(folder, "migrate", "-v", "0").returncode == 0
    path = folder / "slowcool.sqlite3"
    with sqlite3.connect(path) as database:
        database.execute(
            "INSERT INTO django_migrations (app, name, applied) "
            "VALUES ('firing', '0999_of_tomorrow', '2030-01-01')"
        )
    database.close()
    before = path.read_bytes()
    told = refused_by_up(folder)
    assert "newer version of Slowcool" in told
    assert "firing.0999_of_tomorrow" in told
    assert path.read_bytes() == before


def test_up_makes_a_backup_before_it_changes_the_database(tmp_path, up):
    assert manage(up.folder, "migrate", "firing", "0007", "-v", "0").returncode == 0
    up.start()
    up.wait_until_ready()
    [made] = (up.folder / "backups").glob("before-update-*.zip")
    assert f"It is in {made}" in up.log
    assert stat.S_IMODE(made.stat().st_mode) == 0o600
    assert up.stop() == 0
    again = Up(up.folder, up.port)
    again.start()
    again.wait_until_ready()
    assert again.stop() == 0
    assert "backup" not in again.log, "nothing was to be changed"


def test_nobody_else_on_the_machine_can_read_anything(up):
    up.variables = {  # The README's own way onto a network.
        "STUDIO_MODE": "production",
        "STUDIO_BEHIND_PROXY": "1",
        "STUDIO_ALLOWED_HOSTS": "kiln.example",
        "STUDIO_SECRET_KEY": secrets.token_urlsafe(50),
    }
    up.folder.mkdir(mode=0o755)
    (up.folder / "media").mkdir()
    (up.folder / "media" / "old.webp").write_bytes(b"RIFF")
    (up.folder / "media" / "old.webp").chmod(0o644)
    up.start()
    up.wait_until_ready()
    for words in (["shell", "-c", OPEN_STUDIO], ["backup", "--to", up.folder / "b"]):
        assert manage(up.folder, *words, **up.variables).returncode == 0
    time.sleep(1)  # The worker writes its own files.
    assert up.stop() == 0
    open_to_others = [
        f"{path.relative_to(up.folder)}: {stat.filemode(path.stat().st_mode)}"
        for path in [up.folder, *up.folder.rglob("*")]
        if path.stat().st_mode & 0o077
    ]
    assert open_to_others == []


def test_a_server_that_others_reach_says_that_it_speaks_plain_http(up):
    up.start("--host", "0.0.0.0")
    up.wait_until_ready()
    assert up.stop() == 0
    assert "over plain HTTP" in up.log
    assert "put HTTPS in front" in " ".join(up.log.split())
