"""Who did what and when: one append-only list per studio."""

from django.db import models

from studio.tenancy import StudioOwned


class HistoryEntry(StudioOwned):
    """One line of the studio's history, in words."""

    at = models.DateTimeField()
    by = models.ForeignKey(
        "studio.Person", null=True, on_delete=models.SET_NULL, related_name="+"
    )
    what = models.CharField(max_length=400)
    piece = models.ForeignKey(
        "studio.Piece", null=True, on_delete=models.SET_NULL, related_name="history"
    )
    subject = models.CharField(
        max_length=60, blank=True, help_text='Kind and id, such as "kiln 3".'
    )
    is_about_money = models.BooleanField(default=False)

    class Meta(StudioOwned.Meta):
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["studio", "-at"], name="history_by_time")]

    def __str__(self) -> str:
        return self.what
