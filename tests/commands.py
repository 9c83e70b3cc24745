"""Management commands called in the tests' own process, as `manage.py` calls them.

A real start takes seconds; one per command shows that it works.
"""

import io
import os
import subprocess
import sys
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass

from django.core.management import ManagementUtility

from studio import bootstrap


@dataclass(frozen=True, kw_only=True)
class Done:
    """How a command ended and what it said."""

    returncode: int
    stdout: str
    stderr: str


def call(command: str, *words: object) -> Done:
    """Run a command here, parsed and ended as if its words came from a shell."""
    out, err = io.StringIO(), io.StringIO()
    code = 0
    with redirect_stdout(out), redirect_stderr(err):
        try:
            # Not `execute`, which would set up Django and its log anew.
            found = ManagementUtility().fetch_command(command)
            found.run_from_argv(["manage.py", command, *map(str, words)])
        except SystemExit as end:
            code = end.code if isinstance(end.code, int) else 1
    return Done(returncode=code, stdout=out.getvalue(), stderr=err.getvalue())


def start(command: str, *words: object) -> Done:
    """Run a command in a process of its own."""
    done = subprocess.run(
        [sys.executable, "manage.py", command, *map(str, words)],
        capture_output=True,
        text=True,
        cwd=bootstrap.ROOT,
        # The interpreter as it is: a command must not remake its environment.
        env=os.environ | {"STUDIO_NO_BOOTSTRAP": "1"},
        check=False,
    )
    return Done(returncode=done.returncode, stdout=done.stdout, stderr=done.stderr)
