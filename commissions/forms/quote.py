"""The forms for rates and for a quote: minutes, prices, percents, dates and words."""

from collections.abc import Iterable, Mapping
from dataclasses import fields, replace
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from django import forms

from commissions.selectors.rates import QuoteChoices, RatesFrom
from studio.fields import DayField, DurationField, ShownInField, hinted, offer
from studio.labour import ONE, Task
from studio.models import Kiln
from studio.money import plain_number, round_money
from studio.units import parse_duration_s
from studio.viewer import Viewer

MOST_MINUTES = 60_000
KILN_FIELDS = ("enamel_kiln", "fuse_kiln")


def percent_field(
    label: str, help_text: str = "", *, highest: int = 300
) -> forms.Field:
    """Return a field of per cent, at most two decimals."""
    field = forms.DecimalField(
        min_value=0,
        max_value=highest,
        max_digits=5,
        decimal_places=2,
        label=label,
        help_text=help_text,
    )
    return hinted(field, "%")


def price_field(label: str, help_text: str = "") -> forms.DecimalField:
    """Return a field of money for one unit."""
    return forms.DecimalField(
        min_value=0,
        max_value=1_000_000,
        max_digits=14,
        decimal_places=4,
        label=label,
        help_text=help_text,
    )


class LabourField(DurationField):
    """Time of work by hand: `35 h`, `90 min`, `1:30`; whole minutes when cleaned."""

    def set_viewer(self, viewer: Viewer) -> None:
        self.parse = lambda text: float(round(parse_duration_s(text) / 60))
        self.show = lambda minutes: viewer.labour(int(minutes))


class RateFields(forms.Form):
    """What the studio's rates and one quote's choices have in common."""

    labour_rate_per_hour = price_field("Hourly rate for work")
    energy_price_per_kwh = price_field("Price of a kWh")

    waste_percent = percent_field(
        "Offcuts and breakage", "At most: a cutting plan may waste less."
    )
    overhead_percent = percent_field("Overhead", "Rent, tools, paperwork.")
    remake_percent = percent_field("Risk of remake", "On all costs.")
    markup_percent = percent_field("Mark-up", "On all costs and the risk.")
    rounding = price_field("Round up to", "5 makes 1,203 into 1,205. 0 leaves it.")
    tax_percent = percent_field("Tax", highest=99)
    second_tax_percent = percent_field("Second tax", highest=99)
    tax_included = forms.BooleanField(
        required=False,
        label="Prices include tax",
        help_text="Rounding then makes the price with tax round.",
    )
    kiln_rate_has_energy = forms.BooleanField(
        required=False, label="Kilns' hourly rates include electricity"
    )
    deposit_percent = percent_field("Deposit", "When accepted.", highest=100)
    stage_percent = percent_field(
        "Stage payment", "Before the stack goes into the kiln.", highest=100
    )

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.currency = currency
        for name in ("labour_rate_per_hour", "energy_price_per_kwh", "rounding"):
            hinted(self.fields[name], currency)
        self.fields["shown_in"] = ShownInField(currency)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        deposit, stage = data.get("deposit_percent"), data.get("stage_percent")
        if deposit is not None and stage is not None and deposit + stage > 100:
            self.add_error(
                "stage_percent", "Deposit and stage payment together: at most 100 %."
            )
        rounding = data.get("rounding")
        if rounding is not None and round_money(rounding, self.currency) != rounding:
            self.add_error("rounding", f"{self.currency} has no coin that small.")
        data.pop("shown_in", None)
        return data

    @staticmethod
    def tidy(values: dict[str, Any]) -> dict[str, Any]:
        """Return stored decimals without the zeros the database pads them with."""
        return {
            name: plain_number(value) if isinstance(value, Decimal) else value
            for name, value in values.items()
        }


class QuoteForm(RateFields):
    """One quote: its rates, its minutes, its dates and its words to the client.

    Each task that the work takes has a field of minutes. What differs from its rule is
    kept as a share of the rule.
    """

    gallery_cut_percent = percent_field(
        "Gallery's share", "Of the price before tax. 0 without a gallery.", highest=90
    )
    discount_percent = percent_field("Discount", highest=100)
    discount_reason = forms.CharField(
        required=False, max_length=120, label="Reason for the discount"
    )
    enamel_kiln = forms.ChoiceField(required=False, label="Enamel fired in")
    fuse_kiln = forms.ChoiceField(required=False, label="Fused in")
    message = forms.CharField(
        required=False,
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 4}),
        label="Message to the client",
    )
    promised_date = DayField(required=False, label="Promised for")
    valid_until_date = DayField(label="Valid until")
    shows_lines = forms.BooleanField(
        required=False,
        label="Show the client every line",
        help_text="You can choose single lines before you send it.",
    )
    rates_from = forms.ChoiceField(
        choices=[(one, one) for one in RatesFrom],
        required=False,
        error_messages={"required": "Choose the rates of this version."},
    )
    # The kilns of the promise on the same page; no others are taken.
    planned_enamel_kiln = forms.ChoiceField(required=False, widget=forms.HiddenInput)
    planned_fuse_kiln = forms.ChoiceField(required=False, widget=forms.HiddenInput)

    form_key = forms.CharField(required=False, max_length=32, widget=forms.HiddenInput)

    def __init__(
        self,
        *args: Any,
        base: QuoteChoices,
        rules: Mapping[str, tuple[Task, Decimal]],
        viewer: Viewer,
        kilns: Iterable[Kiln],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.base, self.rules = base, rules
        named = [(str(kiln.pk), kiln.name) for kiln in kilns]
        for name in KILN_FIELDS:
            usual = ("", "As promised, or the cheapest")
            offer(self, name, [usual, *named])
            offer(self, f"planned_{name}", [("", ""), *named])
        for key, (task, by_rule) in rules.items():
            field = LabourField(
                required=False, label=task.name, initial=self._shown(task, by_rule)
            )
            field.set_viewer(viewer)
            self.fields[f"minutes_{key}"] = field

    @staticmethod
    def _shown(task: Task, by_rule: Decimal) -> int:
        return int((by_rule * task.factor).quantize(ONE, ROUND_HALF_UP))

    @property
    def task_fields(self) -> list[forms.BoundField]:
        """Return the fields of minutes."""
        return [self[f"minutes_{key}"] for key in self.rules]

    @property
    def has_wrong_time(self) -> bool:
        """Return whether one of them is no time, so that they are shown."""
        return any(field.errors for field in self.task_fields)

    def _task(self, task: Task) -> Task:
        if task.key not in self.rules:
            return task
        by_rule = self.rules[task.key][1]
        typed = self.cleaned_data.get(f"minutes_{task.key}")
        if typed is None or typed == self._shown(task, by_rule):
            return task
        return task.set_to(Decimal(typed), by_rule=by_rule)

    def _kiln(self, name: str) -> int | None:
        """Return the kiln that was picked, else the one of the promise."""
        data = self.cleaned_data
        picked = data.get(name) or data.get(f"planned_{name}")
        return int(picked) if picked else None

    @property
    def choices(self) -> QuoteChoices:
        """Return what was typed, as rates of the quote; what was not stays as it was."""
        typed = {
            f.name: self.cleaned_data[f.name]
            for f in fields(QuoteChoices)
            if f.name in self.cleaned_data
        }
        typed |= {name: self._kiln(name) for name in KILN_FIELDS}
        tasks = tuple(self._task(task) for task in self.base.tasks)
        return replace(self.base, **typed, tasks=tasks)

    @property
    def has_wrong_rate(self) -> bool:
        """Return whether a number that the price is made of is none."""
        rates = {f.name for f in fields(QuoteChoices)}
        rates |= {f"minutes_{key}" for key in self.rules}
        return bool(rates & set(self.errors))

    @property
    def words(self) -> dict[str, Any]:
        """Return what was typed, as dates and words, and which form it was."""
        names = (
            "message",
            "promised_date",
            "valid_until_date",
            "shows_lines",
            "form_key",
        )
        return {name: self.cleaned_data[name] for name in names}


class AddendumForm(QuoteForm):
    """An addendum: as a quote, and the prices of the change are always chosen."""

    rates_from = forms.ChoiceField(
        choices=[(one, one) for one in RatesFrom],
        error_messages={"required": "Choose the prices for the change."},
    )
