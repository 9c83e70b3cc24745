"""Forms for computed schedules: the limits, and the designer's values with its
what-ifs.
"""

from collections.abc import Mapping, Sequence
from dataclasses import fields
from typing import Any

from django import forms

from firing.models import FiringKind
from firing.physics.limits import DEFAULT_LIMITS, Limits
from firing.physics.schedule import PhysicsProblem
from firing.schedules.selectors.designer import (
    ALONE,
    CUT_H,
    CUT_STEP_H,
    DesignerInput,
    glasses,
)
from firing.schedules.selectors.designs import asked_for_piece
from firing.schedules.selectors.fits import kilns
from firing.schedules.selectors.fuse_anneal import RULE_TITLES
from firing.schedules.selectors.limits import limits_of
from studio.fields import LengthField, QuantityFormMixin, choose_from, offer
from studio.models import Glass, Kiln, Studio
from studio.selectors.pieces import PieceView
from studio.viewer import Viewer

MPA = 1e6
LONGEST_CUT_H = 48
ALONE_TITLE = "Ignore the published table"
SWITCHES = ("is_alone", "is_thicker", "is_off", "is_cut", "cut_at_h")
# What a piece says of itself.
OF_A_PIECE = ("glass", "layers", "height", "longest_side", "is_dammed")
NUMBER_WANTED = {"invalid": "Write a number of MPa, such as 3 or 0.5."}


class UnitField(forms.FloatField):
    """A number with its unit; a decimal comma works as well as a point."""

    def __init__(self, *, unit: str, **more: Any) -> None:
        super().__init__(
            required=False,
            widget=forms.TextInput(attrs={"inputmode": "decimal", "size": "6"}),
            **more,
        )
        self.unit_hint = unit

    def to_python(self, value: object) -> Any:
        if isinstance(value, str):
            value = value.strip().removesuffix(self.unit_hint).strip().replace(",", ".")
        return super().to_python(value)


class MegapascalField(UnitField):
    """A limit in MPa."""

    def __init__(self, **more: Any) -> None:
        super().__init__(unit="MPa", error_messages=NUMBER_WANTED, **more)


class LimitsMixin(forms.Form):
    """How much tension the maker allows; an empty field means the studio's own limit."""

    temporary_mpa = MegapascalField(
        label="Tension while hot",
        help_text="While heating and cooling.",
    )
    residual_mpa = MegapascalField(
        label="Tension that stays",
        help_text="In the cold glass. 0.5 is about 14 nm/cm edge-on.",
    )
    warning_mpa = MegapascalField(
        label="May crack above",
        help_text="Warned of, whatever the limits.",
    )

    limits: Limits

    def __init__(
        self, *args: Any, limits: Limits = DEFAULT_LIMITS, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.usual = {
            "temporary_mpa": limits.temporary_pa,
            "residual_mpa": limits.residual_pa,
            "warning_mpa": limits.warning_pa,
        }
        for name, pa in self.usual.items():
            self.fields[name].initial = f"{pa / MPA:g}"
            self.fields[name].help_text += f" Usually {pa / MPA:g} in this studio."

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if set(self.usual) & set(self.errors):
            return cleaned
        chosen = {
            name: pa if cleaned.get(name) is None else cleaned[name] * MPA
            for name, pa in self.usual.items()
        }
        try:
            self.limits = Limits(
                temporary_pa=chosen["temporary_mpa"],
                residual_pa=chosen["residual_mpa"],
                warning_pa=chosen["warning_mpa"],
            )
        except PhysicsProblem as problem:
            self.add_error(None, str(problem))
        return cleaned


class LimitsForm(LimitsMixin):
    """The limits alone: kilns and rules are compared by them."""


class StudioLimitsForm(LimitsMixin):
    """The limits a studio designs and judges by; all three are required."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        helps = {
            "temporary_mpa": "The most that the glass may be pulled while it heats and "
            "cools. 3 is careful: bubbles and edges double it or worse.",
            "residual_mpa": "The most that may stay in the cold piece. 0.5 is about "
            "14 nm/cm edge-on, which is well annealed.",
            "warning_mpa": "From here on a firing is told to be one in which the glass "
            "may have cracked. Not below the tension while hot.",
        }
        for name, text in helps.items():
            self.fields[name].help_text = text
            self.fields[name].required = True
            self.fields[name].error_messages = {
                **NUMBER_WANTED,
                "required": "Write a number of MPa.",
            }


class DesignForm(QuantityFormMixin, LimitsMixin):
    """What a schedule is for, and what might go wrong.

    With a piece its glass, height, size and dams are not asked for.
    """

    kind = forms.ChoiceField(
        label="Firing",
        choices=FiringKind.choices,
        error_messages={
            "required": "Choose a kind of firing.",
            "invalid_choice": "There is no such kind of firing. Choose another.",
        },
    )
    glass: "forms.ModelChoiceField[Glass]" = forms.ModelChoiceField(
        queryset=None,
        empty_label=None,
        error_messages={
            "required": "Choose a glass.",
            "invalid_choice": "That glass is not one of this studio's. Choose another.",
        },
    )
    layers = forms.IntegerField(
        label="Layers",
        required=False,
        min_value=1,
        max_value=200,
        error_messages={"invalid": "Write a whole number of layers, such as 9."},
        # Not a number input: browsers empty one that was filled in wrongly.
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
    )
    height = LengthField(
        label="Measured height",
        required=False,
        help_text="Used instead of the layers.",
    )
    longest_side = LengthField(
        label="Longest side",
        required=False,
    )
    is_dammed = forms.BooleanField(label="Dammed on a shelf", required=False)
    kiln: "forms.ModelChoiceField[Kiln]" = forms.ModelChoiceField(
        queryset=None,
        empty_label=None,
        error_messages={
            "required": "Choose a kiln.",
            "invalid_choice": "That kiln is not one of this studio's. Choose another.",
        },
    )
    rule = forms.ChoiceField(
        label="Schedule by",
        required=False,
        choices=[
            *((rule.value, title) for rule, title in RULE_TITLES.items()),
            (ALONE, ALONE_TITLE),
        ],
        error_messages={
            "required": "Choose one of the rules.",
            "invalid_choice": "There is no such rule. Choose another.",
        },
    )
    is_alone = forms.BooleanField(
        label=ALONE_TITLE,
        required=False,
        help_text="Adds what your limits alone allow, only to compare.",
    )
    is_thicker = forms.BooleanField(label="Glass 10 % thicker", required=False)
    is_off = forms.BooleanField(label="Thermocouple off", required=False)
    is_cut = forms.BooleanField(label="Power cut", required=False)
    cut_h = UnitField(
        label="Power off for",
        unit="h",
        min_value=CUT_STEP_H,
        max_value=LONGEST_CUT_H,
        error_messages={
            "invalid": "Write hours, such as 3.",
            "min_value": "A quarter of an hour is the shortest.",
            "max_value": "48 hours is the longest.",
        },
    )
    cut_at_h = forms.FloatField(
        label="Power fails after",
        required=False,
        min_value=0,
        max_value=2000,
        error_messages={"invalid": "Write hours after the start, such as 30."},
    )

    field_order = [
        "kind",
        "glass",
        "layers",
        "height",
        "longest_side",
        "is_dammed",
        "kiln",
        "rule",
        "temporary_mpa",
        "residual_mpa",
        "warning_mpa",
        "is_alone",
        "is_thicker",
        "is_off",
        "is_cut",
        "cut_h",
        "cut_at_h",
    ]

    def __init__(
        self,
        *args: Any,
        studio: Studio,
        viewer: Viewer,
        piece: PieceView | None = None,
        kinds: Sequence[str] = FiringKind.values,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, viewer=viewer, limits=limits_of(studio), **kwargs)
        self.piece = piece
        choose_from(self, "kiln", kilns(studio))
        offer(self, "kind", [(kind, FiringKind(kind).label) for kind in kinds])
        if piece is None:
            choose_from(self, "glass", glasses(studio))
        else:
            for name in OF_A_PIECE:
                del self.fields[name]

    def ask_for_rule(self, *, is_required: bool) -> None:
        """Take only a rule that a kiln can be booked by."""
        offer(
            self, "rule", [(rule.value, title) for rule, title in RULE_TITLES.items()]
        )
        self.fields["rule"].required = is_required

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if self.piece is not None or {"layers", "height"} & set(self.errors):
            return cleaned
        if not (cleaned.get("layers") or cleaned.get("height")):
            self.add_error("layers", "Write the layers, or the measured height.")
        return cleaned

    @property
    def thickness_mm(self) -> float:
        """Return the height of the glass, as measured or by its sheets."""
        measured: float | None = self.cleaned_data["height"]
        if measured is not None:
            return measured
        glass = self.cleaned_data["glass"]
        return float(self.cleaned_data["layers"] * glass.sheet_thickness_mm)

    @property
    def kept_values(self) -> list[tuple[str, str]]:
        """Return every field's sent value but the rule, to be sent with a button."""
        sent = (name for name in self.fields if name in self.data and name != "rule")
        return [(name, self.data[name]) for name in sent]

    @property
    def kiln_key(self) -> str:
        return str(self.data.get("kiln", ""))

    @property
    def kind_key(self) -> str:
        return str(self.data.get("kind", ""))

    @property
    def more_is_open(self) -> bool:
        """Return whether a value under "More" is wrong."""
        first = {"glass", "layers", "kiln", "kind", "rule", "__all__"}
        return bool(set(self.errors) - first)

    def request_parts(self, *, rule: str) -> DesignerInput:
        """Return the checked values in the designer's form; `rule` if none is chosen."""
        chosen = self.cleaned_data
        cut_h = chosen["cut_h"]
        tried: dict[str, Any] = {
            "rule": chosen["rule"] or rule,
            "cut_h": CUT_H if cut_h is None else cut_h,
            **{name: chosen[name] for name in SWITCHES},
        }
        tried["is_alone"] = tried["is_alone"] or tried["rule"] == ALONE
        if self.piece is not None:
            asked = asked_for_piece(
                self.piece, kiln=chosen["kiln"], kind=chosen["kind"], limits=self.limits
            )
            same = (one.name for one in fields(asked) if one.name not in tried)
            return DesignerInput(
                **{name: getattr(asked, name) for name in same}, **tried
            )
        return DesignerInput(
            thickness_mm=self.thickness_mm,
            limits=self.limits,
            longest_mm=chosen["longest_side"],
            **{name: chosen[name] for name in ("kind", "glass", "kiln", "is_dammed")},
            **tried,
        )


def first_values(
    *, glass: Glass | None, kiln: Kiln | None, limits: Limits
) -> Mapping[str, object]:
    """Return the designer's first values: a stack of nine between dams."""
    return {
        "kind": FiringKind.FULL_FUSE.value,
        "glass": "" if glass is None else glass.pk,
        "layers": 9,
        "is_dammed": "on",
        "cut_h": f"{CUT_H:g}",
        "kiln": "" if kiln is None else kiln.pk,
        **limits_values(limits),
    }


def limits_values(limits: Limits) -> dict[str, str]:
    """Return limits as they appear in the fields."""
    return {
        "temporary_mpa": f"{limits.temporary_pa / MPA:g}",
        "residual_mpa": f"{limits.residual_pa / MPA:g}",
        "warning_mpa": f"{limits.warning_pa / MPA:g}",
    }
