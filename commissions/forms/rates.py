"""The form of a studio's rates: prices, terms, and the rules for work by hand."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from django import forms

from commissions.forms.quote import MOST_MINUTES, RateFields
from commissions.selectors.labour_words import per_area
from studio.amounts import SQUARE_METRE, convert_price
from studio.fields import hinted
from studio.labour import Counted, Task, TaxClass
from studio.money import plain_number
from studio.selectors.bench_times import OwnRecord
from studio.viewer import Viewer

OWN = "own"
TAXES = (
    (TaxClass.MAIN, "Tax"),
    (TaxClass.SECOND, "Second tax"),
    (TaxClass.UNTAXED, "No tax"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class TaskRow:
    """A task's fields in its row of the table; some rules lack one."""

    key: str
    name: str
    record: OwnRecord | None
    minutes: forms.BoundField
    each: forms.BoundField | None
    area: forms.BoundField | None
    tax: forms.BoundField


def rule_field(label: str, unit: str) -> forms.DecimalField:
    """Return a field of minutes in a rule."""
    field = forms.DecimalField(
        min_value=0,
        max_value=MOST_MINUTES,
        max_digits=9,
        decimal_places=4,
        required=False,
        label=label,
    )
    hinted(field, unit)
    return field


class RatesForm(RateFields):
    """The studio's rates, where the next quote starts."""

    tax_name = forms.CharField(
        max_length=40,
        label="Name of the tax",
        help_text="As it appears on quotes, such as VAT.",
    )
    second_tax_name = forms.CharField(
        max_length=40,
        required=False,
        label="Name of the second tax",
        help_text="Where some work has another rate.",
    )
    quote_valid_days = hinted(
        forms.IntegerField(min_value=1, max_value=730, label="A quote is valid for"),
        "days",
    )
    needs_deposit = forms.BooleanField(
        required=False, label="Don't paint before the deposit is paid"
    )
    needs_stage_payment = forms.BooleanField(
        required=False, label="Don't start a fuse before the stage payment is paid"
    )
    own_name = forms.CharField(max_length=80, required=False, label="Another task")
    own_minutes = rule_field("For the piece", "min")
    own_each = rule_field("For each layer", "min")

    def __init__(
        self,
        *args: Any,
        tasks: Iterable[Task],
        records: Mapping[str, OwnRecord],
        viewer: Viewer,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.records = records
        self.tasks, self.unit = tuple(tasks), viewer.unit(SQUARE_METRE)
        for task in self.tasks:
            for name, label, unit, value in self._rule(task):
                field = rule_field(f"{task.name}: {label}", unit)
                field.initial = plain_number(value)
                self.fields[f"task_{task.key}_{name}"] = field
            self.fields[f"task_{task.key}_tax"] = forms.ChoiceField(
                choices=TAXES,
                initial=task.tax,
                required=False,
                label=f"{task.name}: taxed with",
            )

    def _rule(self, task: Task) -> list[tuple[str, str, str, Decimal]]:
        """Return the parts of a task's rule that it has, as its fields show them."""
        parts = [("minutes", "for the piece", "min", task.minutes)]
        if task.counted:
            each = f"for each {task.counted}"
            parts.append(("each", each, f"min/{task.counted}", task.minutes_each))
        if task.area:
            shown = per_area(task.minutes_per_m2, self.unit)
            label = f"for each {self.unit} {task.area}"
            parts.append(("area", label, f"min/{self.unit} {task.area}", shown))
        return parts

    @property
    def has_second_tax(self) -> bool:
        """Return whether tasks can be told apart by their tax."""
        return self["second_tax_percent"].value() not in {None, "", "0"}

    @property
    def task_rows(self) -> list[TaskRow]:
        """Return the rows of the table of tasks."""

        def field(task: Task, name: str) -> forms.BoundField | None:
            full = f"task_{task.key}_{name}"
            return self[full] if full in self.fields else None

        return [
            TaskRow(
                key=task.key,
                name=task.name,
                record=self.records.get(task.key),
                minutes=self[f"task_{task.key}_minutes"],
                each=field(task, "each"),
                area=field(task, "area"),
                tax=self[f"task_{task.key}_tax"],
            )
            for task in self.tasks
        ]

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if data.get("second_tax_percent") and not data.get("second_tax_name"):
            self.add_error("second_tax_name", "Name the second tax, as quotes show it.")
        has_own = data.get("own_minutes") or data.get("own_each")
        if has_own and not data.get("own_name"):
            self.add_error("own_name", "Name the task that takes this time.")
        if data.get("own_name") and not has_own:
            self.add_error("own_minutes", "Write how long it takes.")
        return data

    @property
    def rates(self) -> dict[str, Any]:
        """Return what was typed: prices and terms, and the tasks with their rules."""
        data = self.cleaned_data
        prices = {
            name: value
            for name, value in data.items()
            if not name.startswith(("task_", "own_"))
        }
        kept = [self._typed(task) for task in self.tasks]
        # An own task without any time is removed.
        kept = [
            task
            for task in kept
            if not task.key.startswith(OWN) or task.minutes or task.minutes_each
        ]
        if data.get("own_name"):
            kept.append(
                Task(
                    key=self._free_key(),
                    name=data["own_name"],
                    minutes=data.get("own_minutes") or Decimal(0),
                    counted=Counted.LAYER,
                    minutes_each=data.get("own_each") or Decimal(0),
                )
            )
        return prices | {"tasks": tuple(kept)}

    def _typed(self, task: Task) -> Task:
        def typed(name: str) -> Decimal:
            return self.cleaned_data.get(f"task_{task.key}_{name}") or Decimal(0)

        area = task.minutes_per_m2
        # What is left as it was shown stays exact: 1000 min/m² is shown as 92.9 min/ft².
        if task.area and typed("area") != per_area(area, self.unit):
            area = convert_price(typed("area"), self.unit, SQUARE_METRE)
        tax = self.cleaned_data.get(f"task_{task.key}_tax")
        return replace(
            task,
            minutes=typed("minutes"),
            minutes_each=typed("each") if task.counted else task.minutes_each,
            minutes_per_m2=area,
            tax=TaxClass(tax) if tax else task.tax,
        )

    def _free_key(self) -> str:
        taken = {task.key for task in self.tasks}
        return next(
            key
            for number in range(1, len(taken) + 2)
            if (key := f"{OWN}-{number}") not in taken
        )
