"""``manage.py plan_kilns FILE --seconds 10 --json``: plans the problem of a file.

Reads, asks the pure planner, prints. Bad input ends with status 2 and one line that
names the key.
"""

import json
import sys
import time
from argparse import ArgumentParser
from pathlib import Path
from typing import Any, NoReturn

from django.core.management.base import BaseCommand

from firing.planning.problem.problem import PlanProblem
from firing.planning.problem.reading import read_problem
from firing.planning.problem.solution import plan_to_json
from firing.planning.search.improve import Limits
from firing.planning.search.planner import UNITS_PER_SECOND, PlanResult, make_plan

BAD_INPUT = 2
# The rest of the time is for checking and writing the plan.
SEARCH_SHARE = 0.95


class Command(BaseCommand):
    """Plan kilns, people and pieces of a file."""

    help = "Plan the kiln time of a file; layers and passes are counted from 0."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--seconds", type=float, default=10.0)
        parser.add_argument("--seed", type=int, default=1)
        parser.add_argument("--json", action="store_true", help="print the whole plan")

    def handle(self, *_: object, **options: Any) -> None:
        seconds = options["seconds"]
        if not 0 < seconds <= 3600:
            refuse("--seconds: write a number above 0 and at most 3600.")
        began = time.monotonic()
        try:
            problem = read_problem(_parsed(options["file"]))
            result = make_plan(
                problem,
                seed=options["seed"],
                limits=Limits(
                    units=int(seconds * UNITS_PER_SECOND),
                    fence=lambda: time.monotonic() - began > seconds * SEARCH_SHARE,
                ),
            )
        except PlanProblem as wrong:
            refuse(str(wrong))
        took = round(time.monotonic() - began, 2)
        for remark in problem.remarks:
            self.stderr.write(remark)
        if options["json"]:
            document = _document(result, took, options["seed"], problem.remarks)
            self.stdout.write(json.dumps(document, indent=1))
        else:
            self.stdout.write(_summary(result, took))


def refuse(text: str) -> NoReturn:
    """Write one line on standard error and leave with the status for bad input."""
    sys.stderr.write(" ".join(text.split()) + "\n")
    raise SystemExit(BAD_INPUT)


def _parsed(path: Path) -> object:
    def no_number(word: str) -> NoReturn:
        raise PlanProblem("file", f"{word} is not a number that can be planned with.")

    def once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        found: dict[str, Any] = {}
        for key, value in pairs:
            if key in found:
                raise PlanProblem(key, "this key comes twice in one object.")
            found[key] = value
        return found

    try:
        return json.loads(
            path.read_text(encoding="utf-8"),
            parse_constant=no_number,
            object_pairs_hook=once,
        )
    except OSError as wrong:
        raise PlanProblem("file", f"it cannot be read ({wrong.strerror}).") from wrong
    except UnicodeDecodeError as wrong:
        raise PlanProblem("file", "it is not UTF-8 text.") from wrong
    except (json.JSONDecodeError, RecursionError) as wrong:
        raise PlanProblem("file", f"it is not JSON ({wrong}).") from wrong


def _document(
    result: PlanResult, took: float, seed: int, remarks: tuple[str, ...]
) -> dict[str, Any]:
    verdict, bounds = result.verdict, result.bounds
    return {
        "format": 1,
        **plan_to_json(result.plan),
        "objective": {
            "undelivered": verdict.undelivered,
            "weighted_days_late": verdict.weighted_days_late,
            "kwh": verdict.kwh,
            "delivery_days": verdict.delivery_days,
        },
        "bound": {
            "undelivered": 0,
            "weighted_days_late": bounds.weighted_days_late,
            "kwh": bounds.kwh,
            "enamel_firings": bounds.nights,
        },
        "proved_best": result.is_proved_best,
        "stopped_by_clock": result.was_stopped,
        "remarks": list(remarks),
        "tries": result.tries,
        "seconds": took,
        "seed": seed,
    }


def _summary(result: PlanResult, took: float) -> str:
    verdict, bounds = result.verdict, result.bounds
    proof = "proved best" if result.is_proved_best else "not proved best"
    return (
        f"{len(result.plan.firings)} enamel firings, {len(result.plan.fuses)} fuses; "
        f"{verdict.weighted_days_late} weighted days late "
        f"(at least {bounds.weighted_days_late}), {verdict.kwh:g} kWh "
        f"(at least {bounds.kwh:g}); {proof}, {result.tries} tries in {took:g} s."
    )
