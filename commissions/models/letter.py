"""Letters that the studio sent to a client from here."""

from django.db import models

from studio.tenancy import StudioOwned


class ClientLetter(StudioOwned):
    """One letter, sent when its maker pressed send."""

    client = models.ForeignKey(
        "commissions.Client", on_delete=models.PROTECT, related_name="letters"
    )
    commission = models.ForeignKey(
        "commissions.Commission",
        null=True,
        on_delete=models.SET_NULL,
        related_name="letters",
    )
    to = models.EmailField()
    subject = models.CharField(max_length=200)
    text = models.TextField()
    delivery = models.OneToOneField(
        "studio.Delivery", null=True, on_delete=models.SET_NULL, related_name="+"
    )
    at = models.DateTimeField()
    by = models.ForeignKey(
        "studio.Person", null=True, on_delete=models.SET_NULL, related_name="+"
    )

    class Meta(StudioOwned.Meta):
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"{self.subject}, to {self.to}"
