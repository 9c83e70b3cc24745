"""The result each time a promised date was worked out again."""

from django.db import models

from studio.tenancy import StudioOwned


class CheckReason(models.TextChoices):
    """Why a promised date was worked out again."""

    SENT = "sent", "the quote was sent"
    CHANGED = "changed", "what is asked for was changed"
    ACCEPTED = "accepted", "the client accepted"
    ASKED = "asked", "somebody asked for it"
    HAPPENED = "happened", "something was recorded in the studio"
    MISSED = "missed", "a load was missed"
    LATE = "late", "a kiln is in use past its planned opening"
    DAY = "day", "a day has gone by"


# Asked for by the watch over promises, not by anybody.
WATCHED = (
    CheckReason.HAPPENED,
    CheckReason.MISSED,
    CheckReason.LATE,
    CheckReason.DAY,
)


class PromiseOutcome(models.TextChoices):
    """What became of a promised date."""

    STANDS = "stands", "stands"
    CANNOT = "cannot", "cannot be kept"
    OVERDUE = "overdue", "overdue"


class PromiseCheck(StudioOwned):
    """One check of a quote's date, stored beside what was promised.

    It is ordered first, and the worker fills it in; until then `made_at` is empty.
    """

    quote = models.ForeignKey(
        "commissions.Quote", on_delete=models.CASCADE, related_name="promise_checks"
    )
    why = models.CharField(max_length=8, choices=CheckReason)
    asked_at = models.DateTimeField()
    job = models.ForeignKey(
        "studio.Job", null=True, on_delete=models.SET_NULL, related_name="+"
    )
    made_at = models.DateTimeField(null=True, blank=True)
    ready_date = models.DateField(null=True, blank=True)
    date_80 = models.DateField(null=True, blank=True)
    date_95 = models.DateField(null=True, blank=True)
    outcome = models.CharField(
        max_length=8,
        choices=PromiseOutcome,
        blank=True,
        help_text="Empty until the worker has worked it out.",
    )
    reason = models.TextField(
        blank=True, help_text="Why the date cannot be kept, in one sentence."
    )
    problem = models.TextField(
        blank=True, help_text="Why no date can be given, in words."
    )
    changes = models.JSONField(
        default=list, help_text="Sentences: what changed since the quote was made."
    )
    advice = models.JSONField(
        default=list, help_text="Sentences: what would bring the day forward."
    )

    class Meta(StudioOwned.Meta):
        ordering = ["-asked_at", "-pk"]

    def __str__(self) -> str:
        return f"{self.quote}, {self.get_why_display()}"
