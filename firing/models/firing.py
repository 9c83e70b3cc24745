"""Firings: one run of a kiln, what was in it, and what was recorded."""

from django.db import models
from django.db.models import Q

from firing.models.schedule import FiringKind
from studio.models import Outcome
from studio.tenancy import StudioOwned


class Firing(StudioOwned):
    """One run of a kiln. Planned until started, running until finished.

    `kiln` and `cancelled_at` belong to its booking: the database keeps them equal, see
    `firing.guard`. Change the booking.
    """

    kind = models.CharField(max_length=16, choices=FiringKind)
    kiln = models.ForeignKey(
        "studio.Kiln", on_delete=models.PROTECT, related_name="firings"
    )
    booking = models.OneToOneField(
        "firing.Booking", on_delete=models.PROTECT, related_name="firing"
    )
    schedule = models.ForeignKey(
        "firing.Schedule", on_delete=models.PROTECT, related_name="firings"
    )
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        "studio.Person", null=True, on_delete=models.SET_NULL, related_name="+"
    )
    started_at = models.DateTimeField(null=True, blank=True)
    started_by = models.ForeignKey(
        "studio.Person",
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="+",
    )
    start_recorded_at = models.DateTimeField(null=True, blank=True)
    before_start = models.JSONField(
        default=dict,
        blank=True,
        help_text="The booking before the start, and what the note says of the start.",
    )
    finished_at = models.DateTimeField(
        null=True, blank=True, help_text="When it was opened and unloaded."
    )
    finished_by = models.ForeignKey(
        "studio.Person",
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="+",
    )
    unloaded_at_c = models.FloatField(
        null=True,
        blank=True,
        help_text="What the kiln showed when it was unloaded, if somebody typed it.",
    )
    energy_kwh = models.FloatField(
        null=True,
        blank=True,
        help_text="By the kiln's model, following the schedule; worked out when unloaded.",
    )
    cancelled_at = models.DateTimeField(null=True, blank=True)
    note = models.TextField(blank=True)

    class Meta(StudioOwned.Meta):
        ordering = ["-made_at", "-pk"]
        indexes = [
            # The few that are planned or under way, among thousands that are over.
            models.Index(
                fields=["studio"],
                condition=Q(finished_at__isnull=True),
                name="firing_unfinished",
            ),
            # A kiln's last firings, among thousands.
            models.Index(fields=["kiln", "started_at"], name="firing_by_kiln"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(finished_at__isnull=True) | Q(started_at__isnull=False),
                name="firing_started_before_finished",
            ),
            models.CheckConstraint(
                condition=Q(cancelled_at__isnull=True) | Q(started_at__isnull=True),
                name="firing_cancelled_only_before_start",
            ),
            models.UniqueConstraint(
                fields=["kiln"],
                condition=Q(started_at__isnull=False, finished_at__isnull=True),
                name="one_running_firing_per_kiln",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} in {self.kiln}"


class LoadItem(StudioOwned):
    """A thing in a load: a pass, a stack, or another maker's work."""

    firing = models.ForeignKey(Firing, on_delete=models.CASCADE, related_name="items")
    of_pass = models.ForeignKey(
        "studio.Pass",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="load_items",
    )
    piece = models.ForeignKey(
        "studio.Piece",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="load_items",
    )
    description = models.CharField(
        max_length=160, blank=True, help_text="Another maker's work, in words."
    )
    kiln_user = models.ForeignKey(
        "studio.KilnUser",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="load_items",
        help_text="Whose work that is.",
    )
    x_mm = models.FloatField(null=True, blank=True)
    y_mm = models.FloatField(null=True, blank=True)
    is_turned = models.BooleanField(default=False)
    outcome = models.CharField(max_length=8, choices=Outcome, blank=True)
    outcome_note = models.TextField(blank=True)

    class Meta(StudioOwned.Meta):
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=(
                    Q(of_pass__isnull=False, piece__isnull=True, description="")
                    | Q(of_pass__isnull=True, piece__isnull=False, description="")
                    | (Q(of_pass__isnull=True, piece__isnull=True) & ~Q(description=""))
                ),
                name="load_item_is_one_thing",
            ),
            models.CheckConstraint(
                condition=Q(kiln_user=None) | ~Q(description=""),
                name="load_item_of_others_in_words",
            ),
            models.UniqueConstraint(
                fields=["firing", "of_pass"], name="pass_once_per_load"
            ),
            models.UniqueConstraint(
                fields=["firing", "piece"], name="piece_once_per_load"
            ),
        ]

    def __str__(self) -> str:
        return self.description or str(self.of_pass or self.piece)
