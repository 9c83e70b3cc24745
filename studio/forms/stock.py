"""Forms for sheet glass and materials."""

from django import forms

from studio.fields import LengthField, TemperatureField
from studio.forms.base import StudioModelForm
from studio.models import Glass, Material
from studio.units import fahrenheit_to_celsius

# 1100 and 1500 °F: common practice, no source.
ENAMEL_C, FULL_FUSE_C = fahrenheit_to_celsius(1100), fahrenheit_to_celsius(1500)


class GlassForm(StudioModelForm):
    """A sheet glass: what it is, its temperatures and its cost."""

    sheet_thickness_mm = LengthField(label="Sheet thickness", initial=3.0)
    anneal_soak_c = TemperatureField(
        label="Anneal soak",
        help_text="From the maker's data sheet, never from the expansion number.",
    )
    annealing_point_c = TemperatureField(
        label="Annealing point", help_text="Viscosity 10^13 poise (10^12 Pa s)."
    )
    strain_point_c = TemperatureField(
        label="Strain point", help_text="Viscosity 10^14.5 poise (10^13.5 Pa s)."
    )
    enamel_c = TemperatureField(label="Enamel firing", initial=ENAMEL_C)
    full_fuse_c = TemperatureField(label="Full fuse", initial=FULL_FUSE_C)

    class Meta:
        model = Glass
        fields = [
            "name",
            "family",
            "sheet_thickness_mm",
            "density_kg_m3",
            "strain_point_c",
            "anneal_soak_c",
            "annealing_point_c",
            "enamel_c",
            "full_fuse_c",
            "cost_per_m2",
            "is_retired",
        ]
        labels = {
            "density_kg_m3": "Density (kg/m³)",
            "cost_per_m2": "Cost of a square metre",
            "is_retired": "No longer bought",
        }
        help_texts = {
            "family": "Only glass of one family may be fused together.",
            "anneal_soak_c": "From the maker's data sheet.",
            "is_retired": "It stays with the pieces made of it.",
        }


class MaterialForm(StudioModelForm):
    """Enamel, decal, fibre paper and the like."""

    class Meta:
        model = Material
        fields = [
            "name",
            "kind",
            "unit",
            "cost_per_unit",
            "used_per",
            "amount_used",
            "on_hand",
            "caution",
            "is_retired",
        ]
        labels = {
            "unit": "Counted in",
            "cost_per_unit": "Cost of one unit",
            "used_per": "In a quote it is counted by",
            "amount_used": "Amount used for each",
            "on_hand": "Amount in stock",
            "is_retired": "No longer bought",
        }
        help_texts = {
            "caution": "For instance: may hold lead. Shown wherever it is used.",
            "amount_used": "In the unit above.",
            "is_retired": "It stays with the passes painted with it.",
        }
        widgets = {"caution": forms.TextInput()}
