"""Has a firing judged in the background, and keeps the current and previous result."""

from datetime import datetime

from django.db import transaction

from firing.models import Firing, FiringEvent, Judgement
from firing.readings.selectors.verdict_inputs import (
    JUDGE_JOB,
    NewJudgement,
    inputs_sha256,
    job_key,
    judging_of,
)
from studio import jobs
from studio.errors import Refused

LOOK_JOB = "firing.look"
# The current one and the last, to tell what is news.
MOST_KEPT = 2


@transaction.atomic
def ask_for_judgement(*, firing: Firing) -> None:
    """Order a firing's judgement unless it has no readings or is judged already."""
    state = judging_of(firing)
    if not state.has_readings or state.judgement is not None:
        return
    if state.state != "making":
        _order(firing, is_asked=False)


@transaction.atomic
def ask_what_next(*, firing: Firing) -> None:
    """Order what a verdict's page lacks: the options, or all of it where kiln or glass
    were changed since it was computed.
    """
    if judging_of(firing).is_to_be_ordered:
        _order(firing, is_asked=True)


@transaction.atomic
def judge_again(*, firing: Firing) -> None:
    """Order it again, even if it is there; until it is computed nothing changes.

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


def ask_to_look(*, firing: Firing) -> None:
    """Have the watch look at a running firing now: something new is known of it."""
    if firing.started_at is None or firing.finished_at is not None:
        return
    jobs.enqueue(
        studio=firing.studio,
        name=LOOK_JOB,
        key=f"look {firing.pk}",
        firing_id=firing.pk,
    )


def keep_judgement(
    *, firing: Firing, sha256: str, found: NewJudgement, at: datetime
) -> Judgement:
    """Keep a result; the same inputs always have one row, which this rewrites.

    A firing's previous judgement is kept too, and none older. `at` is when the readings
    were read, so a worker that finishes late does not remove a newer one.
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
    untold = FiringEvent.owned.for_studio(firing.studio).filter(
        firing=firing, told_at__isnull=True, withdrawn_at__isnull=True
    )
    if untold.exists():
        ask_to_look(firing=firing)
    return kept
