"""Kiln users: makers who share the studio's kilns and pay for what they use."""

from django.db import models
from django.db.models import Q

from studio.tenancy import StudioOwned

MOST_FREE_HOURS = 744  # Of the longest month.


class KilnTerms(models.TextChoices):
    """Which of a kiln's rates somebody pays."""

    MEMBER = "member", "Member"
    GUEST = "guest", "Guest"


class KilnUser(StudioOwned):
    """A maker who fires in the studio's kilns: others' work, or rented time.

    Where it is one of the studio's own people, the pieces they make count as theirs.
    """

    name = models.CharField(max_length=80)
    terms = models.CharField(max_length=6, choices=KilnTerms, default=KilnTerms.GUEST)
    free_hours = models.DecimalField(
        max_digits=6,
        decimal_places=2,
        default=0,
        help_text="Kiln hours of each month that cost nothing.",
    )
    person = models.ForeignKey(
        "studio.Person",
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="+",
    )
    is_retired = models.BooleanField(default=False)

    class Meta(StudioOwned.Meta):
        ordering = ["name", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["studio", "name"],
                name="kiln_user_name_once_per_studio",
                violation_error_message=(
                    "There is a kiln user of that name. Choose another name."
                ),
            ),
            models.UniqueConstraint(
                fields=["studio", "person"],
                name="person_one_kiln_user_per_studio",
                violation_error_message="This person is a kiln user already.",
            ),
            models.CheckConstraint(
                condition=Q(free_hours__gte=0, free_hours__lte=MOST_FREE_HOURS),
                name="kiln_user_free_hours_of_a_month",
                violation_error_message="Free hours are from 0 to 744 a month.",
            ),
        ]

    def __str__(self) -> str:
        return self.name
