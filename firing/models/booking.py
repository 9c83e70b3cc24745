"""Bookings: spans of kiln time that nothing else may take.

The database itself refuses two that overlap: PostgreSQL by an exclusion constraint,
SQLite by the triggers of `firing.guard`. Spans are half open, so a booking may end at
the instant the next one starts.
"""

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Any, ClassVar

from django.contrib.postgres.constraints import ExclusionConstraint
from django.contrib.postgres.fields import DateTimeRangeField, RangeOperators
from django.contrib.postgres.fields.ranges import RangeBoundary
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Func, Q

from studio.tenancy import StudioOwned, StudioQuerySet


class KilnTimeExclusion(ExclusionConstraint):
    """The exclusion constraint where the database has them, an overlap query elsewhere.

    Validation through forms works on every database; triggers do what SQLite's schema
    cannot.
    """

    def create_sql(self, model: Any, schema_editor: Any) -> Any:
        if schema_editor.connection.vendor != "postgresql":
            return None
        return super().create_sql(model, schema_editor)

    def remove_sql(self, model: Any, schema_editor: Any) -> Any:
        if schema_editor.connection.vendor != "postgresql":
            return None
        return super().remove_sql(model, schema_editor)

    def constraint_sql(self, model: Any, schema_editor: Any) -> Any:
        if schema_editor.connection.vendor != "postgresql":
            return None
        return super().constraint_sql(model, schema_editor)

    def validate(
        self,
        model: Any,
        instance: Any,
        exclude: Iterable[str] | None = None,
        using: str = "default",
    ) -> None:
        if instance.cancelled_at is not None:
            return
        if None in (instance.starts_at, instance.ends_at, instance.kiln_id):
            return
        others = model.across_studios.using(using).overlapping(
            instance.kiln_id, instance.starts_at, instance.ends_at
        )
        if others.exclude(pk=instance.pk).exists():
            raise ValidationError("The kiln is booked in that time.", code=self.name)


class BookingQuerySet(StudioQuerySet["Booking"]):
    """Bookings by time."""

    def standing(self) -> "BookingQuerySet":
        """Keep those that are not cancelled."""
        return self.filter(cancelled_at__isnull=True)

    def overlapping(
        self, kiln_id: int, starts_at: datetime, ends_at: datetime
    ) -> "BookingQuerySet":
        """Keep the standing bookings of a kiln that overlap the span."""
        return self.standing().filter(
            kiln_id=kiln_id, starts_at__lt=ends_at, ends_at__gt=starts_at
        )


class BookingKind(models.TextChoices):
    """What the kiln is held for."""

    FIRING = "firing", "Firing"
    RENTAL = "rental", "Rented out"
    MAINTENANCE = "maintenance", "Maintenance"


class Booking(StudioOwned):
    """A span in one kiln: heating, soak and cooling, down to the opening temperature."""

    kiln = models.ForeignKey(
        "studio.Kiln", on_delete=models.PROTECT, related_name="bookings"
    )
    kind = models.CharField(
        max_length=12, choices=BookingKind, default=BookingKind.FIRING
    )
    title = models.CharField(max_length=200)
    kiln_user = models.ForeignKey(
        "studio.KilnUser",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="bookings",
        help_text="Who rents it.",
    )
    used_hours = models.FloatField(
        null=True,
        blank=True,
        help_text="How long a rented kiln was really used. Empty: all the time.",
    )
    used_kwh = models.FloatField(
        null=True, blank=True, help_text="By the kiln's meter, where somebody read it."
    )
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    is_provisional = models.BooleanField(default=False)
    cancelled_at = models.DateTimeField(null=True, blank=True)
    cancelled_reason = models.CharField(max_length=200, blank=True)
    planned_curve = models.JSONField(
        default=list, help_text="[[seconds from the start, °C], ...] as planned."
    )
    booked_at = models.DateTimeField()
    booked_by = models.ForeignKey(
        "studio.Person", null=True, on_delete=models.SET_NULL, related_name="+"
    )

    across_studios: ClassVar = models.Manager.from_queryset(BookingQuerySet)()

    class Meta(StudioOwned.Meta):
        ordering = ["starts_at", "pk"]
        indexes = [
            models.Index(fields=["kiln", "starts_at"], name="booking_by_kiln_time"),
            models.Index(
                fields=["studio", "starts_at", "ends_at"], name="booking_by_time"
            ),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(starts_at__lt=F("ends_at")), name="booking_start_before_end"
            ),
            models.CheckConstraint(
                condition=Q(kind="rental")
                | Q(kiln_user=None, used_hours=None, used_kwh=None),
                name="booking_used_by_others_when_rented",
            ),
            models.CheckConstraint(
                condition=(Q(used_hours=None) | Q(used_hours__gte=0))
                & (Q(used_kwh=None) | Q(used_kwh__gte=0)),
                name="booking_use_not_negative",
            ),
            KilnTimeExclusion(
                name="one_booking_at_a_time_per_kiln",
                expressions=[
                    (
                        Func(
                            F("starts_at"),
                            F("ends_at"),
                            RangeBoundary(),
                            function="tstzrange",
                            output_field=DateTimeRangeField(),
                        ),
                        RangeOperators.OVERLAPS,
                    ),
                    ("kiln", RangeOperators.EQUAL),
                ],
                condition=Q(cancelled_at__isnull=True),
            ),
        ]

    def __str__(self) -> str:
        return self.title

    @property
    def opens_at(self) -> datetime:
        """When the kiln may be opened: the end of the planned curve, else the end."""
        if not self.planned_curve:
            return self.ends_at
        return self.starts_at + timedelta(seconds=self.planned_curve[-1][0])

    @property
    def opens_below_c(self) -> float:
        """What the kiln must show before it is opened: colder for thick glass [°C]."""
        usual_c = self.kiln.opening_temperature_c
        return (
            min(usual_c, self.planned_curve[-1][1]) if self.planned_curve else usual_c
        )
