"""Pieces, and the events from which a piece's stage is derived; events are only added."""

from typing import TYPE_CHECKING

from django.db import models
from django.db.models import F, Q

from studio.models.picture import picture_path
from studio.tenancy import StudioOwned

if TYPE_CHECKING:
    from studio.models.layer import Layer


class Piece(StudioOwned):
    """One work: a stack of layers that becomes one slab.

    It has no stage column; `studio.selectors.pieces.view_pieces` derives it.
    """

    title = models.CharField(max_length=160)
    width_mm = models.FloatField()
    height_mm = models.FloatField(help_text="Of the picture, seen from the front.")
    glass = models.ForeignKey("studio.Glass", on_delete=models.PROTECT)
    is_dammed = models.BooleanField(default=True)
    maker = models.ForeignKey(
        "studio.Person", null=True, blank=True, on_delete=models.SET_NULL
    )
    maquette_of = models.ForeignKey(
        "self",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="maquettes",
    )
    note = models.TextField(blank=True)
    # Its layers looked through, small. Made by the worker.
    face = models.FileField(upload_to=picture_path, blank=True)
    due_date = models.DateField(
        null=True,
        blank=True,
        help_text="The day it is promised for, told by whoever promises.",
    )
    created_at = models.DateTimeField()
    stopped_at = models.DateTimeField(
        null=True,
        blank=True,
        help_text="Nothing more is done to it, told by whoever ordered it.",
    )
    stopped_reason = models.CharField(max_length=120, blank=True)
    remake_of = models.OneToOneField(
        "self",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="+",
        help_text="The lost piece that this one is made instead of.",
    )

    # Filled in by `studio.selectors.pieces.view_pieces`.
    read_layers: "list[Layer]"
    read_events: "list[PieceEvent]"

    class Meta(StudioOwned.Meta):
        constraints = [
            models.CheckConstraint(
                condition=Q(width_mm__gt=0, height_mm__gt=0),
                name="piece_size_positive",
                violation_error_message="Width and height must be above zero.",
            ),
            models.CheckConstraint(
                condition=Q(maquette_of__isnull=True) | ~Q(maquette_of=F("pk")),
                name="piece_not_its_own_maquette",
            ),
        ]

    @property
    def longest_mm(self) -> float:
        """Return its longest side [mm]."""
        return max(self.width_mm, self.height_mm)

    def __str__(self) -> str:
        return self.title


class PieceEventKind(models.TextChoices):
    """What can happen to a piece as a whole."""

    STACK_CHECKED = "stack checked", "Stack checked"
    INTO_KILN = "into kiln", "Into the kiln"
    OUT_OF_KILN = "out of kiln", "Out of the kiln"
    FINISHED = "finished", "Finished"
    LOST = "lost", "Lost"


class Outcome(models.TextChoices):
    """How a firing left a pass or a stack."""

    FINE = "fine", "Fine"
    REDO = "redo", "Fire again"
    CRACKED = "cracked", "Cracked"


# Of a pass: it has to be painted again.
LOST = (Outcome.REDO, Outcome.CRACKED)


class PieceEvent(StudioOwned):
    """One thing that happened to a piece; never changed, only taken back."""

    piece = models.ForeignKey(Piece, on_delete=models.CASCADE, related_name="events")
    kind = models.CharField(max_length=16, choices=PieceEventKind)
    at = models.DateTimeField()
    by = models.ForeignKey(
        "studio.Person", null=True, on_delete=models.SET_NULL, related_name="+"
    )
    note = models.TextField(blank=True)
    measured_height_mm = models.FloatField(null=True, blank=True)
    outcome = models.CharField(max_length=8, choices=Outcome, blank=True)
    firing_kind = models.CharField(max_length=16, blank=True)
    taken_back_at = models.DateTimeField(null=True, blank=True)
    taken_back_by = models.ForeignKey(
        "studio.Person",
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="+",
    )
    taken_back_reason = models.CharField(max_length=200, blank=True)

    class Meta(StudioOwned.Meta):
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(kind=PieceEventKind.STACK_CHECKED)
                | Q(measured_height_mm__isnull=False, measured_height_mm__gt=0),
                name="stack_check_has_height",
            ),
            models.CheckConstraint(
                condition=~Q(kind=PieceEventKind.OUT_OF_KILN) | ~Q(outcome=""),
                name="out_of_kiln_has_outcome",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.piece}"
