"""Forms for what moves in stock: deliveries, counts, corrections, and how glass is cut."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms

from studio.amounts import convert
from studio.fields import LengthField, QuantityForm, ShownInField
from studio.forms.base import StudioModelForm
from studio.models import CuttingTerms, Glass, Material, StockSheet
from studio.selectors.shelves import rounded
from studio.selectors.stock import unit_of
from studio.viewer import Viewer

MOST_SHEETS = 9999
SMALLEST_MM = 10
MM2_PER_M2 = 1_000_000


class ReceiveMaterialForm(QuantityForm):
    """A delivery of a material, in the reader's unit."""

    amount = forms.DecimalField(
        label="How much", max_digits=12, decimal_places=3, min_value=Decimal("0.001")
    )
    unit_cost = forms.DecimalField(
        max_digits=12, decimal_places=4, min_value=Decimal(0), required=False
    )
    why = forms.CharField(label="Note", max_length=120, required=False)

    def __init__(
        self, *args: Any, material: Material, viewer: Viewer, **kwargs: Any
    ) -> None:
        super().__init__(*args, viewer=viewer, **kwargs)
        self.material = material
        self.mine = viewer.unit(material.unit)
        self.fields["amount"].label = f"How much ({self.mine})"
        self.fields["unit_cost"].label = f"Cost per {self.mine} ({viewer.currency})"
        self.fields[
            "unit_cost"
        ].help_text = "Moves the average that quotes are made with."
        if viewer.may_see_money:
            self.fields["shown_in"] = ShownInField(viewer.currency)
        else:
            del self.fields["unit_cost"]

    @property
    def told(self) -> dict[str, Any]:
        """Return the delivery in the unit in which the material is counted."""
        data, unit = self.cleaned_data, self.material.unit
        cost = data.get("unit_cost")
        return {
            "amount": convert(data["amount"], self.mine, unit),
            "unit_cost": None
            if cost is None
            else cost / convert(Decimal(1), self.mine, unit),
            "why": data["why"],
        }


class ReceiveSheetsForm(QuantityForm):
    """A delivery of sheets of one size, or offcuts put on the rack."""

    width_mm = LengthField(label="Width")
    height_mm = LengthField(label="Height")
    count = forms.IntegerField(
        label="How many", min_value=1, max_value=MOST_SHEETS, initial=1
    )
    cost_each = forms.DecimalField(
        max_digits=12, decimal_places=2, min_value=Decimal(0), required=False
    )
    batch = forms.CharField(label="Batch", max_length=60, required=False)
    is_offcut = forms.BooleanField(label="Offcuts, not whole sheets", required=False)

    def __init__(self, *args: Any, viewer: Viewer, **kwargs: Any) -> None:
        super().__init__(*args, viewer=viewer, **kwargs)
        self.fields["cost_each"].label = f"Cost per sheet ({viewer.currency})"
        if viewer.may_see_money:
            self.fields["shown_in"] = ShownInField(viewer.currency)
        else:
            del self.fields["cost_each"]

    def clean(self) -> dict[str, Any]:
        """Refuse a strip that nobody keeps on a rack."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        for name in ("width_mm", "height_mm"):
            side = cleaned.get(name)
            if side is not None and side < SMALLEST_MM:
                least = self.viewer.length(SMALLEST_MM)
                self.add_error(name, f"A side is at least {least}.")
        return cleaned

    @property
    def told(self) -> dict[str, Any]:
        """Return the delivery with its cost for a square metre."""
        data = dict(self.cleaned_data)
        data.pop("shown_in", None)
        cost = data.pop("cost_each", None)
        area = Decimal(str(data["width_mm"] * data["height_mm"] / MM2_PER_M2))
        data["cost_per_m2"] = None if cost is None else cost / area
        return data


class CorrectForm(QuantityForm):
    """By how much the list is wrong, and why."""

    amount = forms.DecimalField(max_digits=12, decimal_places=3)
    why = forms.CharField(
        label="Why", max_length=200, help_text="Broken, given away, miscounted."
    )

    def __init__(
        self, *args: Any, item: Material | StockSheet, viewer: Viewer, **kwargs: Any
    ) -> None:
        super().__init__(*args, viewer=viewer, **kwargs)
        self.item, self.mine = item, viewer.unit(unit_of(item))
        many = f"{self.mine}s" if isinstance(item, StockSheet) else self.mine
        self.fields["amount"].label = f"By how much ({many})"
        self.fields[
            "amount"
        ].help_text = "With a minus for what is missing, such as -1."

    @property
    def told(self) -> dict[str, Any]:
        """Return the correction in the unit in which the thing is counted."""
        data = self.cleaned_data
        amount = convert(data["amount"], self.mine, unit_of(self.item))
        return {"amount": amount, "why": data["why"]}


class CountForm(QuantityForm):
    """What is on the shelves; a field left empty was not counted."""

    def __init__(
        self,
        *args: Any,
        items: Sequence[Material | StockSheet],
        viewer: Viewer,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, viewer=viewer, **kwargs)
        self.items = {self._name(one): one for one in items}
        for name, one in self.items.items():
            unit = unit_of(one)
            listed = rounded(one.on_hand, unit, viewer)
            field = forms.DecimalField(
                label=item_words(one, viewer),
                max_digits=12,
                decimal_places=3,
                min_value=Decimal(0),
                required=False,
                help_text=f"The list says {listed}.",
            )
            self.fields[name] = field

    @staticmethod
    def _name(item: Material | StockSheet) -> str:
        return f"{'m' if isinstance(item, Material) else 's'}{item.pk}"

    @property
    def counted(self) -> dict[Material | StockSheet, Decimal]:
        """Return what was counted, in the unit in which each thing is counted."""
        found = {}
        for name, item in self.items.items():
            amount = self.cleaned_data.get(name)
            if amount is not None:
                unit = unit_of(item)
                found[item] = convert(amount, self.viewer.unit(unit), unit)
        return found


class CuttingTermsForm(StudioModelForm):
    """Kerf, grinding and the smallest offcut worth keeping."""

    kerf_mm = LengthField(
        label="Kerf",
        required=False,
        help_text="The width of a saw's blade. Empty: you score and break.",
    )
    grinding_mm = LengthField(
        label="To grind away",
        required=False,
        help_text="Left on every edge of a layer. Empty: nothing.",
    )
    smallest_offcut_mm = LengthField(
        label="Smallest offcut you keep", help_text="Its shorter side; less is waste."
    )

    class Meta:
        model = CuttingTerms
        fields = ["kerf_mm", "grinding_mm", "smallest_offcut_mm"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("kerf_mm", "grinding_mm"):
            if self.initial.get(name) == 0:
                self.initial[name] = None

    def clean(self) -> dict[str, Any]:
        """Take an empty field for nothing: a length itself is never zero."""
        cleaned = super().clean()
        for name in ("kerf_mm", "grinding_mm"):
            if name in cleaned and cleaned[name] is None:
                cleaned[name] = 0.0
        return cleaned


def item_words(item: Material | StockSheet | Glass, viewer: Viewer) -> str:
    """Name a thing in stock so that it is told from the others."""
    if not isinstance(item, StockSheet):
        return str(item)
    size = viewer.size(item.width_mm, item.height_mm)
    batch = f", batch {item.batch}" if item.batch else ""
    return f"{item.glass}, {'offcut ' if item.is_offcut else ''}{size}{batch}"
