"""Has a firing judged in the background, and keeps what was found: now and before."""

from datetime import datetime

from django.db import transaction

from firing.models import Firing, Judgement
from firing.readings.selectors.verdict_inputs import (
    JUDGE_JOB,
    NewJudgement,
    inputs_sha256,
    job_key,
    judging_of,
)
from studio import jobs
from studio.errors import Refused

# The current one, and the last: what is news is told from that.
MOST_KEPT = 2


@transaction.atomic
def ask_for_judgement(*, firing: Firing) -> None:
    """Order a firing's judgement unless it has no readings, or it is there already."""
    state = judging_of(firing)
    if not state.has_readings or state.judgement is not None:
        return
    if state.state != "making":
        _order(firing, is_asked=False)


@transaction.atomic
def ask_what_next(*, firing: Firing) -> None:
    """Order what can be done from here, where a judgement was kept without that."""
    if judging_of(firing).wants_options:
        _order(firing, is_asked=True)


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
        _order(firing, is_asked=True)


def _order(firing: Firing, *, is_asked: bool) -> None:
    jobs.enqueue(
        studio=firing.studio,
        name=JUDGE_JOB,
        key=job_key(firing, inputs_sha256(firing)),
        firing_id=firing.pk,
        is_asked=is_asked,
    )


def keep_judgement(
    *, firing: Firing, sha256: str, found: NewJudgement, at: datetime
) -> Judgement:
    """Keep a result; the same inputs always have one row, which this rewrites.

    Of a firing's judgements the one before it is kept too, and none older. `at` is when
    the readings were read: a worker that is done late takes no newer one away.
    """
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
    every = Judgement.owned.for_studio(firing.studio).filter(firing=firing)
    older = every.order_by("-made_at", "-pk").values_list("pk", flat=True)[MOST_KEPT:]
    Judgement.across_studios.filter(pk__in=list(older)).delete()
    return kept
