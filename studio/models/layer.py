"""Layers of a piece, the sheets of glass cut for them, and the passes on each sheet."""

from django.db import models
from django.db.models import Q

from studio.models.piece import Outcome
from studio.tenancy import StudioOwned


class Technique(models.TextChoices):
    """What is on a layer."""

    PAINTED = "painted", "Painted"
    DECAL = "decal", "Decal"
    CLEAR = "clear", "Clear (cap)"


class Layer(StudioOwned):
    """A place in the stack, numbered from the back (1) to the front."""

    piece = models.ForeignKey(
        "studio.Piece", on_delete=models.CASCADE, related_name="layers"
    )
    number = models.PositiveSmallIntegerField()
    technique = models.CharField(max_length=8, choices=Technique)
    glass = models.ForeignKey("studio.Glass", on_delete=models.PROTECT)
    planned_passes = models.PositiveSmallIntegerField(default=1)
    title = models.CharField(max_length=120, blank=True)
    taken_out_at = models.DateTimeField(
        null=True, blank=True, help_text="It is no part of the stack since then."
    )

    # Filled in by `studio.selectors.pieces.view_pieces`.
    read_sheets: "list[Sheet]"

    class Meta(StudioOwned.Meta):
        ordering = ["number", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["piece", "number"],
                condition=Q(taken_out_at__isnull=True),
                name="layer_number_once_per_piece",
            ),
            models.CheckConstraint(
                condition=Q(number__gte=1), name="layer_number_from_one"
            ),
            models.CheckConstraint(
                condition=Q(technique=Technique.CLEAR, planned_passes=0)
                | (~Q(technique=Technique.CLEAR) & Q(planned_passes__gte=1)),
                name="clear_layers_have_no_passes",
            ),
        ]

    def __str__(self) -> str:
        return f"Layer {self.number}" + (f": {self.title}" if self.title else "")


class Sheet(StudioOwned):
    """The sheet of glass cut for a layer.

    A layer that is made again gets another sheet; the first one stays with its passes.
    """

    layer = models.ForeignKey(Layer, on_delete=models.CASCADE, related_name="sheets")
    attempt = models.PositiveSmallIntegerField(default=1)
    made_at = models.DateTimeField()
    set_aside_at = models.DateTimeField(null=True, blank=True)
    set_aside_reason = models.CharField(max_length=200, blank=True)
    cut_from = models.ForeignKey(
        "studio.StockMove",
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="sheets_cut",
        help_text="The glass taken for it; none while it is to be cut.",
    )

    # Filled in by `studio.selectors.pieces.view_pieces`.
    read_passes: "list[Pass]"

    class Meta(StudioOwned.Meta):
        ordering = ["attempt", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["layer", "attempt"], name="sheet_attempt_once_per_layer"
            ),
            models.UniqueConstraint(
                fields=["layer"],
                condition=Q(set_aside_at__isnull=True),
                name="one_sheet_in_use_per_layer",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.layer}, sheet {self.attempt}"


class Pass(StudioOwned):
    """One painting of a sheet; one enamel firing burns it on."""

    sheet = models.ForeignKey(Sheet, on_delete=models.CASCADE, related_name="passes")
    number = models.PositiveSmallIntegerField()
    is_repeat = models.BooleanField(
        default=False, help_text="Added because an earlier pass must be fired again."
    )
    painted_at = models.DateTimeField(null=True, blank=True)
    painted_by = models.ForeignKey(
        "studio.Person",
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="+",
    )
    minutes = models.PositiveIntegerField(null=True, blank=True)
    materials = models.ManyToManyField("studio.Material", blank=True, related_name="+")
    note = models.TextField(blank=True)
    fired_at = models.DateTimeField(null=True, blank=True)
    outcome = models.CharField(max_length=8, choices=Outcome, blank=True)
    outcome_by = models.ForeignKey(
        "studio.Person",
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="+",
    )
    outcome_note = models.TextField(blank=True)

    class Meta(StudioOwned.Meta):
        ordering = ["number", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["sheet", "number"], name="pass_number_once_per_sheet"
            ),
            models.CheckConstraint(
                condition=Q(fired_at__isnull=True, outcome="")
                | (
                    Q(painted_at__isnull=False, fired_at__isnull=False) & ~Q(outcome="")
                ),
                name="pass_painted_before_fired",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.sheet.layer}, pass {self.number}"
