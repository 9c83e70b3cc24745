"""Reads a studio's rates and the choices a new quote starts from."""

from dataclasses import dataclass, fields, replace
from decimal import Decimal
from enum import StrEnum
from typing import Any, Self

from commissions.models import Commission, PriceBook, Quote
from commissions.selectors.quotes import accepted_quote
from commissions.selectors.work import CommissionWork
from studio.labour import Task
from studio.models import Studio
from studio.selectors.bench_times import tasks_of

# The rates that belong to what the client asked for, not to the studio.
OF_THE_REQUEST = ("gallery_cut_percent", "gallery_sells")
# Those that one quote alone sets.
OF_THE_QUOTE = ("discount_percent", "discount_reason", "enamel_kiln", "fuse_kiln")


class RatesFrom(StrEnum):
    """Whose rates another version of a quote starts from."""

    TODAY = "today"
    VERSION = "version"


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedRates:
    """The rates that a studio sets and each quote may change.

    Prices are in the studio's currency, percents 0 to 100 and not fractions.
    """

    tasks: tuple[Task, ...]
    labour_rate_per_hour: Decimal
    energy_price_per_kwh: Decimal
    waste_percent: Decimal
    overhead_percent: Decimal
    remake_percent: Decimal
    markup_percent: Decimal
    rounding: Decimal
    tax_percent: Decimal
    second_tax_percent: Decimal
    deposit_percent: Decimal
    stage_percent: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class StudioRates(SharedRates):
    """Everything a studio sets for its next quotes."""

    tax_name: str
    second_tax_name: str
    tax_included: bool
    kiln_rate_has_energy: bool
    quote_valid_days: int
    needs_deposit: bool = False
    needs_stage_payment: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class QuoteChoices(SharedRates):
    """Every rate of a quote that its maker may set.

    `enamel_kiln` and `fuse_kiln` are keys of the kilns to price by; none for those that
    cost least.
    """

    tax_included: bool
    kiln_rate_has_energy: bool
    gallery_cut_percent: Decimal
    gallery_sells: bool
    discount_percent: Decimal = Decimal(0)
    discount_reason: str = ""
    enamel_kiln: int | None = None
    fuse_kiln: int | None = None

    @classmethod
    def from_json(cls, stored: dict[str, Any]) -> Self:
        """Return the choices that a quote was made with."""
        read = {f.name: stored[f.name] for f in fields(cls)}
        read |= {
            f.name: Decimal(read[f.name]) for f in fields(cls) if f.type is Decimal
        }
        read["tasks"] = tuple(Task.from_json(one) for one in stored["tasks"])
        return cls(**read)

    def as_json(self) -> dict[str, Any]:
        """Return the choices for a quote's inputs; decimals as texts, to stay exact."""
        return {
            f.name: str(value) if isinstance(value, Decimal) else value
            for f in fields(self)
            if (value := getattr(self, f.name)) is not self.tasks
        } | {"tasks": [task.as_json() for task in self.tasks]}


def price_book(studio: Studio) -> PriceBook:
    """Return the studio's rates, or unsaved default ones if it set none."""
    found: PriceBook | None = PriceBook.owned.for_studio(studio).first()
    if found is not None:
        return found
    usual = PriceBook(studio=studio)
    for field in PriceBook._meta.concrete_fields:
        if field.attname not in {"id", "studio_id"}:
            setattr(usual, field.attname, field.to_python(field.get_default()))
    return usual


def studio_rates(studio: Studio) -> StudioRates:
    """Return everything the studio sets: prices from its book, tasks from its bench."""
    book = price_book(studio)
    prices = {
        f.name: getattr(book, f.name) for f in fields(StudioRates) if f.name != "tasks"
    }
    return StudioRates(tasks=tasks_of(studio), **prices)


def base_quote(commission: Commission) -> Quote | None:
    """Return the quote that another starts from: the accepted one, else the newest."""
    quotes = Quote.owned.for_studio(commission.studio).filter(commission=commission)
    return accepted_quote(commission) or quotes.order_by("-version", "option").first()


def set_as_quoted(commission: Commission, quote: Quote) -> None:
    """Set what a commission asks for to what a quote was made from; saves nothing."""
    facts = CommissionWork.from_json(quote.inputs["work"]).of_commission
    asked = quote.inputs.get("asked", {})
    facts |= {
        name: _as_asked(name, asked[name]) for name in OF_THE_REQUEST if name in asked
    }
    for name, value in facts.items():
        setattr(commission, name, value)


def _as_asked(name: str, stored: Any) -> Decimal | bool:
    """Return what a quote keeps of the request as the request has it."""
    return stored == "True" if name == "gallery_sells" else Decimal(stored)


def must_choose(commission: Commission) -> bool:
    """Return whether today's rates are others than those of the last version."""
    last = base_quote(commission)
    if last is None or last.currency != commission.studio.currency:
        return False
    before = QuoteChoices.from_json(last.inputs["choices"])
    today = choices_for(commission, RatesFrom.TODAY)
    return any(
        getattr(before, f.name) != getattr(today, f.name)
        for f in fields(QuoteChoices)
        if f.name not in {*OF_THE_REQUEST, *OF_THE_QUOTE}
    )


def is_as_quoted(commission: Commission, quote: Quote) -> bool:
    """Return whether a commission asks for just what a quote was made from."""
    asked = quote.inputs.get("asked", {})
    return CommissionWork.of(commission).as_json() == quote.inputs["work"] and all(
        name not in asked or _as_asked(name, asked[name]) == value
        for name, value in asked_of(commission).items()
    )


def asked_of(commission: Commission) -> dict[str, Any]:
    """Return the rates that the request itself says."""
    return {name: getattr(commission, name) for name in OF_THE_REQUEST}


def choices_for(
    commission: Commission, rates_from: RatesFrom = RatesFrom.VERSION
) -> QuoteChoices:
    """Return what a new quote starts from: an earlier one, else the studio's rates.

    What the request itself says follows the request once that has changed. Rates in
    another currency than the studio's are never taken over.
    """
    last, asked = base_quote(commission), asked_of(commission)
    if (
        last is not None
        and rates_from is RatesFrom.VERSION
        and last.currency == commission.studio.currency
    ):
        then = last.inputs.get("asked", {})
        changed = {
            name: value
            for name, value in asked.items()
            if name not in then or _as_asked(name, then[name]) != value
        }
        return replace(QuoteChoices.from_json(last.inputs["choices"]), **changed)
    rates = studio_rates(commission.studio)
    of_studio = {
        f.name: getattr(rates, f.name)
        for f in fields(QuoteChoices)
        if hasattr(rates, f.name)
    }
    return QuoteChoices(**of_studio | asked)
