"""Makes the project's own environment from pinned, hashed packages and enters it.

Standard library only, and it imports nothing of ours: it runs before anything is
installed.
"""

import contextlib
import ctypes
import fcntl
import hashlib
import importlib.util
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
REQUIREMENTS = ROOT / "studio" / "requirements"
VENV = ROOT / ".venv"
PANGO_LIBRARIES = (
    "libpango-1.0.so.0",
    "libpangoft2-1.0.so.0",
    "libharfbuzz-subset.so.0",
)
PANGO_PACKAGES = (
    "libpango-1.0-0",
    "libpangoft2-1.0-0",
    "libharfbuzz-subset0",
    "fonts-dejavu-core",
)
CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome")


class SetupProblem(Exception):
    """The environment cannot be made; the text says what to do."""


def enter(command: str) -> None:
    """Return inside a complete environment for `command`, or end with a message.

    A process outside the environment is replaced by one inside it.
    """
    if os.environ.get("STUDIO_NO_BOOTSTRAP") == "1":
        return
    kind = "test" if command == "test" else "base"
    try:
        made = ensure_environment(VENV, kind)
    except SetupProblem as problem:
        sys.exit(f"Set-up stopped. {problem}")
    except OSError as problem:
        sys.exit(
            f"Set-up stopped. {problem.filename or VENV} cannot be written "
            f"({problem.strerror}). Check that this folder is yours to write to and that "
            "the disk has 1 GB free, then run the same command again."
        )
    except KeyboardInterrupt:
        sys.exit("Set-up interrupted. The same command starts it afresh.")
    if command in {"up", "test"}:
        offer_system_packages(chromium=command == "test")
    if made or Path(sys.prefix) != VENV:
        python = str(VENV / "bin" / "python")
        sys.stdout.flush()
        keep_bytecode_apart(VENV)
        os.execv(python, [python, *sys.argv])


def keep_bytecode_apart(venv: Path) -> None:
    """Let what starts from here keep its bytecode, even if not beside the sources.

    Without any, every start compiles Django and its companions again, for seconds. The
    environment's own folder leaves the source tree clean and goes when it is made
    again.
    """
    if os.environ.pop("PYTHONDONTWRITEBYTECODE", ""):
        os.environ.setdefault("PYTHONPYCACHEPREFIX", str(venv / "bytecode"))


def ensure_environment(venv: Path, kind: str) -> bool:
    """Make or complete the environment; True if there was something to do."""
    if is_ready(venv, kind):
        return False
    with one_at_a_time():
        if is_ready(venv, kind):  # Another process finished it while this one waited.
            return False
        base_python = getattr(sys, "_base_executable", None) or sys.executable
        extend = kind == "test" and is_ready(venv, "base")
        stamp_path(venv).unlink(missing_ok=True)
        if not extend:
            say(f"Making the environment in {venv.name} (once; about a minute).")
            shutil.rmtree(venv, ignore_errors=True)
            make_venv(base_python, venv)
        install(base_python, venv, requirement_file(kind))
        unfinished = stamp_path(venv).with_suffix(".new")
        unfinished.write_text(f"{kind}\n{fingerprint(kind)}\n{version_in(venv)}")
        unfinished.replace(stamp_path(venv))
    return True


def is_ready(venv: Path, kind: str) -> bool:
    """Return whether a finished environment with today's pins exists.

    The test set contains the base set. The interpreter is asked for its version: an
    upgrade of the system's Python leaves the environment's packages behind.
    """
    try:
        made_for, pins, version = stamp_path(venv).read_text().split("\n", 2)
    except (OSError, ValueError):
        return False
    return (
        made_for in {kind, "test"}
        and pins == fingerprint(made_for)
        and version == version_in(venv)
    )


def stamp_path(venv: Path) -> Path:
    """Return the file whose presence says that the environment is complete."""
    return venv / "slowcool-stamp"


def requirement_file(kind: str) -> Path:
    """Return the pinned and hashed requirements of ``base`` or ``test``."""
    return REQUIREMENTS / f"{kind}.txt"


def fingerprint(kind: str) -> str:
    """Return the SHA-256 of the pins."""
    try:
        return hashlib.sha256(requirement_file(kind).read_bytes()).hexdigest()
    except OSError:
        return "unknown"


def version_in(venv: Path) -> str:
    """Return the full version text of the environment's own interpreter."""
    if Path(sys.prefix) == venv:
        return sys.version
    asked = [
        str(venv / "bin" / "python"),
        "-c",
        "import sys; print(sys.version, end='')",
    ]
    try:
        return subprocess.run(asked, capture_output=True, text=True, check=True).stdout
    except (OSError, subprocess.CalledProcessError):
        return "unusable"


@contextlib.contextmanager
def one_at_a_time() -> Iterator[None]:
    """Let one process at a time work on the environment; the others wait."""
    with requirement_file("base").open("rb") as held:
        try:
            fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            say("Another process is making the environment; waiting for it.")
            fcntl.flock(held, fcntl.LOCK_EX)
        yield


def make_venv(base_python: str, venv: Path) -> None:
    """Make an empty environment, without a pip of its own."""
    if importlib.util.find_spec("venv") is None:
        get_for_python(base_python, "venv", "python3-venv")
    # A process inside the removed environment has lost its directory.
    made = subprocess.run(
        [base_python, "-m", "venv", "--without-pip", str(venv)], check=False, cwd=ROOT
    )
    if made.returncode:
        raise SetupProblem(
            f"Python could not make {venv} (its own words are above). Check that the "
            "folder may be written to and that the disk has 1 GB free, then run the "
            "same command again."
        )


def install(base_python: str, venv: Path, requirements: Path) -> None:
    """Install exactly the pinned packages, wheels only, each checked by its hash."""
    python = str(venv / "bin" / "python")
    if uv := shutil.which("uv"):
        command = [uv, "pip", "install", "--python", python, "--quiet"]
    else:
        if not answers([base_python, "-m", "pip", "--version"]):
            get_for_python(base_python, "pip", "python3-pip")
        command = [base_python, "-m", "pip", "--python", python, "install", "-qq"]
        command += ["--disable-pip-version-check", "--no-compile"]
    # The pins name every package, so nothing else is looked up.
    command += ["--no-deps", "--only-binary", ":all:", "--require-hashes"]
    command += ["-r", str(requirements)]
    say(f"Installing the packages of {requirements.relative_to(ROOT)}.")
    if subprocess.run(command, check=False, cwd=ROOT).returncode:
        raise SetupProblem(
            "The packages could not be installed (the installer's own words are "
            "above). If they speak of a connection, this machine does not reach the "
            "package index: connect it, or point PIP_INDEX_URL at a mirror. If they "
            "speak of hashes, the download is not what this release was tested with. "
            "Then run the same command again; nothing half-made is used."
        )


def get_for_python(base_python: str, module: str, package: str) -> None:
    """Install a part of Python that Debian ships separately, or say how to."""
    advice = f"Install it, for instance with: {base_python} -m ensurepip"
    if Path("/etc/debian_version").exists() and base_python.startswith("/usr/bin/"):
        if is_root_on_debian() and apt_install([package]):
            return
        advice = f"Install it with: {apt_command([package])}"
    raise SetupProblem(f"This Python has no {module} module. {advice}")


def offer_system_packages(*, chromium: bool) -> None:
    """Install what PDFs (and the browser tests) need, or say how and go on."""
    wanted = [] if pango_found() else list(PANGO_PACKAGES)
    lost = [] if pango_found() else ["PDF files"]
    if chromium and find_chromium() is None:
        wanted.append("chromium")
        lost.append("the browser tests")
    if not wanted or (is_root_on_debian() and apt_install(wanted)):
        return
    say(
        f"Missing on this machine for {' and '.join(lost)}; everything else works.\n"
        f"  On Debian or Ubuntu: {apt_command(wanted)}"
    )


def pango_found() -> bool:
    """Return whether the text-layout libraries for PDFs can be loaded."""
    try:
        for name in PANGO_LIBRARIES:
            ctypes.CDLL(name)
    except OSError:
        return False
    return True


def find_chromium() -> str | None:
    """Return the path of an installed Chromium, or None."""
    return next(filter(None, map(shutil.which, CHROMIUM_NAMES)), None)


def is_root_on_debian() -> bool:
    """Return whether packages may be installed here without asking anybody."""
    on_debian = Path("/etc/debian_version").exists()
    return on_debian and os.geteuid() == 0 and shutil.which("apt-get") is not None


def apt_command(packages: list[str]) -> str:
    """Return the line to type to install `packages`."""
    return f"sudo apt-get install --yes {' '.join(packages)}"


def apt_install(packages: list[str]) -> bool:
    """Install Debian packages; True when apt-get reports success."""
    say(f"Installing from Debian: {' '.join(packages)}")
    quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    install_now = ["apt-get", "install", "--yes", "--no-install-recommends", "-qq"]
    # A new machine has no package lists or old ones: then fetch them and try again.
    for command in (
        [*install_now, *packages],
        ["apt-get", "update", "-qq"],
        [*install_now, *packages],
    ):
        done = subprocess.run(
            command, check=False, env=quiet, stdout=subprocess.DEVNULL
        ).returncode
        if not done and command[1] == "install":
            return True
    return False


def answers(command: list[str]) -> bool:
    """Return whether a command runs and succeeds."""
    return not subprocess.run(command, check=False, capture_output=True).returncode


def say(text: str) -> None:
    """Tell the person what is going on."""
    print(text, file=sys.stderr, flush=True)  # noqa: T201 - logging is not there yet
