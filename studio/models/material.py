"""Sheet glass and everything else a piece uses up, with unit costs."""

from django.db import models
from django.db.models import F, Q

from studio.tenancy import StudioOwned


class GlassFamily(models.TextChoices):
    """Generic families; only glass of one family may be fused together."""

    FLOAT = "float", "Soda-lime float"
    EXPANSION_90 = "90-expansion", "90-expansion fusing glass"
    EXPANSION_96 = "96-expansion", "96-expansion fusing glass"
    BOROSILICATE = "borosilicate-3.3", "Borosilicate 3.3"


class Glass(StudioOwned):
    """A sheet glass that the studio buys."""

    name = models.CharField(max_length=120)
    family = models.CharField(max_length=20, choices=GlassFamily)
    sheet_thickness_mm = models.FloatField(default=3.0)
    density_kg_m3 = models.FloatField(default=2500.0)
    anneal_soak_c = models.FloatField(
        help_text="From the maker's data sheet, never from the expansion number."
    )
    annealing_point_c = models.FloatField(
        null=True,
        blank=True,
        help_text="The maker's own; empty takes the family's.",
    )
    strain_point_c = models.FloatField()
    expansion_1e7_per_k = models.FloatField(
        null=True,
        blank=True,
        help_text="Mean of 20-300 °C; empty takes the family's.",
    )
    full_fuse_c = models.FloatField(default=815.6)  # 1500 °F
    enamel_c = models.FloatField(default=593.3)  # 1100 °F
    cost_per_m2 = models.DecimalField(max_digits=14, decimal_places=4)
    is_retired = models.BooleanField(default=False)

    class Meta(StudioOwned.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["studio", "name"],
                name="glass_name_once_per_studio",
                violation_error_message=(
                    "This studio has a glass of that name. Choose another name."
                ),
            ),
            models.CheckConstraint(
                condition=Q(strain_point_c__lt=F("annealing_point_c"))
                & Q(annealing_point_c__lt=F("enamel_c"))
                & Q(enamel_c__lt=F("full_fuse_c"))
                & Q(anneal_soak_c__lt=F("enamel_c")),
                name="glass_temperatures_in_order",
                violation_error_message=(
                    "These temperatures must rise: strain point, annealing point, "
                    "enamel firing, full fuse; and the anneal soak lies below the "
                    "enamel firing. Look at the data sheet again."
                ),
            ),
            models.CheckConstraint(
                condition=Q(
                    sheet_thickness_mm__gt=0, density_kg_m3__gt=0, cost_per_m2__gte=0
                ),
                name="glass_amounts_positive",
                violation_error_message=(
                    "Thickness and density must be above zero, and the cost must not "
                    "be negative."
                ),
            ),
        ]

    def __str__(self) -> str:
        return self.name


class MaterialKind(models.TextChoices):
    """What a material is."""

    ENAMEL = "enamel", "Enamel"
    DECAL = "decal", "Decal"
    POWDER = "powder", "Powder (glass)"
    FIBRE_PAPER = "fibre paper", "Fibre paper"
    KILN_WASH = "kiln wash", "Kiln wash"
    OTHER = "other", "Other"


class UsedPer(models.TextChoices):
    """What the used amount is counted by when a piece is priced."""

    PASS_AREA = "pass area", "area of each pass"
    FUSE_AREA = "fuse area", "area of shelf in each fuse"
    ENAMEL_AREA = "enamel area", "area of shelf in each enamel firing"
    FIRING_AREA = "firing area", "area of shelf in each firing"
    PIECE = "piece", "piece"
    NOT_PRICED = "not priced", "not in quotes"


class Material(StudioOwned):
    """Enamel, decal, fibre paper and other things bought by unit."""

    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=20, choices=MaterialKind)
    unit = models.CharField(
        max_length=20, help_text="One of studio.amounts, or words kept from earlier."
    )
    cost_per_unit = models.DecimalField(max_digits=14, decimal_places=4)
    used_per = models.CharField(
        max_length=20, choices=UsedPer, default=UsedPer.NOT_PRICED
    )
    amount_used = models.DecimalField(max_digits=12, decimal_places=4, default=0)
    on_hand = models.DecimalField(
        max_digits=12,
        decimal_places=3,
        default=0,
        help_text="What the movements leave, kept beside them.",
    )
    low_at = models.DecimalField(
        max_digits=12,
        decimal_places=3,
        null=True,
        blank=True,
        help_text="To be bought again below this.",
    )
    caution = models.CharField(
        max_length=200, blank=True, help_text="For instance: may hold lead."
    )
    is_retired = models.BooleanField(default=False)

    class Meta(StudioOwned.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["studio", "name"],
                name="material_name_once_per_studio",
                violation_error_message=(
                    "This studio has a material of that name. Choose another name."
                ),
            ),
            models.CheckConstraint(
                condition=Q(cost_per_unit__gte=0, amount_used__gte=0),
                name="material_amounts_not_negative",
                violation_error_message="Cost and amount must not be negative.",
            ),
        ]

    def __str__(self) -> str:
        return self.name
