"""Plans of kiln time and bench work, and the rows of the standing plan.

A plan on offer is kept whole in `options`. Once it is accepted it becomes rows: planned
firings with their bookings, what goes into them, and who does what when.
"""

from django.db import models
from django.db.models import Q

from firing.models.schedule import FiringKind
from studio.models import Pass
from studio.tenancy import StudioOwned


class PlanState(models.TextChoices):
    """The state of a plan."""

    MAKING = "making", "Being made"
    READY = "ready", "Ready, not taken yet"
    ACCEPTED = "accepted", "Accepted"
    SUPERSEDED = "superseded", "Replaced by a newer plan"
    REFUSED = "refused", "Not taken"
    FAILED = "failed", "Could not be made"


class PlanWish(models.TextChoices):
    """What was asked for."""

    NEW = "new", "Plan everything"
    AGAIN = "again", "Plan again, moving as little as possible"


class Plan(StudioOwned):
    """One plan, numbered in its studio, computed from one snapshot of the facts.

    `options` holds the plans to choose from, the recommended one first: dictionaries
    with ``name``, ``record`` (see `firing.plans.selectors.record`), ``verdict``,
    ``moves``. `options` and `facts` are emptied a month after a newer plan was made.
    """

    number = models.PositiveIntegerField()
    state = models.CharField(max_length=12, choices=PlanState, default=PlanState.MAKING)
    wish = models.CharField(max_length=8, choices=PlanWish, default=PlanWish.NEW)
    why = models.JSONField(
        default=list, help_text="Sentences: what happened that asked for it."
    )
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(
        "studio.Person", null=True, on_delete=models.SET_NULL, related_name="+"
    )
    job = models.ForeignKey(
        "studio.Job", null=True, on_delete=models.SET_NULL, related_name="+"
    )
    based_on = models.ForeignKey(
        "self",
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="+",
        help_text="The plan that stood when this one was computed.",
    )
    facts = models.JSONField(
        default=dict, help_text="The rows it was computed from, by name."
    )
    facts_sha256 = models.CharField(max_length=64, blank=True)
    seed = models.PositiveIntegerField(default=1)
    units = models.PositiveBigIntegerField(default=0)
    tries = models.PositiveIntegerField(default=0)
    options = models.JSONField(default=list)
    least_days_late = models.PositiveIntegerField(default=0)
    least_kwh = models.FloatField(default=0)
    is_proved_best = models.BooleanField(default=False)
    was_stopped = models.BooleanField(default=False)
    stop_asked_at = models.DateTimeField(null=True, blank=True)
    left_out = models.JSONField(default=list)
    assumptions = models.JSONField(default=list)
    made_at = models.DateTimeField(null=True, blank=True)
    closed_at = models.DateTimeField(
        null=True, blank=True, help_text="When it was accepted or refused."
    )
    closed_by = models.ForeignKey(
        "studio.Person",
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="+",
    )
    taken = models.CharField(
        max_length=16, blank=True, help_text="Which option was accepted."
    )
    holds = models.BooleanField(
        default=True,
        help_text="Whether the standing plan could be kept when last seen.",
    )
    troubles = models.JSONField(
        default=list, help_text="Sentences: what happened since, why it does not hold."
    )
    troubles_at = models.DateTimeField(null=True, blank=True)

    class Meta(StudioOwned.Meta):
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(
                fields=["studio", "number"], name="plan_number_once_per_studio"
            ),
            models.UniqueConstraint(
                fields=["studio"],
                condition=Q(state=PlanState.ACCEPTED),
                name="one_accepted_plan_per_studio",
            ),
        ]

    def __str__(self) -> str:
        return f"Plan {self.number}"


class PlannedFiring(StudioOwned):
    """A firing that the standing plan wants; its times are those of its booking.

    When a real firing is made up for it, that firing gets the booking; this row is set
    aside with a cancelled one, in case the firing is cancelled.
    """

    plan = models.ForeignKey(
        Plan, on_delete=models.CASCADE, related_name="planned_firings"
    )
    booking = models.OneToOneField(
        "firing.Booking", on_delete=models.CASCADE, related_name="planned_firing"
    )
    kind = models.CharField(max_length=16, choices=FiringKind)
    unload_at = models.DateTimeField(help_text="When somebody is in to open it.")
    gave_way_to = models.ForeignKey(
        "firing.Booking",
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="in_place_of",
        help_text="The real booking that took its place, if one did.",
    )

    class Meta(StudioOwned.Meta):
        ordering = ["booking__starts_at", "pk"]

    def __str__(self) -> str:
        return str(self.booking)


class PlannedItem(StudioOwned):
    """What goes into a planned firing: a pass of a layer, or a whole stack.

    A layer that is to be cut again has no pass yet; its sheet and number name it.
    """

    firing = models.ForeignKey(
        PlannedFiring, on_delete=models.CASCADE, related_name="items"
    )
    piece = models.ForeignKey(
        "studio.Piece", on_delete=models.CASCADE, related_name="+"
    )
    layer = models.ForeignKey(
        "studio.Layer", null=True, on_delete=models.CASCADE, related_name="+"
    )
    attempt = models.PositiveSmallIntegerField(default=0)
    number = models.PositiveSmallIntegerField(default=0)
    of_pass = models.ForeignKey(
        "studio.Pass", null=True, on_delete=models.CASCADE, related_name="+"
    )
    x_mm = models.FloatField(default=0)
    y_mm = models.FloatField(default=0)
    is_turned = models.BooleanField(default=False)

    class Meta(StudioOwned.Meta):
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(
                    layer__isnull=True, of_pass__isnull=True, attempt=0, number=0
                )
                | Q(layer__isnull=False, attempt__gte=1, number__gte=1),
                name="planned_item_is_one_thing",
            )
        ]

    def __str__(self) -> str:
        if self.layer_id is None:
            return str(self.piece)
        return f"{self.piece}, {self.layer}, pass {self.number}"

    def is_of(self, one: Pass) -> bool:
        """Return whether this is the place of a pass; reads the pass and its sheet.

        By the pass's key where it has one: firing a pass again renumbers those after
        it.
        """
        if self.of_pass_id is not None:
            return bool(self.of_pass_id == one.pk)
        ref = (one.sheet.layer_id, one.sheet.attempt, one.number)
        return ref == (self.layer_id, self.attempt, self.number)


class PlannedTask(models.TextChoices):
    """Kinds of planned work by hand, named as in the planner's records."""

    PAINT = "paint", "Paint"
    ASSEMBLY = "assembly", "Stack"
    COLDWORK = "coldwork", "Coldwork"


class PlannedWork(StudioOwned):
    """Work by hand that the standing plan wants from one person.

    `segments` holds ISO instants in UTC: [[from, until], ...].
    """

    plan = models.ForeignKey(
        Plan, on_delete=models.CASCADE, related_name="planned_work"
    )
    person = models.ForeignKey(
        "studio.Person", on_delete=models.CASCADE, related_name="+"
    )
    piece = models.ForeignKey(
        "studio.Piece", on_delete=models.CASCADE, related_name="+"
    )
    task = models.CharField(max_length=12, choices=PlannedTask)
    layer = models.ForeignKey(
        "studio.Layer", null=True, on_delete=models.CASCADE, related_name="+"
    )
    attempt = models.PositiveSmallIntegerField(default=0)
    number = models.PositiveSmallIntegerField(default=0)
    of_pass = models.ForeignKey(
        "studio.Pass", null=True, on_delete=models.CASCADE, related_name="+"
    )
    segments = models.JSONField(default=list)
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()

    class Meta(StudioOwned.Meta):
        ordering = ["starts_at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(task__in=PlannedTask.values), name="planned_work_is_a_task"
            )
        ]

    def __str__(self) -> str:
        return f"{self.person}: {self.task} of {self.piece}"
