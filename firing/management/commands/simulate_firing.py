"""Computes one firing from a file and prints what the glass went through."""

import json
import time
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from firing.physics.formats import firing_format
from firing.physics.slab.simulation import simulate
from firing.physics.slab.warm import warm_up
from studio.errors import StudioError

BAD_INPUT = 2


class Command(BaseCommand):
    """``python3 manage.py simulate_firing FILE --json``."""

    help = (
        "Compute temperature, relaxation and stress of a slab through a firing that a "
        "JSON file describes. Bad input: status 2 and one line that names the key."
    )
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", help="the firing, a JSON object")
        parser.add_argument("--json", action="store_true", help="print JSON")

    def handle(self, *_: object, **options: Any) -> None:
        try:
            firing = firing_format.firing_from_mapping(_read(options["file"]))
            warm_up()
            began = time.perf_counter()
            result = simulate(firing)
            seconds = time.perf_counter() - began
        except StudioError as problem:
            line = " ".join(str(problem).split())
            raise CommandError(line, returncode=BAD_INPUT) from problem
        shown = firing_format.result_as_mapping(result, seconds=seconds)
        if options["json"]:
            self.stdout.write(json.dumps(shown, indent=2))
            return
        for key, value in shown.items():
            self.stdout.write(f"{key}: {value}")


def _read(name: str) -> object:
    """Return the parsed file; if it cannot be read, the problem's key is `file`."""
    try:
        text = Path(name).read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError, ValueError) as problem:
        reason = getattr(problem, "strerror", None) or "it is not a UTF-8 text"
        raise firing_format.FormatProblem(
            "file", f"{name} cannot be read: {reason}."
        ) from problem
    try:
        return json.loads(text)
    except (json.JSONDecodeError, RecursionError) as problem:
        raise firing_format.FormatProblem(
            "file", f"{name} is not JSON: {problem}."
        ) from problem
