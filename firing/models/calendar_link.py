"""Links by which a calendar program reads what happens at the kilns."""

from django.db import models
from django.db.models import Q

from studio.tenancy import StudioOwned


class FeedKind(models.TextChoices):
    """What a calendar feed is about."""

    STUDIO = "studio", "The whole studio"
    KILN = "kiln", "One kiln"
    PERSON = "person", "My own work"


class CalendarLink(StudioOwned):
    """One person's link to a calendar feed, until they take it away.

    The row holds only half of what is in the address, like a logger's.
    """

    kind = models.CharField(max_length=8, choices=FeedKind)
    kiln = models.ForeignKey(
        "studio.Kiln", null=True, on_delete=models.CASCADE, related_name="+"
    )
    person = models.ForeignKey(
        "studio.Person", on_delete=models.CASCADE, related_name="+"
    )
    nonce = models.CharField(max_length=44, unique=True)
    made_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta(StudioOwned.Meta):
        ordering = ["-made_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind="kiln", kiln__isnull=False)
                | (~Q(kind="kiln") & Q(kiln__isnull=True)),
                name="feed_of_a_kiln_names_it",
            )
        ]

    def __str__(self) -> str:
        return str(self.kiln) if self.kiln is not None else self.get_kind_display()
