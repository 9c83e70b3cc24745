"""Sets how much tension a studio allows in its glass."""

from collections.abc import Callable
from datetime import datetime

from django.db import transaction
from django.db.models import Exists, OuterRef

from firing.loads.selectors.firings import firings
from firing.models import Reading, StressLimits
from firing.physics.limits import Limits
from firing.readings.services.judging import ask_for_judgement
from firing.schedules.selectors.limits import JUDGE_ALL_JOB, MPA, limits_of
from studio import jobs
from studio.models import Person, Studio
from studio.services import history


@transaction.atomic
def set_limits(
    *, studio: Studio, limits: Limits, by: Person | None, at: datetime
) -> None:
    """Save a studio's limits: designs start from them and firings are judged by them.

    Saved schedules stay as they are. Every firing with readings is judged again in the
    background; its last verdict by the old limits is kept beside the new one.
    """
    before = limits_of(studio)
    if limits == before:
        return
    StressLimits.across_studios.update_or_create(
        studio=studio,
        defaults={
            "temporary_mpa": limits.temporary_pa / MPA,
            "residual_mpa": limits.residual_pa / MPA,
            "warning_mpa": limits.warning_pa / MPA,
        },
    )
    history.record(
        studio=studio,
        by=by,
        at=at,
        what=f"Set the limits of tension to {_words(limits)}; they were {_words(before)}",
        subject="limits",
    )
    jobs.enqueue(studio=studio, name=JUDGE_ALL_JOB)


def judge_by_new_limits(*, studio: Studio, told: Callable[[str], None]) -> None:
    """Order a judgement of every firing with readings that has none yet.

    Each firing has its own transaction, the latest first, so a studio with many blocks
    nobody. It can be broken off and repeated, because the same inputs have only one
    order. `told` is called with the progress.
    """
    read = Reading.across_studios.filter(firing=OuterRef("pk"))
    with_readings = firings(studio).filter(Exists(read)).order_by("-pk")
    keys = list(with_readings.values_list("pk", flat=True))
    for number, key in enumerate(keys):
        told(f"{number} of {len(keys)} firings looked at")
        ask_for_judgement(firing=firings(studio).get(pk=key))


def _words(limits: Limits) -> str:
    return (
        f"{limits.temporary_pa / MPA:g} MPa while hot, "
        f"{limits.residual_pa / MPA:g} MPa that stays, "
        f"warning from {limits.warning_pa / MPA:g} MPa"
    )
