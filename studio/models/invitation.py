"""Invitations into a studio, each until its person answers."""

from django.db import models
from django.db.models.functions import Lower

from studio.models.studio import Role
from studio.tenancy import StudioOwned


class Invitation(StudioOwned):
    """A part in a studio, offered to an e-mail address.

    The row holds only a hash of the link's token, so a copy of the database opens
    nothing. Of the person behind the address it knows nothing until they accept.
    """

    email = models.EmailField("e-mail address")
    role = models.CharField(max_length=12, choices=Role)
    token_sha256 = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        "studio.Person", null=True, on_delete=models.SET_NULL, related_name="+"
    )
    expires_at = models.DateTimeField()
    mailed_at = models.DateTimeField(
        null=True,
        blank=True,
        help_text="When its link was mailed; empty where it was handed over.",
    )
    accepted_at = models.DateTimeField(null=True, blank=True)
    declined_at = models.DateTimeField(null=True, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta(StudioOwned.Meta):
        constraints = [
            models.CheckConstraint(
                condition=models.Q(email=Lower("email")), name="invitation_email_lower"
            ),
            models.UniqueConstraint(
                fields=["studio", "email"],
                condition=models.Q(
                    accepted_at=None, declined_at=None, withdrawn_at=None
                ),
                name="invitation_open_once_per_address",
            ),
        ]

    def __str__(self) -> str:
        return f"Invitation of {self.email}"
