"""Clients: those who commission work."""

from django.db import models

from studio.tenancy import StudioOwned


class Client(StudioOwned):
    """Somebody who commissions work, or a gallery on their behalf."""

    name = models.CharField(max_length=160)
    email = models.EmailField("e-mail address", blank=True)
    phone = models.CharField(max_length=40, blank=True)
    address = models.TextField(blank=True)
    note = models.TextField(blank=True)
    created_at = models.DateTimeField()

    def __str__(self) -> str:
        return self.name
