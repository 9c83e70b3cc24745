"""Sets how much tension a studio allows its glass."""

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
    """Keep a studio's limits: the ones that designs start from and firings are judged by.

    Schedules that were kept stay as they are. Every firing with readings is judged anew,
    in the background; the last verdict by the old limits is kept beside.
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
    """Order the judgement of every firing with readings that is not there yet.

    One transaction for each firing, the latest firing first: a studio with many holds
    nobody up. It may be broken off and done again, as one order stands for the same
    inputs; `told` hears how far it is.
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
