"""Forms for sheet glass and materials."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django import forms
from django.urls import reverse

from studio.amounts import (
    PRICE_PLACES,
    SQUARE_METRE,
    convert,
    convert_price,
    printed,
    units_of,
)
from studio.fields import LengthField, SpecificGravityField, TemperatureField
from studio.forms.base import StudioModelForm, plain_decimal
from studio.models import Glass, GlassFamily, Material, UsedPer
from studio.selectors.glass_checks import glass_problems
from studio.selectors.glass_families import PROCESSES, too_cold, usual_temperatures
from studio.viewer import Viewer


def begun_glass(typed: Mapping[str, str], viewer: Viewer) -> dict[str, str]:
    """Return a new sheet's values so far, with what its family is fired at.

    What was proposed for another family gives way; what somebody typed stays.
    """
    values = {name: typed[name] for name in GlassForm.Meta.fields if name in typed}
    family = values.get("family")
    if family not in GlassFamily.values:
        return values
    for name in PROCESSES:
        proposed = {
            one: viewer.temperature(getattr(usual_temperatures(one), name))
            for one in GlassFamily.values
        }
        if values.get(name, "") in {"", *proposed.values()}:
            values[name] = proposed[family]
    return values


class GlassForm(StudioModelForm):
    """A sheet glass: what it is, its temperatures and its cost."""

    sheet_thickness_mm = LengthField(label="Sheet thickness", initial=3.0)
    density_kg_m3 = SpecificGravityField(label="Specific gravity", initial=2500.0)
    anneal_soak_c = TemperatureField(
        label="Anneal soak",
        help_text="From the maker's data sheet, never from the expansion number.",
    )
    annealing_point_c = TemperatureField(
        label="Annealing point",
        required=False,
        help_text="The maker's own, at 10^13 poise (10^12 Pa s). Empty: the family's.",
    )
    strain_point_c = TemperatureField(
        label="Strain point",
        help_text="Viscosity 10^14.5 poise (10^13.5 Pa s).",
        error_messages={
            "required": "Write the strain point of the maker's data sheet."
        },
    )
    enamel_c = TemperatureField(
        label="Enamel firing", required=False, help_text="Empty: the family's."
    )
    full_fuse_c = TemperatureField(
        label="Full fuse", required=False, help_text="Empty: the family's."
    )

    class Meta:
        model = Glass
        fields = [
            "family",
            "name",
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
            "is_retired": "No longer bought",
        }
        help_texts = {
            "family": "Only glass of one family may be fused together.",
            "anneal_soak_c": "From the maker's data sheet.",
            "expansion_1e7_per_k": "From the data sheet, such as 90. Empty: the family's.",
            "is_retired": "It stays with the pieces made of it.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        show = self.viewer.temperature
        self.fields[
            "expansion_1e7_per_k"
        ].label = f"Expansion (10⁻⁷/K, {show(20)} to {show(300)})"
        self.fields["anneal_soak_c"].error_messages["required"] = (
            "Write the anneal soak of the maker's data sheet: glasses of one expansion "
            f"are soaked anywhere from {show(482)} to {show(525)}, so it is not guessed."
        )
        self.fields["cost_per_m2"].label = f"Cost per {self.viewer.area_name}"
        if isinstance(self.instance, Glass) and self.instance.pk is not None:
            self.initial["cost_per_m2"] = plain_decimal(
                self.viewer.price_per(self.instance.cost_per_m2, SQUARE_METRE)
            )
        if self.instance.pk is None:
            # A new sheet's proposals change with its family.
            self.initial |= dict.fromkeys(PROCESSES) | kwargs.get("initial", {})
            self.fields["family"].widget.attrs |= {
                "hx-get": reverse("studio:glass_new"),
                "hx-trigger": "change",
                "hx-include": "closest form",
                "hx-params": "not csrfmiddlewaretoken",
                "hx-target": "closest form",
                "hx-select": "main form",
                "hx-swap": "outerHTML show:none",
            }
        family = self["family"].value()
        if family in GlassFamily.values:
            self._say_what_is_usual(family)

    def _say_what_is_usual(self, family: str) -> None:
        usual, show = usual_temperatures(family), self.viewer.temperature
        quoted = usual.annealing_words(self.viewer)
        helps = {
            "anneal_soak_c": "From the maker's data sheet. Usual for thick work in this "
            f"family: {show(usual.anneal_soak_c)}.",
            "annealing_point_c": "The maker's own, at 10^13 poise (10^12 Pa s). Empty: "
            f"the family's {quoted}"
            + (
                ", and schedules allow for all of them."
                if len(usual.annealing_points_c) > 1
                else "."
            ),
            "enamel_c": f"Empty: the family's {show(usual.enamel_c)}.",
            "full_fuse_c": f"Empty: the family's {show(usual.full_fuse_c)}.",
        }
        for name, text in helps.items():
            self.fields[name].help_text = text

    def clean(self) -> dict[str, Any]:
        """Refuse a data sheet that cannot be computed with, and say why."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if "cost_per_m2" in self.changed_data and "cost_per_m2" in cleaned:
            cleaned["cost_per_m2"] = convert_price(
                cleaned["cost_per_m2"], self.viewer.unit(SQUARE_METRE), SQUARE_METRE
            )
        elif isinstance(self.instance, Glass) and self.instance.pk is not None:
            # What is shown is rounded.
            cleaned["cost_per_m2"] = self.instance.cost_per_m2
        if "family" in cleaned:
            usual = usual_temperatures(cleaned["family"])
            for name in PROCESSES:
                if name in cleaned and cleaned[name] is None:
                    cleaned[name] = getattr(usual, name)
        if not self.errors:
            told = Glass(studio=self.studio, **cleaned)
            for problem in glass_problems(told, self.viewer):
                self.add_error(None, problem)
        return cleaned

    @property
    def warnings(self) -> list[str]:
        """Say what is fired far colder than the family needs: it may be meant so."""
        glass = self.instance
        return too_cold(glass, self.viewer) if isinstance(glass, Glass) else []


class MaterialForm(StudioModelForm):
    """Enamel, decal, fibre paper and the like, in the units of whoever types.

    Left as they were shown, the amounts stay as they are stored; once one changes, all
    of them are stored as they were shown.
    """

    AMOUNTS = (
        "unit",
        "cost_per_unit",
        "used_per",
        "amount_used",
        "on_hand",
        "low_at",
    )

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
            "low_at",
            "caution",
            "is_retired",
        ]
        labels = {
            "unit": "Counted in",
            "cost_per_unit": "Unit cost",
            "used_per": "Counted in quotes by",
            "on_hand": "Amount in stock",
            "low_at": "Buy again below",
            "is_retired": "No longer bought",
        }
        help_texts = {
            "unit": "",
            "low_at": "Then it is on the shopping list.",
            "caution": "For instance: may hold lead. Shown wherever it is used.",
            "is_retired": "It stays with the passes painted with it.",
        }
        widgets = {"caution": forms.TextInput()}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        viewer, kept = self.viewer, self.instance
        offered = units_of(viewer.length_unit)
        if isinstance(kept, Material) and kept.pk is not None:
            self.kept = {name: getattr(kept, name) for name in self.AMOUNTS}
            unit = viewer.unit(kept.unit)
            shown = {
                "cost_per_unit": viewer.price_per(kept.cost_per_unit, kept.unit),
                "on_hand": printed(convert(kept.on_hand, kept.unit, unit)),
                "amount_used": self._per_area(
                    convert(kept.amount_used, kept.unit, unit), kept.used_per
                ),
            }
            if kept.low_at is not None:
                shown["low_at"] = printed(convert(kept.low_at, kept.unit, unit))
            self.initial["unit"] = unit
            for name, one in shown.items():
                self.initial[name] = plain_decimal(one)
            if unit not in offered:
                offered = (*offered, unit)
        self.fields["unit"] = forms.ChoiceField(
            label="Counted in",
            choices=[("", "Choose one"), *((name, name) for name in offered)],
        )
        self.fields["amount_used"].label = "Amount used for each"
        self.fields[
            "amount_used"
        ].help_text = f"For a {viewer.area_name}, or for a piece."

    def _per_area(
        self, amount: Decimal, used_per: str, *, is_typed: bool = False
    ) -> Decimal:
        """Turn an amount for an area of ours into one for the reader's, or back."""
        mine = self.viewer.unit(SQUARE_METRE)
        if used_per in {UsedPer.PIECE, UsedPer.NOT_PRICED}:
            return amount.quantize(PRICE_PLACES)
        one, other = (mine, SQUARE_METRE) if is_typed else (SQUARE_METRE, mine)
        return convert_price(amount, one, other).quantize(PRICE_PLACES)

    def clean(self) -> dict[str, Any]:
        """Store what was typed in the units it was typed in."""
        cleaned = super().clean()
        for name in ("on_hand", "low_at"):  # Unchanged, stock may be below nothing.
            if name in self.changed_data and (cleaned.get(name) or 0) < 0:
                self.add_error(name, "Write 0 or more.")
        if self.instance.pk is not None and not {*self.changed_data} & {*self.AMOUNTS}:
            return cleaned | self.kept
        if {"amount_used", "used_per"} <= cleaned.keys():
            cleaned["amount_used"] = self._per_area(
                cleaned["amount_used"], cleaned["used_per"], is_typed=True
            )
        return cleaned
