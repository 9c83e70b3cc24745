"""``manage.py send_readings FILE --token T --speed 2000``: a logger made of a file.

It sends a controller's file to the address that loggers send to, as fast as asked, and
goes on after an outage where it was. For trying out what a running firing does.
"""

import json
import os
import sys
import time
import urllib.error
import urllib.request
from argparse import ArgumentParser
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, NoReturn, get_args
from zoneinfo import ZoneInfo

from django.core.management.base import BaseCommand
from django.utils import timezone

from firing.controller_log import (
    ElapsedUnit,
    LogProblem,
    LogQuestions,
    Unit,
    read_log,
)
from firing.controller_log.pushed import MOST_LINES

BAD_INPUT = 2
# The server takes 30 a minute from one logger.
EVERY_S = 2.1
LONGEST_WAIT_S = 60.0
TIMEOUT_S = 30


class Command(BaseCommand):
    """Send a file of readings as a logger does."""

    help = "Send a controller's file to a running firing, as a logger would."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument(
            "--token", default="", help="from the kiln's page; else SLOWCOOL_TOKEN"
        )
        parser.add_argument("--address", default="http://127.0.0.1:8000")
        parser.add_argument("--speed", type=float, default=1.0)
        parser.add_argument("--unit", choices=get_args(Unit))
        parser.add_argument(
            "--elapsed",
            choices=get_args(ElapsedUnit),
            help="what plain numbers of time are, if the file does not say",
        )
        parser.add_argument(
            "--starts",
            help="instant of the first reading; without it the last one is now",
        )

    def handle(self, *_: object, **options: Any) -> None:
        token = options["token"] or os.environ.get("SLOWCOOL_TOKEN", "")
        if not token:
            refuse("--token: copy the logger's token from the kiln's page.")
        if not options["address"].startswith(("http://", "https://")):
            refuse("--address: begin it with http:// or https://.")
        if not 0 < options["speed"] <= 1e6:
            refuse("--speed: write a number above 0 and at most 1000000.")
        times, heats = _read(options["file"], options["unit"], options["elapsed"])
        starts = _starts(options["starts"], times[-1] - times[0])
        url = f"{options['address'].rstrip('/')}/firings/readings/push/"
        count = 0
        for rows in _in_time(times, heats, starts, options["speed"]):
            answer = self._send(url, token, rows)
            count += len(rows)
            self.stdout.write(f"{rows[-1][0]}  {count} of {len(times)}  {answer}")

    def _send(self, url: str, token: str, rows: list[list[object]]) -> str:
        """Send until it is taken: a server that is away comes back."""
        wait_s = 1.0
        while True:
            request = urllib.request.Request(  # noqa: S310 - http, see above
                url,
                data=json.dumps(rows).encode(),
                headers={
                    "Authorization": f"Bearer {token}",
                    "Content-Type": "application/json",
                },
            )
            try:
                with urllib.request.urlopen(request, timeout=TIMEOUT_S) as answer:  # noqa: S310
                    return f"kept {json.load(answer)['kept']}"
            except urllib.error.HTTPError as problem:
                told = problem.read().decode("utf-8", "replace")
                if problem.code != 429 and problem.code < 500:
                    refuse(f"The server answered {problem.code}: {told}")
                wait_s = float(problem.headers.get("Retry-After") or wait_s)
            except OSError as problem:
                self.stderr.write(f"{problem}; trying again in {wait_s:.0f} s")
            time.sleep(wait_s)
            wait_s = min(2 * wait_s, LONGEST_WAIT_S)


def _read(
    path: Path, unit: Unit | None, elapsed: ElapsedUnit | None
) -> tuple[list[float], list[float]]:
    """Return the file's times from its first reading on [s], and temperatures [°C]."""
    try:
        with path.open("rb") as file:
            log = read_log(
                file,
                started_at=timezone.now(),
                zone=ZoneInfo("UTC"),
                unit=unit,
                elapsed_unit=elapsed,
            )
    except OSError as problem:
        refuse(f"{path}: {problem.strerror}.")
    except LogQuestions as asked:
        refuse(f"{path}: {asked} Say it with --unit or --elapsed.")
    except LogProblem as problem:
        refuse(f"{path}: {problem}")
    times, heats = log.readings
    return [float(one) for one in times], [float(one) for one in heats]


def _starts(given: str | None, lasts_s: float) -> datetime:
    if given is None:
        return timezone.now() - timedelta(seconds=lasts_s)
    try:
        at = datetime.fromisoformat(given)
    except ValueError:
        refuse("--starts: write an instant such as 2026-03-04T05:06:07Z.")
    if at.tzinfo is None:
        refuse("--starts: end it with Z or an offset such as -05:00.")
    return at.astimezone(UTC)


def _in_time(
    times: list[float], heats: list[float], starts: datetime, speed: float
) -> Iterator[list[list[object]]]:
    """Give what has become due, every so often, until the file is over."""
    began, first, place = time.monotonic(), times[0], 0
    while place < len(times):
        due_s = (time.monotonic() - began) * speed
        end = place
        while end < min(len(times), place + MOST_LINES) and times[end] - first <= due_s:
            end += 1
        if end > place:
            yield [
                [
                    (starts + timedelta(seconds=times[one] - first)).isoformat(),
                    round(heats[one], 2),
                ]
                for one in range(place, end)
            ]
            place = end
        if place < len(times):
            time.sleep(EVERY_S)


def refuse(told: str) -> NoReturn:
    """End with status 2 and one line that says what to write."""
    sys.stderr.write(f"{told}\n")
    raise SystemExit(BAD_INPUT)
