"""Sets how a studio anneals a fuse unless somebody chooses otherwise."""

from datetime import datetime

from django.db import transaction

from firing.models import FuseAnneal, ScheduleRule
from firing.schedules.selectors.fuse_anneal import RULE_TITLES, fuse_rule
from studio.models import Person, Studio
from studio.services import history


@transaction.atomic
def set_fuse_rule(
    *, studio: Studio, rule: ScheduleRule, by: Person | None, at: datetime
) -> None:
    """Save a studio's rule. Saved schedules and standing bookings stay as they are."""
    before = fuse_rule(studio)
    if rule is before:
        return
    FuseAnneal.across_studios.update_or_create(studio=studio, defaults={"rule": rule})
    history.record(
        studio=studio,
        by=by,
        at=at,
        what=f"Set the anneal for a fuse to {_name(rule)}; it was {_name(before)}",
        subject="anneal",
    )


def _name(rule: ScheduleRule) -> str:
    return RULE_TITLES[rule].lower()
