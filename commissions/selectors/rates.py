"""Reads a studio's rates and the choices a new quote starts from."""

from dataclasses import asdict, dataclass, fields
from decimal import Decimal
from typing import Any, Self

from commissions.models import Commission, PriceBook, Quote
from studio.models import Studio
from studio.selectors.bench_times import WorkMinutes, work_minutes


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedRates(WorkMinutes):
    """The rates that a studio sets and each quote may change.

    Minutes are per unit in the name, prices in the studio's currency, percents 0 to 100
    and not fractions.
    """

    labour_rate_per_hour: Decimal
    energy_price_per_kwh: Decimal
    waste_percent: Decimal
    overhead_percent: Decimal
    remake_percent: Decimal
    margin_percent: Decimal
    tax_percent: Decimal
    deposit_percent: Decimal
    stage_percent: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class StudioRates(SharedRates):
    """Everything a studio sets for its next quotes."""

    tax_name: str
    quote_valid_days: int
    needs_deposit: bool = False
    needs_stage_payment: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class QuoteChoices(SharedRates):
    """Every rate of a quote that its maker may set."""

    gallery_cut_percent: Decimal

    @classmethod
    def from_json(cls, stored: dict[str, Any]) -> Self:
        """Return the choices that a quote was made with."""
        return cls(
            **{
                # Each of these types is a class, int or Decimal, and never a text.
                f.name: f.type(stored[f.name])  # type: ignore[operator]
                for f in fields(cls)
            }
        )

    def as_json(self) -> dict[str, Any]:
        """Return the choices for a quote's inputs; decimals as texts, to stay exact."""
        return {
            name: str(value) if isinstance(value, Decimal) else value
            for name, value in asdict(self).items()
        }


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
    """Return everything the studio sets: prices from its book, minutes from its bench."""
    book = price_book(studio)
    minutes = asdict(work_minutes(studio))
    prices = {
        f.name: getattr(book, f.name)
        for f in fields(StudioRates)
        if f.name not in minutes
    }
    return StudioRates(**minutes, **prices)


def choices_for(commission: Commission) -> QuoteChoices:
    """Return what a new quote starts from: its last version, else the studio's rates."""
    last: Quote | None = (
        Quote.owned.for_studio(commission.studio)
        .filter(commission=commission)
        .order_by("-version")
        .first()
    )
    if last is not None:
        return QuoteChoices.from_json(last.inputs["choices"])
    rates = studio_rates(commission.studio)
    of_studio = {f.name: getattr(rates, f.name) for f in fields(SharedRates)}
    of_commission = {
        "painting_minutes_per_pass": commission.painting_minutes_per_pass,
        "gallery_cut_percent": commission.gallery_cut_percent,
    }
    return QuoteChoices(**of_studio | of_commission)
