"""The rack and the ledger: sheets by size, every movement of stock, what is reserved."""

from decimal import Decimal

from django.db import models
from django.db.models import F, Q

from studio.ledger import Move
from studio.models.material import Glass, Material
from studio.tenancy import StudioOwned

MM2_PER_M2 = 1_000_000


class StockSheet(StudioOwned):
    """Sheets of one glass, size and batch on the rack, or offcuts of one size.

    `on_hand` is what the movements leave, kept beside them by
    `studio.services.stock`; nothing else writes it.
    """

    glass = models.ForeignKey(
        "studio.Glass", on_delete=models.PROTECT, related_name="stock_sheets"
    )
    width_mm = models.FloatField()
    height_mm = models.FloatField()
    batch = models.CharField(max_length=60, blank=True)
    is_offcut = models.BooleanField(default=False)
    on_hand = models.DecimalField(max_digits=12, decimal_places=3, default=0)

    class Meta(StudioOwned.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["glass", "width_mm", "height_mm", "batch", "is_offcut"],
                name="stock_sheet_once_per_size_and_batch",
            ),
            models.CheckConstraint(
                condition=Q(width_mm__gt=0, height_mm__gt=0),
                name="stock_sheet_size_positive",
                violation_error_message="Width and height must be above zero.",
            ),
        ]

    @property
    def area_m2(self) -> Decimal:
        """Return the area of one sheet."""
        return Decimal(str(round(self.width_mm * self.height_mm / MM2_PER_M2, 6)))

    def __str__(self) -> str:
        return f"{self.glass}, {'offcut' if self.is_offcut else 'sheet'}"


class MoveKind(models.TextChoices):
    """What a movement is; `studio.ledger` says what it does."""

    RECEIPT = Move.RECEIPT.value, "Received"
    TAKEN = Move.TAKEN.value, "Taken"
    OFFCUT = Move.OFFCUT.value, "Offcut kept"
    COUNT = Move.COUNT.value, "Counted"
    CORRECTION = Move.CORRECTION.value, "Corrected"
    PRICE = Move.PRICE.value, "Price changed"


class StockMove(StudioOwned):
    """One movement of a material, of sheets on the rack, or of a glass by its area.

    Movements are only added, and taken back. `unit` is the unit of `amount` then.
    """

    material = models.ForeignKey(
        "studio.Material",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="moves",
    )
    stock_sheet = models.ForeignKey(
        StockSheet,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="moves",
    )
    glass = models.ForeignKey(
        "studio.Glass",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="moves",
        help_text="Glass used by area [m²] where no sheets are counted.",
    )
    kind = models.CharField(max_length=12, choices=MoveKind)
    amount = models.DecimalField(max_digits=14, decimal_places=4)
    unit = models.CharField(max_length=20)
    unit_cost = models.DecimalField(
        max_digits=14,
        decimal_places=4,
        null=True,
        blank=True,
        help_text="In the studio's currency, of one unit; of a square metre for sheets.",
    )
    why = models.CharField(max_length=200, blank=True)
    cause = models.CharField(
        max_length=60,
        blank=True,
        help_text='Kind and id of what it follows from, such as "pass 3".',
    )
    piece = models.ForeignKey(
        "studio.Piece",
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="stock_moves",
    )
    at = models.DateTimeField()
    by = models.ForeignKey(
        "studio.Person",
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="+",
    )
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
        ordering = ["pk"]
        indexes = [
            models.Index(fields=["studio", "cause"], name="stock_move_by_cause"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=(
                    Q(
                        material__isnull=False,
                        stock_sheet__isnull=True,
                        glass__isnull=True,
                    )
                    | Q(
                        material__isnull=True,
                        stock_sheet__isnull=False,
                        glass__isnull=True,
                    )
                    | Q(
                        material__isnull=True,
                        stock_sheet__isnull=True,
                        glass__isnull=False,
                    )
                ),
                name="stock_move_is_of_one_thing",
            ),
        ]

    @property
    def item(self) -> "Material | StockSheet | Glass":
        """Return what moved."""
        found = self.material or self.stock_sheet or self.glass
        if found is None:
            raise LookupError("A movement is of one thing; the database holds that.")
        return found

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.item}"


class Reservation(StudioOwned):
    """What an accepted piece needs of a glass [m²] or a material [its unit]."""

    piece = models.ForeignKey(
        "studio.Piece", on_delete=models.CASCADE, related_name="reservations"
    )
    glass = models.ForeignKey(
        "studio.Glass", null=True, blank=True, on_delete=models.PROTECT
    )
    material = models.ForeignKey(
        "studio.Material", null=True, blank=True, on_delete=models.PROTECT
    )
    amount = models.DecimalField(max_digits=14, decimal_places=4)
    unit = models.CharField(max_length=20)
    made_at = models.DateTimeField()

    class Meta(StudioOwned.Meta):
        constraints = [
            models.CheckConstraint(
                condition=Q(glass__isnull=False, material__isnull=True)
                | Q(glass__isnull=True, material__isnull=False),
                name="reservation_is_of_one_thing",
            ),
            models.UniqueConstraint(
                fields=["piece", "glass"], name="reservation_once_per_glass"
            ),
            models.UniqueConstraint(
                fields=["piece", "material"], name="reservation_once_per_material"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.glass or self.material} for {self.piece}"


class CuttingTerms(StudioOwned):
    """How this studio cuts: kerf, glass to grind away, smallest offcut it keeps."""

    kerf_mm = models.FloatField(default=0.0)
    grinding_mm = models.FloatField(default=1.0)
    smallest_offcut_mm = models.FloatField(default=100.0)

    class Meta(StudioOwned.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["studio"], name="cutting_terms_once_per_studio"
            ),
            models.CheckConstraint(
                condition=Q(
                    kerf_mm__gte=0, grinding_mm__gte=0, smallest_offcut_mm__gt=0
                )
                & Q(smallest_offcut_mm__gt=F("kerf_mm")),
                name="cutting_terms_possible",
                violation_error_message=(
                    "Kerf and grinding must not be negative, and the smallest offcut "
                    "must be larger than the kerf."
                ),
            ),
        ]

    def __str__(self) -> str:
        return "of this studio"
