"""Commissions: what a client asks for, and the pieces made for it."""

from django.db import models
from django.db.models import F, Q

from studio.models import Technique
from studio.tenancy import StudioOwned


class ClosedMoney(models.TextChoices):
    """What becomes of money that came in for a commission that is closed."""

    KEPT = "kept", "It is kept"
    REFUNDED = "refunded", "It is paid back"
    CREDITED = "credited", "It is credited to the client"


class Commission(StudioOwned):
    """A request for one piece, perhaps with a maquette first."""

    client = models.ForeignKey(
        "commissions.Client", on_delete=models.PROTECT, related_name="commissions"
    )
    title = models.CharField(max_length=160)
    brief = models.TextField(blank=True)
    reference = models.ForeignKey(
        "studio.Picture",
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="+",
    )
    width_mm = models.FloatField()
    height_mm = models.FloatField()
    layer_count = models.PositiveSmallIntegerField(help_text="All sheets, caps too.")
    cap_count = models.PositiveSmallIntegerField(default=1)
    technique = models.CharField(
        max_length=8,
        choices=[c for c in Technique.choices if c[0] != Technique.CLEAR],
        default=Technique.PAINTED,
    )
    passes_per_layer = models.PositiveSmallIntegerField(default=1)
    glass = models.ForeignKey("studio.Glass", on_delete=models.PROTECT)
    is_dammed = models.BooleanField(default=True)
    maquette_layer_count = models.PositiveSmallIntegerField(
        default=0, help_text="0: no maquette."
    )
    maquette_width_mm = models.FloatField(null=True, blank=True)
    maquette_height_mm = models.FloatField(null=True, blank=True)
    gallery = models.ForeignKey(
        "commissions.Client",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="sold_by_it",
        help_text="Who sells it or passed it on.",
    )
    gallery_cut_percent = models.DecimalField(max_digits=5, decimal_places=2, default=0)
    gallery_sells = models.BooleanField(
        default=False, help_text="The client pays the gallery, which owes the studio."
    )
    gallery_returns_date = models.DateField(
        null=True, blank=True, help_text="When unsold work comes back from the gallery."
    )
    wanted_by_date = models.DateField(null=True, blank=True)
    created_at = models.DateTimeField()
    created_by = models.ForeignKey(
        "studio.Person", null=True, on_delete=models.SET_NULL, related_name="+"
    )
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_reason = models.CharField(max_length=200, blank=True)
    closed_money = models.CharField(max_length=8, choices=ClosedMoney, blank=True)
    closed_money_amount = models.DecimalField(
        max_digits=14,
        decimal_places=4,
        null=True,
        blank=True,
        help_text="Paid back or credited when it was closed; the rest is kept.",
    )
    closed_money_reason = models.CharField(max_length=200, blank=True)
    reopened_at = models.DateTimeField(
        null=True,
        blank=True,
        help_text="Since then the facts of its closing are only kept to close it again.",
    )
    request_key = models.CharField(
        max_length=36,
        blank=True,
        help_text="Of the form it came by: a form pressed twice makes one commission.",
    )

    class Meta(StudioOwned.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["studio", "request_key"],
                condition=~Q(request_key=""),
                name="commission_once_per_form",
            ),
            models.CheckConstraint(
                condition=Q(width_mm__gt=0, height_mm__gt=0),
                name="commission_size_positive",
            ),
            models.CheckConstraint(
                condition=Q(layer_count__gte=1, layer_count__lte=60)
                & Q(cap_count__lte=F("layer_count"))
                & Q(passes_per_layer__gte=1, passes_per_layer__lte=12),
                name="commission_stack_sensible",
            ),
            models.CheckConstraint(
                condition=Q(gallery_cut_percent__gte=0, gallery_cut_percent__lt=100),
                name="commission_gallery_cut_sensible",
            ),
            models.CheckConstraint(
                condition=Q(maquette_layer_count=0)
                | Q(maquette_width_mm__gt=0, maquette_height_mm__gt=0),
                name="commission_maquette_has_size",
            ),
        ]

    def __str__(self) -> str:
        return self.title


class CommissionedPiece(StudioOwned):
    """A piece made for a commission: the work itself or its maquette."""

    commission = models.ForeignKey(
        Commission, on_delete=models.PROTECT, related_name="commissioned_pieces"
    )
    piece = models.OneToOneField(
        "studio.Piece", on_delete=models.PROTECT, related_name="+"
    )
    is_maquette = models.BooleanField(default=False)
    replaced_at = models.DateTimeField(
        null=True, blank=True, help_text="Another piece is made instead of it."
    )
    loss_told_at = models.DateTimeField(
        null=True, blank=True, help_text="When the client was told that it is lost."
    )

    class Meta(StudioOwned.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["commission", "is_maquette"],
                condition=Q(replaced_at__isnull=True),
                name="one_piece_one_maquette",
            )
        ]

    def __str__(self) -> str:
        return str(self.piece)
