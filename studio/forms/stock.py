"""Forms for sheet glass and materials."""

from typing import Any

from django import forms

from studio.fields import LengthField, TemperatureField
from studio.forms.base import StudioModelForm
from studio.models import Glass, Material
from studio.selectors.glass_checks import glass_problems
from studio.units import fahrenheit_to_celsius

# 1100 and 1500 °F: common practice, no source.
ENAMEL_C, FULL_FUSE_C = fahrenheit_to_celsius(1100), fahrenheit_to_celsius(1500)


class GlassForm(StudioModelForm):
    """A sheet glass: what it is, its temperatures and its cost."""

    sheet_thickness_mm = LengthField(label="Sheet thickness", initial=3.0)
    anneal_soak_c = TemperatureField(
        label="Anneal soak",
        help_text="From the maker's data sheet, never from the expansion number.",
        error_messages={
            "required": "Write the anneal soak of the maker's data sheet: glasses of one "
            "expansion are soaked anywhere from 482 to 525 °C, so it is not guessed."
        },
    )
    annealing_point_c = TemperatureField(
        label="Annealing point",
        help_text="Viscosity 10^13 poise (10^12 Pa s).",
        error_messages={
            "required": "Write the annealing point of the maker's data sheet: no anneal "
            "can be computed without it."
        },
    )
    strain_point_c = TemperatureField(
        label="Strain point",
        help_text="Viscosity 10^14.5 poise (10^13.5 Pa s).",
        error_messages={
            "required": "Write the strain point of the maker's data sheet."
        },
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
            "expansion_1e7_per_k",
            "enamel_c",
            "full_fuse_c",
            "cost_per_m2",
            "is_retired",
        ]
        labels = {
            "density_kg_m3": "Density (kg/m³)",
            "expansion_1e7_per_k": "Expansion (10⁻⁷/K, 20 to 300 °C)",
            "cost_per_m2": "Cost of a square metre",
            "is_retired": "No longer bought",
        }
        help_texts = {
            "family": "Only glass of one family may be fused together.",
            "anneal_soak_c": "From the maker's data sheet.",
            "expansion_1e7_per_k": "From the data sheet, such as 90. Empty: the family's.",
            "is_retired": "It stays with the pieces made of it.",
        }

    def clean(self) -> dict[str, Any]:
        """Refuse a data sheet that cannot be computed with, and say why."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if not self.errors:
            told = Glass(studio=self.studio, **cleaned)
            for problem in glass_problems(told, self.viewer):
                self.add_error(None, problem)
        return cleaned


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
