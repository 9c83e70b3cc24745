"""Kilns, the hours in which people may open them, and the times they are closed."""

from django.db import models
from django.db.models import F, Q

from studio.models.studio import TemperatureUnit
from studio.tenancy import StudioOwned


class Kiln(StudioOwned):
    """A kiln: what fits, how hot, how fast, and what an hour costs."""

    name = models.CharField(max_length=80)
    inner_width_mm = models.FloatField()
    inner_depth_mm = models.FloatField()
    inner_height_mm = models.FloatField()
    shelf_width_mm = models.FloatField()
    shelf_depth_mm = models.FloatField()
    max_temperature_c = models.FloatField()
    opening_temperature_c = models.FloatField(
        default=50.0, help_text="Below this the kiln may be opened."
    )
    power_w = models.FloatField()
    holding_fraction = models.FloatField(
        default=0.5,
        help_text="Share of full power that holds the highest temperature.",
    )
    cooling_time_constant_s = models.FloatField(
        default=6 * 3600.0,
        help_text="Time in which the kiln, switched off, falls to 37 % of its heat.",
    )
    offset_k = models.FloatField(
        default=0.0, help_text="How much hotter the kiln is than it shows, in kelvin."
    )
    offset_uncertainty_k = models.FloatField(
        default=5.0, help_text="How far that may be off, either way, in kelvin."
    )
    offset_found_on = models.DateField(null=True, blank=True)
    offset_how = models.CharField(
        max_length=160, blank=True, help_text="How the offset was found."
    )
    controller_unit = models.CharField(max_length=1, choices=TemperatureUnit)
    controller_segments = models.PositiveSmallIntegerField(default=8)
    rate_step = models.FloatField(
        default=1.0,
        help_text="Smallest step of a rate, in degrees of the controller's own unit.",
    )
    slowest_rate_c_per_h = models.FloatField(default=1.0)
    fastest_rate_c_per_h = models.FloatField(default=1000.0)
    hourly_rate = models.DecimalField(max_digits=14, decimal_places=4, default=0)
    member_rate = models.DecimalField(
        max_digits=14,
        decimal_places=4,
        null=True,
        blank=True,
        help_text="What a member who shares it pays an hour. Empty: the kiln's price.",
    )
    guest_rate = models.DecimalField(
        max_digits=14,
        decimal_places=4,
        null=True,
        blank=True,
        help_text="What a guest pays an hour. Empty: the kiln's price.",
    )
    is_retired = models.BooleanField(default=False)

    class Meta(StudioOwned.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["studio", "name"],
                name="kiln_name_once_per_studio",
                violation_error_message=(
                    "This studio has a kiln of that name. Choose another name."
                ),
            ),
            models.CheckConstraint(
                condition=Q(shelf_width_mm__lte=F("inner_width_mm"))
                & Q(shelf_depth_mm__lte=F("inner_depth_mm")),
                name="kiln_shelf_fits_inside",
                violation_error_message=(
                    "The shelf is wider or deeper than the kiln inside. Measure both "
                    "again."
                ),
            ),
            models.CheckConstraint(
                condition=Q(
                    inner_width_mm__gt=0,
                    inner_depth_mm__gt=0,
                    inner_height_mm__gt=0,
                    shelf_width_mm__gt=0,
                    shelf_depth_mm__gt=0,
                    power_w__gt=0,
                    hourly_rate__gte=0,
                    holding_fraction__gt=0,
                    holding_fraction__lte=1,
                    cooling_time_constant_s__gt=0,
                    slowest_rate_c_per_h__gt=0,
                    rate_step__gt=0,
                ),
                name="kiln_sizes_positive",
                violation_error_message=(
                    "Sizes, power, holding share, cooling time and rates must be above"
                    " zero, the holding share at most 1."
                ),
            ),
            models.CheckConstraint(
                condition=(Q(member_rate=None) | Q(member_rate__gte=0))
                & (Q(guest_rate=None) | Q(guest_rate__gte=0)),
                name="kiln_rates_of_users_not_negative",
                violation_error_message="A rate is zero or more.",
            ),
            models.CheckConstraint(
                condition=Q(
                    offset_k__gte=-60,
                    offset_k__lte=60,
                    offset_uncertainty_k__gte=0,
                    offset_uncertainty_k__lte=40,
                ),
                name="kiln_offset_in_reach",
                violation_error_message=(
                    "A thermocouple is at most 60 °C (108 °F) off, and that is known to"
                    " 40 °C (72 °F) or better. Have it looked at."
                ),
            ),
            models.CheckConstraint(
                condition=Q(opening_temperature_c__gte=30)
                & Q(opening_temperature_c__lt=F("max_temperature_c"))
                & Q(slowest_rate_c_per_h__lt=F("fastest_rate_c_per_h")),
                name="kiln_limits_in_order",
                violation_error_message=(
                    "The opening temperature must be from 30 °C (86 °F) up to below "
                    "the highest temperature, and the slowest rate below the fastest."
                ),
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Weekday(models.IntegerChoices):
    """Days of the week as `datetime.weekday` counts them."""

    MONDAY = 0, "Monday"
    TUESDAY = 1, "Tuesday"
    WEDNESDAY = 2, "Wednesday"
    THURSDAY = 3, "Thursday"
    FRIDAY = 4, "Friday"
    SATURDAY = 5, "Saturday"
    SUNDAY = 6, "Sunday"


class AccessHours(StudioOwned):
    """A span on one weekday, in the studio's zone, when kilns may be loaded."""

    weekday = models.PositiveSmallIntegerField(choices=Weekday)
    opens = models.TimeField()
    closes = models.TimeField()

    class Meta(StudioOwned.Meta):
        constraints = [
            models.CheckConstraint(
                condition=Q(opens__lt=F("closes")),
                name="access_opens_before_closing",
                violation_error_message=(
                    "Opening must be before closing. For a night, enter two spans: one"
                    " up to 23:59, one from 00:00 on the next day."
                ),
            ),
            models.UniqueConstraint(
                fields=["studio", "weekday", "opens"],
                name="access_hours_once",
                violation_error_message=(
                    "There are hours that start then on that day. Remove those first."
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_weekday_display()} {self.opens:%H:%M}–{self.closes:%H:%M}"


class Closure(StudioOwned):
    """A span when a kiln, or the whole studio, is closed."""

    kiln = models.ForeignKey(
        Kiln,
        null=True,
        blank=True,
        on_delete=models.CASCADE,
        help_text="Empty: the whole studio.",
    )
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    reason = models.CharField(max_length=160)

    class Meta(StudioOwned.Meta):
        constraints = [
            models.CheckConstraint(
                condition=Q(starts_at__lt=F("ends_at")),
                name="closure_start_before_end",
                violation_error_message="The end must be after the start.",
            )
        ]

    def __str__(self) -> str:
        return self.reason
