"""Background work of the firing app: handlers that the worker calls by name."""

from typing import Any

from django.utils import timezone

from firing.selectors.firings import firings
from firing.selectors.judging import JUDGE_JOB, inputs_sha256, judge_firing
from firing.services.judging import keep_judgement
from studio.jobs import Finish, handler


@handler(JUDGE_JOB)
def judge_readings(
    studio: Any, *, lease: Any, firing_id: int, **_: Any
) -> Finish | None:
    """Compute what a firing did to its glass; keeping that is the finish."""
    firing = firings(studio).filter(pk=firing_id).first()
    if firing is None or not firing.readings.exists():
        return None
    sha256 = inputs_sha256(firing)
    lease.renew("Computing heat and stress")
    found = judge_firing(firing)

    def finish() -> None:
        keep_judgement(firing=firing, sha256=sha256, found=found, at=timezone.now())

    return finish
