"""Starts the whole workshop on one machine: data, web server and background worker.

`studio.supervisor` keeps the two programs running; the Python environment was made
before this runs.
"""

import contextlib
import fcntl
import importlib
import os
import socket
import stat
import subprocess
import sys
import time
import urllib.request
from argparse import ArgumentParser
from collections.abc import Iterator
from pathlib import Path
from typing import TextIO
from urllib.error import URLError

from django.apps import apps
from django.conf import settings
from django.contrib.auth import get_user_model
from django.core.management import call_command, get_commands
from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError, InterfaceError, connection
from django.db.migrations.executor import MigrationExecutor
from django.utils import timezone

from studio import jobs, pdf
from studio.errors import StudioError
from studio.migration_steps import newer_steps
from studio.outages import Outage, outage_of
from studio.selectors.backups import BEFORE_UPDATE
from studio.services.backups.making import make_backup
from studio.supervisor import Child, StopRequest, die_with_parent, stop_all

LOOPBACK = {"127.0.0.1", "localhost", "::1"}
# Only a server that hangs takes this long; one that ends is reported at once.
READY_WITHIN_S = 300.0
STOP_LIMIT_S = 20.0
LOOK_EVERY_S = 0.1
# A server that never answered and died this often will not do better next time.
HOPELESS_AFTER = 3


class Command(BaseCommand):
    """``python3 manage.py up``."""

    help = "Start Slowcool on this machine and keep it running until Ctrl-C."
    # They would load every view here, once more than the server does anyway.
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument(
            "--host", default="127.0.0.1", help="address to listen on (this machine)"
        )
        parser.add_argument(
            "--no-demo", action="store_true", help="do not load the demo studios"
        )

    def handle(self, *, port: int, host: str, no_demo: bool, **_: object) -> None:
        with telling_of_the_disk():
            settings.VAR_DIR.mkdir(parents=True, exist_ok=True)
            lock = (settings.VAR_DIR / "up.lock").open("a+")
        with lock:
            with telling_of_the_disk():
                take_lock(lock)
            self.close_data()
            with listen(host, port) as server_socket:
                try:
                    with telling_of_the_disk():
                        self.prepare_data(demo=not no_demo)
                except KeyboardInterrupt:
                    raise CommandError(
                        "Interrupted before anything was served. The same command "
                        "goes on from here."
                    ) from None
                stop = StopRequest()
                stop.listen()
                self.run_children(server_socket, host, port, stop)

    def close_data(self) -> None:
        """Close the data to others on this machine, and name what stays open to them."""
        if left := close_to_others(settings.VAR_DIR):
            more = f" and {len(left) - 1} more" if left[1:] else ""
            self.stderr.write(
                f"Others who use this machine may read {left[0]}{more}: only its owner "
                "can change that. Give it to the user who runs Slowcool."
            )

    def prepare_data(self, *, demo: bool) -> None:
        """Bring the database up to date, and fill a new one with the demo."""
        is_new = not connection.introspection.table_names()
        # It stays behind when loading is interrupted, so that the next start goes on.
        unfinished = settings.VAR_DIR / "demo-unfinished"
        warming: subprocess.Popen[bytes] | None = None
        if is_new:
            self.stdout.write("Making the database.")
            if demo:
                unfinished.touch()
            warming = start_warm_up()
        else:
            self.copy_before_update()
        call_command("migrate", interactive=False, verbosity=0)
        if demo and unfinished.exists() and "load_demo" in get_commands():
            self.stdout.write("Loading the demo studios.")
            call_command("load_demo", stdout=self.stdout)
        unfinished.unlink(missing_ok=True)
        if warming is not None:
            self.stdout.write("Compiling what computes heat and stress (once).")
            warming.wait()
        if settings.IS_PRODUCTION:
            call_command("collectstatic", interactive=False, verbosity=0)
        connection.close()

    def copy_before_update(self) -> None:
        """Make a backup if the database is about to be changed to this version's tables."""
        executor = MigrationExecutor(connection)
        if not executor.migration_plan(executor.loader.graph.leaf_nodes()):
            return
        if newer_steps(executor.loader.applied_migrations):
            return  # migrate says so, and changes nothing
        self.stdout.write("Making a backup before the database is updated.")
        try:
            made = make_backup(
                at=timezone.now(), folder=settings.BACKUP_DIR, kind=BEFORE_UPDATE
            )
        except StudioError as problem:
            raise CommandError(
                f"{problem} So the database was not updated. Make room or mend that, and "
                "start again; if you have a backup of your own, python3 manage.py migrate "
                "goes on without one."
            ) from problem
        self.stdout.write(f"It is in {made}")

    def run_children(
        self, server_socket: socket.socket, host: str, port: int, stop: StopRequest
    ) -> None:
        """Start both programs, say where they are, and look after them."""
        web = web_server(server_socket, host)
        children = [web, worker()]
        address = f"http://{host if ':' not in host else f'[{host}]'}:{port}/"
        announced = False
        try:
            deadline = time.monotonic() + READY_WITHIN_S
            while not stop.asked:
                # The worker waits for the server: two cold starts at once delay both.
                for child in children if announced else [web]:
                    if told := child.look_after():
                        self.stderr.write(told)
                if not announced and answers(host, port):
                    self.announce(address, host)
                    announced = True
                if not announced and (
                    web.quick_deaths >= HOPELESS_AFTER or time.monotonic() > deadline
                ):
                    raise CommandError(
                        "The web server does not start; its own words are above."
                    )
                time.sleep(LOOK_EVERY_S)
            self.stdout.write("\nStopping.")
        finally:
            for label in stop_all(children, limit_s=STOP_LIMIT_S):
                self.stderr.write(
                    f"The {label} did not stop in {STOP_LIMIT_S:g} s and was ended; "
                    "work it had in hand goes on at the next start."
                )
        self.stdout.write("Stopped.")

    def announce(self, address: str, host: str) -> None:
        """Print where to go and who can sign in."""
        lines = ["", f"Slowcool is at {address}   (Ctrl-C stops it)"]
        sign_ins = demo_sign_ins()
        if sign_ins:
            width = max(len(email) for email, _, _ in sign_ins)
            lines += ["", "Demo sign-ins (invented people and work):"]
            lines += [
                f"  {email:<{width}}  {password}  {role}"
                for email, password, role in sign_ins
            ]
        elif not has_studio():
            lines += [
                "",
                "There is no studio yet. In a second terminal, here:",
                "  python3 manage.py make_studio",
            ]
        if host not in LOOPBACK:
            lines += [
                "",
                "Other machines on this network can reach it, over plain HTTP: whoever "
                "listens there",
                "can read passwords and everything else. For more than a trial put HTTPS "
                "in front;",
                "the README says how under “On a network”.",
            ]
            if sign_ins:
                lines += [
                    "The demo passwords are no secret: use --no-demo for real work."
                ]
            if not settings.IS_PRODUCTION and host in {"0.0.0.0", "::"}:  # noqa: S104 - compared
                lines += ["Name the addresses people type in STUDIO_ALLOWED_HOSTS."]
        if not pdf.pdf_available():
            lines += ["", pdf.PangoMissing.ADVICE]
        self.stdout.write("\n".join([*lines, ""]))
        self.stdout.flush()


@contextlib.contextmanager
def telling_of_the_disk() -> Iterator[None]:
    """Say what is wrong with the data's folder or its database, and what to do.

    A fault of the program keeps its own words.
    """
    try:
        yield
    except (OSError, DatabaseError, InterfaceError) as problem:
        told = disk_words(problem)
        if not told:
            raise
        raise CommandError(told) from problem


def disk_words(problem: Exception) -> str:
    """Return what is wrong with the data and what to do; nothing if it is not that."""
    outage = outage_of(problem)
    is_file = connection.vendor == "sqlite"
    if outage == Outage.DAMAGED:
        place = connection.settings_dict["NAME"]
        return (
            f"The database {place} is damaged ({problem}). Keep that file, and put the "
            f"last backup back: python3 manage.py restore --replace FILE, with a file of "
            f"{settings.BACKUP_DIR}."
        )
    if outage == Outage.BUSY:
        return (
            f"Another program holds the database ({problem}). End it, and run the same "
            "command again."
        )
    if outage == Outage.GONE and not is_file:
        return (
            f"The database does not answer: {problem}\nCheck STUDIO_DATABASE_URL, or "
            "leave it out to use a file on this machine."
        )
    if outage is not None or isinstance(problem, OSError):
        return (
            f"The data cannot be written to {settings.VAR_DIR} ({reason(problem)}). Make "
            "room on its disk (1 GB is plenty), make the folder writable, or name "
            "another folder in STUDIO_VAR_DIR; then run the same command again."
        )
    return ""


def close_to_others(folder: Path) -> list[Path]:
    """Let only its owner read a folder and all in it; return what cannot be closed."""
    left = []
    for place, _, names in os.walk(folder):
        for path in [Path(place), *(Path(place, name) for name in names)]:
            try:
                mode = path.lstat().st_mode
                if mode & 0o077 and not stat.S_ISLNK(mode):
                    path.chmod(mode & 0o700)
            except OSError:
                left.append(path)
    return left


def take_lock(lock: TextIO) -> None:
    """Be the only `up` on this data folder, or say who is."""
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        lock.seek(0)
        raise CommandError(
            f"Slowcool already runs on this data folder (process {lock.read().strip()})."
            " Stop that one first, or give this one its own folder in STUDIO_VAR_DIR."
        ) from None
    lock.truncate(0)
    lock.write(f"{os.getpid()}\n")
    lock.flush()


def listen(host: str, port: int) -> socket.socket:
    """Open the port here, so that a taken one is reported before anything starts."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    server_socket = socket.socket(family)
    server_socket.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        server_socket.bind((host, port))
    except (OSError, OverflowError) as problem:
        server_socket.close()
        raise CommandError(
            f"Port {port} on {host} cannot be used ({reason(problem)}). Choose another, "
            f"for instance: python3 manage.py up --port {port % 60000 + 1}"
        ) from problem
    server_socket.listen(128)
    return server_socket


def reason(problem: Exception) -> str:
    """Return the system's text for the reason."""
    return getattr(problem, "strerror", None) or str(problem)


def web_server(server_socket: socket.socket, host: str) -> Child:
    """Describe gunicorn: one process, eight threads, on the socket opened here."""
    environment = child_environment()
    if not settings.IS_PRODUCTION and host not in LOOPBACK:
        names = [os.environ.get("STUDIO_ALLOWED_HOSTS", ""), host]
        environment["STUDIO_ALLOWED_HOSTS"] = ",".join(filter(None, names))
    command = [sys.executable, "-m", "gunicorn", "studio.wsgi:application"]
    command += ["--bind", f"fd://{server_socket.fileno()}"]
    command += [
        "--worker-class",
        "studio.slow_senders.Worker",
        "--workers",
        "1",
        "--threads",
        "8",
    ]
    command += ["--graceful-timeout", "5", "--log-level", "warning"]
    command += ["--no-control-socket"]
    return Child(
        label="web server",
        command=command,
        environment=environment,
        pass_fds=(server_socket.fileno(),),
    )


def worker() -> Child:
    """Describe the one Celery worker of two processes, with the clock (beat) inside."""
    command = [sys.executable, "-m", "celery", "-A", "studio.celery", "--quiet"]
    # Two: while one makes a plan or a paper, the other does what somebody waits for.
    command += ["worker", "-B", "--concurrency", "2", "--loglevel", "warning"]
    command += ["--without-gossip", "--without-mingle", "--without-heartbeat"]
    environment = child_environment()
    # The embedded set-up may run as root; the warning would come at every start.
    environment["PYTHONWARNINGS"] = "ignore:You're running the worker with superuser"
    return Child(
        label="background worker",
        command=command,
        environment=environment,
        before_start=clear_the_bench,
    )


def child_environment() -> dict[str, str]:
    """Return this environment, marked as ready."""
    return {
        **os.environ,
        "STUDIO_NO_BOOTSTRAP": "1",
        "STUDIO_VAR_DIR": str(settings.VAR_DIR),
    }


def clear_the_bench() -> None:
    """Before the only worker starts: delete beat's old file, free interrupted jobs."""
    for path in settings.VAR_DIR.glob("beat-schedule*"):
        path.unlink()
    if not settings.REDIS_URL:
        jobs.release_leases()
    connection.close()


def answers(host: str, port: int) -> bool:
    """Return whether the web server says that it is up."""
    name = {"0.0.0.0": "127.0.0.1", "::": "[::1]"}.get(host, host)  # noqa: S104 - turned away
    name = f"[{name}]" if ":" in name and not name.startswith("[") else name
    request = urllib.request.Request(
        f"http://{name}:{port}/healthz", headers={"Host": probe_host()}
    )
    try:
        with urllib.request.urlopen(request, timeout=2) as response:  # noqa: S310 - http above
            return bool(response.status == 200)
    except (URLError, OSError):
        return False


def probe_host() -> str:
    """Return a host name that the settings allow."""
    return next((h for h in settings.ALLOWED_HOSTS if h not in {"*"}), "localhost")


def has_studio() -> bool:
    """Return whether anybody can sign in to a studio."""
    found = apps.get_model("studio", "Studio").objects.exists()
    connection.close()
    return bool(found)


def start_warm_up() -> subprocess.Popen[bytes] | None:
    """Start compiling the engine beside the rest of the first start."""
    if "warm_up" not in get_commands():
        return None
    return subprocess.Popen(  # noqa: S603 - our own program, fixed words
        [sys.executable, str(settings.BASE_DIR / "manage.py"), "warm_up"],
        env={**os.environ, "STUDIO_NO_BOOTSTRAP": "1"},
        stdout=subprocess.DEVNULL,
        preexec_fn=die_with_parent,
    )


def demo_sign_ins() -> list[tuple[str, str, str]]:
    """Return the demo's sign-ins that exist in this database."""
    app_name = get_commands().get("load_demo")
    if app_name is None:
        return []
    module = importlib.import_module(f"{app_name}.management.commands.load_demo")
    sign_ins: list[tuple[str, str, str]] = module.DEMO_SIGN_INS
    people = get_user_model().objects.filter(email__in=[row[0] for row in sign_ins])
    present = set(people.values_list("email", flat=True))
    connection.close()
    return [row for row in sign_ins if row[0] in present]
