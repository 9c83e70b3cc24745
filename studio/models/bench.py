"""How long work by hand takes, when each person does it, what they can do, and when
they are away.
"""

from typing import TypedDict

from django.db import models
from django.db.models import F, Q

from studio import labour
from studio.models.kiln import Weekday
from studio.tenancy import StudioOwned


class _Places(TypedDict):
    max_digits: int
    decimal_places: int


MINUTES = _Places(max_digits=12, decimal_places=4)

MOST_HOURS_A_WEEK = 168


class BenchHours(StudioOwned):
    """A span on one weekday, in the studio's local time, when a person works by hand.

    A person without any has not set their hours. Ending at 23:59 means midnight.
    """

    membership = models.ForeignKey(
        "studio.Membership", on_delete=models.CASCADE, related_name="bench_hours"
    )
    weekday = models.PositiveSmallIntegerField(choices=Weekday)
    starts = models.TimeField()
    ends = models.TimeField()

    class Meta(StudioOwned.Meta):
        verbose_name_plural = "bench hours"
        constraints = [
            models.CheckConstraint(
                condition=Q(starts__lt=F("ends")), name="bench_starts_before_end"
            ),
            models.UniqueConstraint(
                fields=["membership", "weekday", "starts"], name="bench_hours_once"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_weekday_display()} {self.starts:%H:%M}–{self.ends:%H:%M}"


class BenchTask(StudioOwned):
    """A task of work by hand and its rule, as `studio.labour.Task` has it.

    For both plans and prices. A studio without any has the usual ones.
    """

    key = models.CharField(max_length=40)
    name = models.CharField(max_length=80)
    number = models.PositiveSmallIntegerField()
    step = models.CharField(max_length=12, default=labour.Step.AROUND)
    minutes = models.DecimalField(default=0, **MINUTES)
    counted = models.CharField(max_length=24, blank=True)
    minutes_each = models.DecimalField(default=0, **MINUTES)
    area = models.CharField(max_length=12, blank=True)
    minutes_per_m2 = models.DecimalField(default=0, **MINUTES)
    is_once = models.BooleanField(default=False)
    tax = models.CharField(max_length=12, default=labour.TaxClass.MAIN)

    class Meta(StudioOwned.Meta):
        ordering = ["number", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["studio", "key"], name="bench_task_once_per_studio"
            ),
            models.CheckConstraint(
                condition=Q(minutes__gte=0, minutes_each__gte=0, minutes_per_m2__gte=0),
                name="bench_task_not_negative",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class BenchTerms(StudioOwned):
    """What a person can do by hand and how much in a week.

    If no skills are set, they follow from the role; without a limit only the hours
    count.
    """

    membership = models.OneToOneField(
        "studio.Membership", on_delete=models.CASCADE, related_name="bench_terms"
    )
    hours_a_week = models.PositiveSmallIntegerField(null=True, blank=True)
    has_own_skills = models.BooleanField(default=False)
    can_paint = models.BooleanField(default=False)
    can_assemble = models.BooleanField(default=False)
    can_coldwork = models.BooleanField(default=False)

    class Meta(StudioOwned.Meta):
        verbose_name_plural = "bench terms"
        constraints = [
            models.CheckConstraint(
                condition=Q(hours_a_week__isnull=True)
                | Q(hours_a_week__gte=1, hours_a_week__lte=MOST_HOURS_A_WEEK),
                name="bench_limit_sensible",
            )
        ]

    def __str__(self) -> str:
        return f"Bench work of {self.membership}"


class AwayReason(models.TextChoices):
    """Why somebody is away; only that person and those who plan can read it."""

    HOLIDAY = "holiday", "Holiday"
    SICK = "sick", "Sick"
    OTHER = "other", "Something else"


class DaysAway(StudioOwned):
    """Whole days, first and last included, when a person does not work."""

    membership = models.ForeignKey(
        "studio.Membership", on_delete=models.CASCADE, related_name="days_away"
    )
    starts_date = models.DateField()
    ends_date = models.DateField()
    reason = models.CharField(
        max_length=8, choices=AwayReason, default=AwayReason.HOLIDAY
    )
    note = models.CharField(max_length=160, blank=True)

    class Meta(StudioOwned.Meta):
        verbose_name_plural = "days away"
        ordering = ["starts_date", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(starts_date__lte=F("ends_date")),
                name="away_starts_before_end",
            )
        ]

    def __str__(self) -> str:
        first = f"{self.starts_date:%a %-d %b %Y}"
        if self.starts_date == self.ends_date:
            return first
        return f"{first} to {self.ends_date:%a %-d %b %Y}"
