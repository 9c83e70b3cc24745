"""Where somebody is signed in."""

from django.contrib.sessions.models import Session
from django.db import models

from studio.models.person import Person


class SignedIn(models.Model):
    """One device on which a person is signed in, as long as its session lives.

    It belongs to the person, not to a studio, and never leaves in a studio's archive.
    """

    session = models.OneToOneField(
        Session, on_delete=models.CASCADE, related_name="signed_in"
    )
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    signed_in_at = models.DateTimeField()
    used_at = models.DateTimeField(help_text="To some minutes.")
    address = models.CharField(max_length=45, blank=True)
    browser = models.CharField(max_length=80, blank=True)

    def __str__(self) -> str:
        return f"{self.person} on {self.browser}"
