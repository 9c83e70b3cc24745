"""What the client sees: private links and progress posts."""

from django.db import models

from studio.tenancy import StudioOwned


class ShareLink(StudioOwned):
    """A private link to one commission's page.

    The row holds only a random nonce. The address holds the nonce and a keyed digest of
    it, so a copy of the database alone opens nothing.
    """

    commission = models.ForeignKey(
        "commissions.Commission", on_delete=models.CASCADE, related_name="share_links"
    )
    nonce = models.CharField(max_length=44, unique=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        "studio.Person", null=True, on_delete=models.SET_NULL, related_name="+"
    )
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    last_opened_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"Link to {self.commission}"


class Post(StudioOwned):
    """News about the work for the client, with pictures."""

    commission = models.ForeignKey(
        "commissions.Commission", on_delete=models.CASCADE, related_name="posts"
    )
    text = models.TextField()
    pictures = models.ManyToManyField("studio.Picture", blank=True, related_name="+")
    at = models.DateTimeField()
    by = models.ForeignKey(
        "studio.Person", null=True, on_delete=models.SET_NULL, related_name="+"
    )
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta(StudioOwned.Meta):
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return self.text[:60]
