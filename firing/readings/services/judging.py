"""Has a firing judged in the background, and keeps what was found, once per inputs."""

from datetime import datetime

from django.db import transaction

from firing.models import Firing, Judgement
from firing.readings.selectors.verdict_inputs import (
    JUDGE_JOB,
    Found,
    inputs_sha256,
    job_key,
    judging_of,
)
from studio import jobs
from studio.errors import Refused


@transaction.atomic
def ask_for_judgement(*, firing: Firing) -> None:
    """Order a firing's judgement unless it has no readings, or it is there already."""
    state = judging_of(firing)
    if not state.has_readings or state.judgement is not None:
        return
    if state.state != "making":
        _order(firing, number=0 if state.job is None else state.job.pk)


@transaction.atomic
def judge_again(*, firing: Firing) -> None:
    """Order it anew, also where it is there; while it is computed nothing changes.

    Raises
    ------
    Refused
        When there are no readings to judge.
    """
    state = judging_of(firing)
    if not state.has_readings:
        raise Refused("There are no readings to judge. Import the controller's file.")
    if state.state != "making":
        _order(firing, number=0 if state.job is None else state.job.pk)


def _order(firing: Firing, *, number: int) -> None:
    # Two who ask at once name the same last job, and so make one order.
    jobs.enqueue(
        studio=firing.studio,
        name=JUDGE_JOB,
        key=f"{job_key(firing, inputs_sha256(firing))} {number}",
        firing_id=firing.pk,
    )


def keep_judgement(
    *, firing: Firing, sha256: str, found: Found, at: datetime
) -> Judgement:
    """Keep a result; the same inputs always have one row, which this rewrites."""
    kept: Judgement
    kept, _ = Judgement.across_studios.update_or_create(
        firing=firing,
        inputs_sha256=sha256,
        defaults={
            "studio": firing.studio,
            "verdict": found.verdict,
            "numbers": found.numbers,
            "trace": found.trace,
            "made_at": at,
        },
    )
    return kept
