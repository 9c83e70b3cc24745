"""How a studio anneals a fuse unless somebody chooses otherwise."""

from django.db import models
from django.db.models import Q

from firing.models.schedule import ScheduleRule
from studio.tenancy import StudioOwned

FUSE_RULES = (ScheduleRule.NEXT_ROW, ScheduleRule.ROW, ScheduleRule.COMPUTED)


class FuseAnneal(StudioOwned):
    """The rule that a fuse's schedule is first offered by.

    A studio has at most one row; without one, the table's next thicker row applies.
    """

    rule = models.CharField(
        max_length=16, choices=[(one.value, one.label) for one in FUSE_RULES]
    )

    class Meta(StudioOwned.Meta):
        verbose_name = "the anneal for a fuse"
        constraints = [
            models.UniqueConstraint(
                fields=["studio"], name="fuse_anneal_once_per_studio"
            ),
            models.CheckConstraint(
                condition=Q(rule__in=[one.value for one in FUSE_RULES]),
                name="fuse_anneal_known",
            ),
        ]

    def __str__(self) -> str:
        return ScheduleRule(self.rule).label
