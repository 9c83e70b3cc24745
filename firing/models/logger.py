"""Loggers that send a kiln's readings by themselves."""

from django.db import models
from django.db.models import Q

from studio.tenancy import StudioOwned


class KilnLogger(StudioOwned):
    """A program or device that may send the readings of one kiln.

    The row holds only a random nonce. The token is the nonce with a keyed digest of it,
    so a copy of the database cannot send anything.
    """

    kiln = models.ForeignKey(
        "studio.Kiln", on_delete=models.CASCADE, related_name="loggers"
    )
    name = models.CharField(max_length=80)
    nonce = models.CharField(max_length=44, unique=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        "studio.Person", null=True, on_delete=models.SET_NULL, related_name="+"
    )
    clock_off_s = models.FloatField(
        default=0, help_text="By how much its clock is behind, as it last told [s]."
    )
    heard_at = models.DateTimeField(null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta(StudioOwned.Meta):
        ordering = ["-made_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(nonce="") & ~Q(name=""), name="kiln_logger_is_named"
            )
        ]

    def __str__(self) -> str:
        return self.name
