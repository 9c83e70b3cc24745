"""What may import what: the contracts of pyproject.toml, and cores free of Django."""

import subprocess
import sys
import tomllib

from studio import bootstrap

PROJECT = tomllib.loads((bootstrap.ROOT / "pyproject.toml").read_text())
CONTRACTS = PROJECT["tool"]["importlinter"]["contracts"]
(PURE,) = (c for c in CONTRACTS if c["name"].startswith("Pure cores"))


def told_by(code: str) -> str:
    """Return what a program prints that starts from nothing."""
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=bootstrap.ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


def test_pure_cores_load_without_django():
    """In one process: the first module that loads something heavy is named."""
    code = (
        "import importlib, pkgutil, sys\n"
        "heavy = {'django', 'celery', 'redis', 'weasyprint', 'psycopg'}\n"
        "def load(name):\n"
        "    module = importlib.import_module(name)\n"
        "    found = heavy & {name.split('.')[0] for name in sys.modules}\n"
        "    if found:\n"
        "        sys.exit(f'{name} loads {found}')\n"
        "    for inner in pkgutil.iter_modules(getattr(module, '__path__', [])):\n"
        "        load(f'{name}.{inner.name}')\n"
        f"for name in {PURE['source_modules']!r}:\n"
        "    load(name)\n"
        "print('all of them')\n"
    )
    assert told_by(code) == "all of them"


def test_every_layer_contract_of_an_app_is_exhaustive():
    """A module with a new name must be given its place: the linter sees to it then."""
    of_apps = [c for c in CONTRACTS if "containers" in c]
    assert {"studio", "firing", "commissions"} <= {
        app for contract in of_apps for app in contract["containers"]
    }
    assert all(contract.get("exhaustive") for contract in of_apps)


def test_contracts_are_kept():
    linter = bootstrap.VENV / "bin" / "lint-imports"
    command = [str(linter)] if linter.exists() else ["lint-imports"]
    done = subprocess.run(
        [*command, "--no-cache"],
        cwd=bootstrap.ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_the_program_starts_without_what_only_computing_needs():
    """Each second here is waited for at every start of every command."""
    code = (
        "import os, sys, django\n"
        "os.environ['DJANGO_SETTINGS_MODULE'] = 'studio.settings'\n"
        "django.setup()\n"
        "import studio.urls\n"
        "heavy = {'numba', 'ortools', 'scipy', 'weasyprint'}\n"
        "print(sorted(heavy & {name.split('.')[0] for name in sys.modules}))\n"
    )
    assert told_by(code) == "[]"
