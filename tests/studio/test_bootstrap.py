"""The self-set-up: when it has work to do, what it leaves behind, what it says.

A package index in a folder stands in for the real one: the tests are offline.
"""

import base64
import hashlib
import os
import shutil
import subprocess
import sys
import threading
import zipfile
from pathlib import Path

import pytest

from studio import bootstrap

PYTHON = getattr(sys, "_base_executable", sys.executable)


def make_wheel(folder: Path, name: str) -> str:
    """Write a tiny wheel and return its requirement line with its hash."""
    info = f"{name}-1.0.dist-info"
    files = {
        f"{name}.py": "HERE = True\n",
        f"{info}/METADATA": f"Metadata-Version: 2.1\nName: {name}\nVersion: 1.0\n",
        f"{info}/WHEEL": "Wheel-Version: 1.0\nGenerator: test\n"
        "Root-Is-Purelib: true\nTag: py3-none-any\n",
    }
    record = ""
    for path, text in files.items():
        digest = base64.urlsafe_b64encode(hashlib.sha256(text.encode()).digest())
        record += f"{path},sha256={digest.decode().rstrip('=')},{len(text)}\n"
    files[f"{info}/RECORD"] = record + f"{info}/RECORD,,\n"
    wheel = folder / f"{name}-1.0-py3-none-any.whl"
    with zipfile.ZipFile(wheel, "w") as archive:
        for path, text in files.items():
            archive.writestr(path, text)
    return f"{name}==1.0 --hash=sha256:{hashlib.sha256(wheel.read_bytes()).hexdigest()}"


@pytest.fixture
def project(tmp_path, monkeypatch):
    """A copy of the set-up alone, with two small packages for its pins."""
    root = tmp_path / "project"
    pins = root / "studio" / "requirements"
    pins.mkdir(parents=True)
    wheels = tmp_path / "wheels"
    wheels.mkdir()
    base = make_wheel(wheels, "glass")
    extra = make_wheel(wheels, "lens")
    (pins / "base.txt").write_text(f"{base}\n")
    (pins / "test.txt").write_text(f"{base}\n{extra}\n")
    monkeypatch.setattr(bootstrap, "ROOT", root)
    monkeypatch.setattr(bootstrap, "REQUIREMENTS", pins)
    for name in [name for name in os.environ if name.startswith(("PIP_", "UV_"))]:
        monkeypatch.delenv(name)
    monkeypatch.setenv("PIP_CONFIG_FILE", os.devnull)
    monkeypatch.setenv("PIP_NO_INDEX", "1")
    monkeypatch.setenv("PIP_FIND_LINKS", str(wheels))
    monkeypatch.setenv("UV_NO_INDEX", "1")
    monkeypatch.setenv("UV_FIND_LINKS", str(wheels))
    return root


def has(venv: Path, module: str) -> bool:
    return bootstrap.answers([str(venv / "bin" / "python"), "-c", f"import {module}"])


def test_makes_it_once_and_then_leaves_it_alone(project):
    venv = project / ".venv"
    assert bootstrap.ensure_environment(venv, "base") is True
    assert has(venv, "glass")
    assert not has(venv, "lens")
    assert bootstrap.ensure_environment(venv, "base") is False


def test_tests_add_to_the_base_and_their_set_serves_both(project):
    venv = project / ".venv"
    bootstrap.ensure_environment(venv, "base")
    (venv / "kept").touch()
    assert bootstrap.ensure_environment(venv, "test") is True
    assert has(venv, "lens")
    assert (venv / "kept").exists(), "nothing needed making afresh"
    assert bootstrap.ensure_environment(venv, "base") is False
    assert bootstrap.ensure_environment(venv, "test") is False


def test_changed_pins_make_it_afresh(project, tmp_path):
    venv = project / ".venv"
    bootstrap.ensure_environment(venv, "base")
    pin = make_wheel(tmp_path / "wheels", "frit")
    (bootstrap.REQUIREMENTS / "base.txt").write_text(f"{pin}\n")
    assert bootstrap.ensure_environment(venv, "base") is True
    assert has(venv, "frit")
    assert not has(venv, "glass")


def test_interrupted_set_up_is_not_used(project, monkeypatch):
    venv = project / ".venv"

    def interrupted(*_):
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(bootstrap, "install", interrupted)
        with pytest.raises(KeyboardInterrupt):
            bootstrap.ensure_environment(venv, "base")
    assert venv.exists()
    assert not bootstrap.is_ready(venv, "base")
    (venv / "half-made").touch()
    assert bootstrap.ensure_environment(venv, "base") is True
    assert not (venv / "half-made").exists()


def test_interrupted_extension_is_not_used_either(project, monkeypatch):
    venv = project / ".venv"
    bootstrap.ensure_environment(venv, "base")
    with monkeypatch.context() as patched:
        patched.setattr(bootstrap, "install", lambda *_: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            bootstrap.ensure_environment(venv, "test")
    assert not bootstrap.is_ready(venv, "base")
    assert bootstrap.ensure_environment(venv, "base") is True


def test_another_interpreter_under_the_environment_is_noticed(project, monkeypatch):
    venv = project / ".venv"
    bootstrap.ensure_environment(venv, "base")
    monkeypatch.setattr(bootstrap, "version_in", lambda _: "3.99.0 (a newer system)")
    assert not bootstrap.is_ready(venv, "base")


def test_wrong_hash_is_refused_with_a_sentence(project):
    (bootstrap.REQUIREMENTS / "base.txt").write_text(
        f"glass==1.0 --hash=sha256:{'0' * 64}\n"
    )
    with pytest.raises(bootstrap.SetupProblem, match="hashes"):
        bootstrap.ensure_environment(project / ".venv", "base")
    assert not bootstrap.is_ready(project / ".venv", "base")


def test_package_that_cannot_be_had_is_told_of(project, tmp_path):
    shutil.rmtree(tmp_path / "wheels")
    (tmp_path / "wheels").mkdir()
    with pytest.raises(
        bootstrap.SetupProblem, match="does not reach the package index"
    ):
        bootstrap.ensure_environment(project / ".venv", "base")


def test_two_at_once_make_one(project, monkeypatch):
    venv = project / ".venv"
    installs = []
    install = bootstrap.install

    def count(*arguments):
        installs.append(arguments)
        install(*arguments)

    monkeypatch.setattr(bootstrap, "install", count)
    made = []

    def body():
        made.append(bootstrap.ensure_environment(venv, "base"))

    threads = [threading.Thread(target=body) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=120)
    assert sorted(made) == [False, True]
    assert len(installs) == 1


def test_folder_that_cannot_be_written_is_told_of(project, monkeypatch):
    def refuse(*_):
        raise PermissionError(13, "Permission denied", str(project / ".venv"))

    monkeypatch.setattr(bootstrap, "VENV", project / ".venv")
    monkeypatch.setattr(bootstrap, "make_venv", refuse)
    monkeypatch.delenv("STUDIO_NO_BOOTSTRAP", raising=False)
    with pytest.raises(SystemExit, match=r"\.venv cannot be written.*Permission"):
        bootstrap.enter("up")


def test_missing_pip_names_the_command(project, monkeypatch):
    monkeypatch.setattr(shutil, "which", lambda _: None)  # no uv, no apt-get
    monkeypatch.setattr(bootstrap, "answers", lambda _: False)
    pins = bootstrap.requirement_file("base")
    with pytest.raises(bootstrap.SetupProblem, match="has no pip module. Install it"):
        bootstrap.install("/opt/bin/python3", project / ".venv", pins)


@pytest.mark.skipif(
    not Path("/etc/debian_version").exists(), reason="About Debian's own Python."
)
def test_debians_python_without_pip_names_debians_package(project, monkeypatch):
    monkeypatch.setattr(shutil, "which", lambda _: None)
    monkeypatch.setattr(bootstrap, "answers", lambda _: False)
    pins = bootstrap.requirement_file("base")
    with pytest.raises(
        bootstrap.SetupProblem, match="sudo apt-get install --yes python3-pip"
    ):
        bootstrap.install("/usr/bin/python3", project / ".venv", pins)


def test_root_on_debian_gets_the_packages_without_asking(monkeypatch):
    commands = []

    def run(command, **_):
        commands.append(command[:2])
        return subprocess.CompletedProcess(command, 100 if len(commands) == 1 else 0)

    monkeypatch.setattr(bootstrap, "is_root_on_debian", lambda: True)
    monkeypatch.setattr(bootstrap, "pango_found", lambda: False)
    monkeypatch.setattr(subprocess, "run", run)
    bootstrap.offer_system_packages(chromium=False)
    # The first try failed for want of package lists.
    assert commands == [
        ["apt-get", "install"],
        ["apt-get", "update"],
        ["apt-get", "install"],
    ]


def test_others_are_told_the_command_and_go_on(monkeypatch, capsys):
    monkeypatch.setattr(bootstrap, "is_root_on_debian", lambda: False)
    monkeypatch.setattr(bootstrap, "pango_found", lambda: False)
    monkeypatch.setattr(bootstrap, "find_chromium", lambda: None)
    bootstrap.offer_system_packages(chromium=True)
    told = capsys.readouterr().err
    assert "PDF files and the browser tests" in told
    assert "sudo apt-get install --yes libpango-1.0-0 libpangoft2-1.0-0" in told
    assert "chromium" in told


def test_it_imports_nothing_but_the_standard_library():
    code = (
        "import sys; sys.path.insert(0, sys.argv[1]); import studio.bootstrap;"
        "print([m for m in sys.modules if m.split('.')[0] in"
        " {'django', 'celery', 'pip', 'numpy'}])"
    )
    root = Path(bootstrap.__file__).parent.parent
    done = subprocess.run(
        [PYTHON, "-I", "-S", "-c", code, str(root)],
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.strip() == "[]"


def test_pins_of_the_tests_contain_those_of_the_program():
    folder = Path(bootstrap.__file__).parent / "requirements"
    base, test = (
        {
            line.split("\\")[0].strip()
            for line in (folder / f"{kind}.txt").read_text().splitlines()
            if "==" in line
        }
        for kind in ("base", "test")
    )
    assert base
    assert base <= test


def test_bytecode_is_kept_in_the_environment_where_none_may_lie_beside_sources(
    tmp_path, monkeypatch
):
    (tmp_path / "glass.py").write_text("HERE = True\n")
    monkeypatch.setenv("PYTHONDONTWRITEBYTECODE", "1")
    monkeypatch.delenv("PYTHONPYCACHEPREFIX", raising=False)
    bootstrap.keep_bytecode_apart(tmp_path / ".venv")
    subprocess.run([PYTHON, "-c", "import glass"], cwd=tmp_path, check=True)
    assert list((tmp_path / ".venv" / "bytecode").rglob("glass.*.pyc"))
    assert not (tmp_path / "__pycache__").exists()


def test_who_lets_python_write_bytecode_keeps_it_where_it_is(tmp_path, monkeypatch):
    monkeypatch.delenv("PYTHONDONTWRITEBYTECODE", raising=False)
    monkeypatch.delenv("PYTHONPYCACHEPREFIX", raising=False)
    bootstrap.keep_bytecode_apart(tmp_path / ".venv")
    assert "PYTHONPYCACHEPREFIX" not in os.environ
