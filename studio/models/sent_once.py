"""What a browser sent with a key, so that it counts once however often it comes."""

from datetime import timedelta

from django.db import models

from studio.models.person import Person

SENT_AGAIN_WITHIN = timedelta(days=30)
"""How long a phone may keep a record, and a key is remembered."""


class SentOnce(models.Model):
    """A record that was taken in, by the key its browser made up for it.

    It belongs to the person, not to a studio, is forgotten after a month, and never
    leaves in a studio's archive.
    """

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    key = models.CharField(max_length=32)
    answer = models.CharField(max_length=500, blank=True, help_text="Where it led.")
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["person", "key"], name="record_sent_once")
        ]

    def __str__(self) -> str:
        return f"{self.key} of {self.person}"
