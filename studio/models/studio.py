"""A studio, who belongs to it, and how each member likes to read numbers."""

from zoneinfo import available_timezones

from django.core.exceptions import ValidationError
from django.db import models

from studio import roles
from studio.money import known_currency
from studio.tenancy import StudioOwned


class TemperatureUnit(models.TextChoices):
    """How temperatures are shown."""

    C = "C", "°C"
    F = "F", "°F"


class LengthUnit(models.TextChoices):
    """How lengths are shown."""

    MM = "mm", "mm"
    IN = "in", "inches"


class PaperSize(models.TextChoices):
    """What papers are laid out on, by the names CSS has for them."""

    A4 = "A4", "A4"
    LETTER = "letter", "US Letter"

    @classmethod
    def usual(cls, length_unit: str) -> "PaperSize":
        """Return what a studio that measures so mostly prints on."""
        return cls.LETTER if length_unit == LengthUnit.IN else cls.A4


class Role(models.TextChoices):
    """The four roles, as the database and forms have them."""

    OWNER = roles.Role.OWNER.value, "Owner"
    MAKER = roles.Role.MAKER.value, "Maker"
    HELPER = roles.Role.HELPER.value, "Helper"
    TECHNICIAN = roles.Role.TECHNICIAN.value, "Technician"


def validate_time_zone(name: str) -> None:
    """Refuse a time zone that is not in the zone database."""
    if name not in available_timezones():
        raise ValidationError(
            f"{name!r} is no time zone. Write one such as Europe/Lisbon."
        )


def validate_currency(code: str) -> None:
    """Refuse a currency that is not in ISO 4217."""
    if not known_currency(code):
        raise ValidationError(
            f"{code!r} is no ISO 4217 currency. Write one such as USD or EUR."
        )


class Studio(models.Model):
    """A workshop: its money, its zone and the units it prints in."""

    name = models.CharField(max_length=120)
    address = models.TextField(blank=True)
    email = models.EmailField(blank=True, help_text="Its clients may write to it.")
    currency = models.CharField(
        max_length=3, default="USD", validators=[validate_currency]
    )
    time_zone = models.CharField(
        max_length=64, default="UTC", validators=[validate_time_zone]
    )
    temperature_unit = models.CharField(
        max_length=1, choices=TemperatureUnit, default=TemperatureUnit.C
    )
    length_unit = models.CharField(
        max_length=2, choices=LengthUnit, default=LengthUnit.MM
    )
    paper_size = models.CharField(max_length=6, choices=PaperSize, default=PaperSize.A4)
    is_demo = models.BooleanField(default=False)
    created_at = models.DateTimeField()
    delete_at = models.DateTimeField(
        null=True, blank=True, help_text="When it is deleted with all it owns."
    )

    def __str__(self) -> str:
        return self.name


class Membership(StudioOwned):
    """A person's place in a studio: role and units."""

    person = models.ForeignKey(
        "studio.Person", on_delete=models.CASCADE, related_name="memberships"
    )
    role = models.CharField(max_length=12, choices=Role)
    temperature_unit = models.CharField(
        max_length=1, choices=TemperatureUnit, default=TemperatureUnit.C
    )
    length_unit = models.CharField(
        max_length=2, choices=LengthUnit, default=LengthUnit.MM
    )
    is_active = models.BooleanField(default=True)

    class Meta(StudioOwned.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["studio", "person"],
                name="membership_once_per_studio",
                violation_error_message="This person belongs to the studio already.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.person} ({self.get_role_display()})"
