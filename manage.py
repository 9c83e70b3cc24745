#!/usr/bin/env python3
"""The one command: sets up what it needs, then runs Django's commands or the tests.

Nothing outside the standard library is imported before the environment is ready.
"""

import os
import sys


def main() -> None:
    """Enter the project's own environment, then hand over to pytest or Django."""
    if sys.version_info < (3, 11):
        sys.exit(
            f"Slowcool needs Python 3.11 or newer; this is {sys.version.split()[0]}. Install "
            "a newer one and start again with it, for instance: python3.12 manage.py up"
        )
    from studio import bootstrap

    # The matrices here are small: more threads of BLAS only wait for each other.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    command = sys.argv[1] if len(sys.argv) > 1 else "help"
    bootstrap.enter(command)
    if command == "test":
        # The tests bring settings of their own, named in pyproject.toml.
        os.environ.pop("DJANGO_SETTINGS_MODULE", None)
        os.chdir(bootstrap.ROOT)
        # On every core, a file's tests in one process, as they share what takes long to
        # make; a later -n 0 keeps them all in one, for a debugger.
        spread = ["-n", "auto", "--maxprocesses", "7", "--dist", "loadfile"]
        tests = ["-m", "pytest", *spread, "--no-loadscope-reorder", *sys.argv[2:]]
        os.execv(sys.executable, [sys.executable, *tests])
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
    from django.core.exceptions import ImproperlyConfigured
    from django.core.management import execute_from_command_line

    from studio.environment import EnvironmentProblem

    try:
        execute_from_command_line(sys.argv)
    except (EnvironmentProblem, ImproperlyConfigured) as problem:
        sys.exit(f"The settings are not usable. {problem}")


if __name__ == "__main__":
    try:
        main()
    except KeyboardInterrupt:
        sys.exit("Interrupted.")
