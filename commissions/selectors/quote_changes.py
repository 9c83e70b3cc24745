"""What differs between a commission's last quote and one drafted now."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields
from decimal import Decimal

from commissions.models import Commission, Quote
from commissions.pricing import KilnTime, MaterialUse
from commissions.selectors.labour_words import rule_words
from commissions.selectors.prices import Priced, UnitPrices
from commissions.selectors.rates import (
    OF_THE_QUOTE,
    OF_THE_REQUEST,
    QuoteChoices,
    RatesFrom,
    base_quote,
    choices_for,
    price_book,
)
from commissions.selectors.work import CommissionWork, work_facts
from studio.money import format_unit_price, plain_number
from studio.viewer import Viewer


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One thing that is not what it was, in the reader's units."""

    what: str
    old: str
    new: str


@dataclass(frozen=True, slots=True, kw_only=True)
class QuoteChanges:
    """Everything that differs from the last version, by what follows from it."""

    version: int
    request: tuple[Change, ...]
    rates: tuple[Change, ...]
    prices: tuple[Change, ...]
    is_other_currency: bool

    @property
    def has_choice(self) -> bool:
        """Return whether old rates may be chosen: never as another currency's."""
        return bool(self.rates) and not self.is_other_currency

    def __bool__(self) -> bool:
        return bool(self.request or self.rates or self.prices)


def quote_changes(
    commission: Commission,
    *,
    priced: Priced | None,
    labels: Mapping[str, str],
    viewer: Viewer,
) -> QuoteChanges | None:
    """Compare the request and today's rates with the last version; none without one.

    `labels` names the rates as the form does.
    """
    last = base_quote(commission)
    if last is None:
        return None
    currency = commission.studio.currency
    before = QuoteChoices.from_json(last.inputs["choices"])
    as_before = choices_for(commission, RatesFrom.VERSION)
    today = choices_for(commission, RatesFrom.TODAY)

    def rates(new: QuoteChoices, *, of_request: bool) -> Iterator[Change]:
        for name in (f.name for f in fields(QuoteChoices)):
            was, now = getattr(before, name), getattr(new, name)
            if was == now or (name in OF_THE_REQUEST) is not of_request:
                continue
            if name == "tasks":
                yield from _task_changes(before, new, viewer)
            elif name not in OF_THE_QUOTE:
                yield Change(
                    what=labels.get(name, "The gallery sells"),
                    old=_written(name, was, last.currency),
                    new=_written(name, now, currency),
                )

    return QuoteChanges(
        version=last.version,
        request=(
            *_work_changes(
                CommissionWork.from_json(last.inputs["work"]),
                CommissionWork.of(commission),
                viewer,
            ),
            *rates(as_before, of_request=True),
        ),
        rates=tuple(rates(today, of_request=False)),
        prices=tuple(_price_changes(last, priced, commission)),
        is_other_currency=last.currency != currency,
    )


def addendum_changes(quote: Quote, viewer: Viewer) -> tuple[Change, ...]:
    """Return what an addendum changes, for the client as for the studio.

    The gallery's share is told only to a client who sees every line.
    """
    before = quote.adds_to
    if before is None:
        return ()
    told = {"gallery_cut_percent": "The gallery's share"} if quote.shows_lines else {}

    def work(of: Quote) -> CommissionWork:
        return CommissionWork.from_json(of.inputs["work"])

    def rates() -> Iterator[Change]:
        for name, what in told.items():
            was, now = (
                getattr(QuoteChoices.from_json(one.inputs["choices"]), name)
                for one in (before, quote)
            )
            if was != now:
                yield Change(
                    what=what,
                    old=_written(name, was, before.currency),
                    new=_written(name, now, quote.currency),
                )

    return (*_work_changes(work(before), work(quote), viewer), *rates())


def _written(name: str, value: Decimal | bool, currency: str) -> str:  # noqa: FBT001 - one of a rate's kinds
    if isinstance(value, bool):
        return "yes" if value else "no"
    if name.endswith("_percent"):
        return f"{plain_number(value)} %"
    return format_unit_price(value, currency)


def _task_changes(
    before: QuoteChoices, after: QuoteChoices, viewer: Viewer
) -> Iterator[Change]:
    """Yield the tasks whose rule is another, was left out or is new."""
    old = {task.key: task for task in before.tasks}
    new = {task.key: task for task in after.tasks}
    for key in old | new:
        was, now = old.get(key), new.get(key)
        if was != now:
            yield Change(
                what=(now or was or after.tasks[0]).name,
                old=rule_words(was, viewer) if was else "none",
                new=rule_words(now, viewer) if now else "none",
            )


def _work_changes(
    before: CommissionWork, after: CommissionWork, viewer: Viewer
) -> Iterator[Change]:
    def facts(work: CommissionWork) -> dict[str, str]:
        dams = "yes" if work.is_dammed else "no"
        return {"Title": work.title, **dict(work_facts(work, viewer)), "Dams": dams}

    old, new = facts(before), facts(after)
    for what in old | new:
        was, now = old.get(what, "none"), new.get(what, "none")
        if was != now:
            yield Change(what=what, old=was, new=now)


def _price_changes(
    last: Quote, priced: Priced | None, commission: Commission
) -> Iterator[Change]:
    """Yield the prices that every version takes as they are now: kilns, materials."""
    currency = commission.studio.currency
    tax_name = price_book(commission.studio).tax_name
    if last.currency != currency:
        yield Change(what="Currency", old=last.currency, new=currency)
    if last.tax_name != tax_name:
        yield Change(what="Name of the tax", old=last.tax_name, new=tax_name)
    if priced is None:
        return
    then = UnitPrices(last)
    prices: list[tuple[MaterialUse | KilnTime, Decimal]] = [
        *((one, one.unit_price) for one in priced.inputs.materials),
        *((one, one.rate_per_hour) for one in priced.inputs.kiln_times),
    ]
    for one, now in prices:
        was = then.of(one, now)
        if was != now:
            yield Change(
                what=one.label,
                old=format_unit_price(was, last.currency),
                new=format_unit_price(now, currency),
            )
