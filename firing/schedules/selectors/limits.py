"""The limits of tension a studio designs and judges by."""

from firing.models import StressLimits
from firing.physics.limits import DEFAULT_LIMITS, Limits
from studio.models import Studio

MPA = 1e6
JUDGE_ALL_JOB = "firing.judge_all"


def limits_of(studio: Studio) -> Limits:
    """Return the studio's own limits, or the program's defaults."""
    own = StressLimits.owned.for_studio(studio).first()
    if own is None:
        return DEFAULT_LIMITS
    return Limits(
        temporary_pa=own.temporary_mpa * MPA,
        residual_pa=own.residual_mpa * MPA,
        warning_pa=own.warning_mpa * MPA,
    )


def are_defaults(limits: Limits) -> bool:
    """Return whether these are the program's default limits."""
    return limits == DEFAULT_LIMITS


def limits_words(limits: Limits) -> list[tuple[str, str]]:
    """Return the three limits with what each is about."""
    return [
        ("While heating and cooling", f"{limits.temporary_pa / MPA:g} MPa"),
        ("What stays in the cold glass", f"{limits.residual_pa / MPA:g} MPa"),
        ("Hard warning: it may have cracked", f"{limits.warning_pa / MPA:g} MPa"),
    ]
