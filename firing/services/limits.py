"""Sets how much tension a studio allows its glass."""

from datetime import datetime

from django.db import transaction

from firing.models import StressLimits
from firing.physics.limits import Limits
from firing.selectors.limits import MPA, limits_of
from studio.models import Person, Studio
from studio.services import history


@transaction.atomic
def set_limits(
    *, studio: Studio, limits: Limits, by: Person | None, at: datetime
) -> None:
    """Keep a studio's limits: the ones that designs start from and firings are judged by.

    Schedules that were kept and verdicts that were given keep theirs.
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


def _words(limits: Limits) -> str:
    return (
        f"{limits.temporary_pa / MPA:g} MPa while hot, "
        f"{limits.residual_pa / MPA:g} MPa that stays, "
        f"warning from {limits.warning_pa / MPA:g} MPa"
    )
