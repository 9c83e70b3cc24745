"""Prices a commission: from its facts, the studio's rates and kiln hours to lines.

`commissions.pricing` does the arithmetic. Here amounts are gathered and put into words,
with lengths in the studio's units, because the quote will read that way.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from decimal import ROUND_HALF_UP, ROUND_UP, Decimal
from typing import Any

from commissions import pricing
from commissions.models import Client, Commission, Quote, TaxStatus
from commissions.pricing import (
    EnergyUse,
    KilnTime,
    LabourTime,
    MaterialUse,
    Price,
    PriceInputs,
    Seller,
    TaxRate,
)
from commissions.selectors.labour_words import task_words
from commissions.selectors.rates import QuoteChoices, price_book
from commissions.selectors.work import CommissionWork, WorkPart
from firing.models import FiringKind
from firing.promises.selectors.estimates import KilnTimeItem, estimate_kiln_time
from studio.amounts import (
    SQUARE_METRE,
    convert,
    convert_price,
    in_words,
    printed,
)
from studio.errors import Refused
from studio.labour import Measures, Task, TaxClass
from studio.models import Material, MaterialKind, Studio, Technique, UsedPer
from studio.money import plain_number
from studio.selectors.cutting import glass_needed
from studio.viewer import Viewer, count_words

FOUR_PLACES = Decimal("0.0001")
# The size of a quote's stored amounts; anything near it is a mistyped rate.
TOO_MUCH = Decimal(10) ** 10
ONE_PLACE = Decimal("0.1")


@dataclass(frozen=True, slots=True, kw_only=True)
class PartKilnTime:
    """Firings of one kind that one stack needs."""

    part: WorkPart
    item: KilnTimeItem


@dataclass(frozen=True, slots=True, kw_only=True)
class Priced:
    """A price with everything it was made from."""

    studio: Studio
    commission: Commission
    work: CommissionWork
    choices: QuoteChoices
    inputs: PriceInputs
    price: Price
    tax_names: tuple[str, ...]
    tax_note: str
    kiln_times: tuple[PartKilnTime, ...]
    warnings: tuple[str, ...] = ()

    @property
    def plan(self) -> tuple[pricing.Payment, ...]:
        """Return deposit, stage payment and balance of what the studio is paid."""
        return pricing.payment_plan(
            self.price.to_studio,
            self.choices.deposit_percent,
            self.choices.stage_percent,
            self.price.currency,
        )

    def as_json(self) -> dict[str, Any]:
        """Return every number the price was made from, for the quote to keep."""
        return {
            "work": self.work.as_json(),
            "choices": self.choices.as_json(),
            "kiln_times": [
                {
                    "part": time.part.name,
                    "kind": str(time.item.kind),
                    "kiln": time.item.kiln.name,
                    "firing_count": time.item.firing_count,
                    "loads": float(time.item.loads),
                    "hours_each": float(time.item.hours_each),
                    "kwh_each": float(time.item.kwh_each),
                }
                for time in self.kiln_times
            ],
            "taxes": list(self.tax_names),
            "tax_note": self.tax_note,
            "studio_taxes": [
                {
                    "name": line.label,
                    "percent": str(line.quantity),
                    "base": str(line.unit_price),
                }
                for line in self.price.studio_taxes
            ],
            "pricing": _plain(asdict(self.inputs)),
        }


def price_work(
    *,
    commission: Commission,
    choices: QuoteChoices,
    at_prices_of: Quote | None = None,
    work: CommissionWork | None = None,
) -> Priced:
    """Price a commission as it stands now, or another work for it; writes nothing.

    Parameters
    ----------
    at_prices_of : Quote or None
        Materials and kilns that this quote has cost what they cost in it. Others, and
        all of them without it, cost what they cost today.

    Raises
    ------
    StudioError
        When no kiln can take it, or a number is out of range: the message says which.
    """
    studio = commission.studio
    work = work or CommissionWork.of(commission)
    times = tuple(_kiln_times(commission, work, choices))
    then = UnitPrices(at_prices_of)
    names = at_prices_of.inputs["taxes"] if at_prices_of else tax_names(studio)
    uses = tuple(_materials(commission, work, choices, times))
    inputs = PriceInputs(
        currency=studio.currency,
        materials=tuple(
            replace(use, unit_price=then.of(use, use.unit_price)) for use in uses
        ),
        kiln_times=tuple(
            replace(line, rate_per_hour=then.of(line, line.rate_per_hour))
            for line in (_kiln_line(time, choices) for time in times)
        ),
        energy=_energy(times, choices),
        labour=tuple(_labour(work, choices, times, Viewer.of_studio(studio))),
        overhead_percent=choices.overhead_percent,
        remake_percent=choices.remake_percent,
        markup_percent=choices.markup_percent,
        discount_percent=choices.discount_percent,
        discount_reason=choices.discount_reason,
        rounding=choices.rounding,
        seller=Seller.GALLERY if choices.gallery_sells else Seller.STUDIO,
        gallery_cut_percent=choices.gallery_cut_percent,
        gallery_bears_tax=commission.gallery is not None
        and commission.gallery.tax_status == TaxStatus.TAXED,
        taxes=_taxes(commission.client, names, choices),
        tax_included=choices.tax_included,
    )
    price = pricing.price_commission(inputs)
    if price.total >= TOO_MUCH:
        raise Refused(
            f"This comes to more than {TOO_MUCH:,} {price.currency}. Look for a rate "
            "or a time with too many digits."
        )
    return Priced(
        studio=studio,
        commission=commission,
        work=work,
        choices=choices,
        inputs=inputs,
        price=price,
        tax_names=tuple(names),
        tax_note=_tax_note(commission.client),
        kiln_times=times,
        warnings=tuple(_warnings(work, uses)),
    )


def _taxes(
    client: Client, names: Sequence[str], choices: QuoteChoices
) -> tuple[TaxRate, ...]:
    """Return the taxes; none for a client who is exempt or buys for resale."""
    if client.tax_status != TaxStatus.TAXED:
        return ()
    percents = (choices.tax_percent, choices.second_tax_percent)
    return tuple(
        TaxRate(name=name, percent=percent)
        for name, percent in zip(names, percents, strict=True)
    )


def _tax_note(client: Client) -> str:
    """Say why a price has no tax; nothing where it has."""
    if client.tax_status == TaxStatus.TAXED:
        return ""
    number = f", no. {client.tax_number}" if client.tax_number else ""
    why = "exempt" if client.tax_status == TaxStatus.EXEMPT else "for resale"
    return f"No tax: {why}{number}."


def tax_names(studio: Studio) -> list[str]:
    """Return what the studio calls its taxes."""
    book = price_book(studio)
    return [book.tax_name, book.second_tax_name or "Other tax"]


def _warnings(work: CommissionWork, uses: Iterable[MaterialUse]) -> Iterator[str]:
    """Yield what a price lacks that the work will use up."""
    kind = (
        MaterialKind.DECAL if work.technique == Technique.DECAL else MaterialKind.ENAMEL
    )
    if not any(use.kind == kind and use.quantity and use.unit_price for use in uses):
        yield (
            f"No {kind} is in this price. Set under Stock what it costs and how much "
            "of it a pass takes."
        )


class UnitPrices:
    """What each material and each kiln's hour cost in a quote; of none, nothing."""

    def __init__(self, quote: Quote | None) -> None:
        stored = {} if quote is None else quote.inputs["pricing"]
        self._of: dict[str, tuple[Decimal, str]] = {}
        for part, price in (
            ("materials", "unit_price"),
            ("kiln_times", "rate_per_hour"),
        ):
            for row in stored.get(part, ()):
                # Older quotes know their rows by the label alone.
                self._of[row.get("key") or row["label"]] = (
                    Decimal(row[price]),
                    row.get("unit", "h"),
                )

    def of(self, one: MaterialUse | KilnTime, now: Decimal) -> Decimal:
        """Return the price then, or today's where the quote has no such thing."""
        unit = one.unit if isinstance(one, MaterialUse) else "h"
        then = self._of.get(one.key, self._of.get(one.label, (now, unit)))
        return convert_price(*then, unit)


def _kiln_times(
    commission: Commission, work: CommissionWork, choices: QuoteChoices
) -> Iterator[PartKilnTime]:
    chosen = {
        FiringKind.ENAMEL: choices.enamel_kiln,
        FiringKind.FULL_FUSE: choices.fuse_kiln,
    }
    for part in work.parts:
        estimate = estimate_kiln_time(
            studio=commission.studio,
            width_mm=part.width_mm,
            height_mm=part.height_mm,
            layer_count=part.layer_count,
            painted_layer_count=part.painted_count,
            passes_per_layer=work.passes_per_layer,
            glass=commission.glass,
            is_dammed=work.is_dammed,
            in_kilns={kind: pk for kind, pk in chosen.items() if pk is not None},
            price_per_kwh=Decimal(0)
            if choices.kiln_rate_has_energy
            else choices.energy_price_per_kwh,
        )
        for item in estimate.items:
            if item.firing_count:
                yield PartKilnTime(part=part, item=item)


def _kiln_line(time: PartKilnTime, choices: QuoteChoices) -> KilnTime:
    of_maquette = " of the maquette" if time.part.name == "maquette" else ""
    has_energy = ", electricity included" if choices.kiln_rate_has_energy else ""
    return KilnTime(
        label=f"{time.item.kind_words}{of_maquette}, {time.item.kiln.name}",
        firings=time.item.loads,
        # Rounded up to tenths of an hour: the kiln is not free before it may be opened.
        hours_each=Decimal(str(time.item.hours_each)).quantize(ONE_PLACE, ROUND_UP),
        rate_per_hour=time.item.kiln.hourly_rate,
        key=f"kiln {time.item.kiln.pk}",
        kind=time.item.kind,
        explanation=time.item.explanation + has_energy,
    )


def _energy(times: Iterable[PartKilnTime], choices: QuoteChoices) -> EnergyUse | None:
    if choices.kiln_rate_has_energy:
        return None
    return EnergyUse(
        kwh=_four(sum(t.item.kwh for t in times)).quantize(ONE_PLACE, ROUND_HALF_UP),
        price_per_kwh=choices.energy_price_per_kwh,
    )


def _materials(
    commission: Commission,
    work: CommissionWork,
    choices: QuoteChoices,
    times: tuple[PartKilnTime, ...],
) -> Iterator[MaterialUse]:
    viewer = Viewer.of_studio(commission.studio)
    need = glass_needed(
        commission.studio,
        commission.glass,
        [(part.width_mm, part.height_mm, part.layer_count) for part in work.parts],
        at_most_percent=choices.waste_percent,
    )
    for part in work.parts:
        area, unit = area_for(viewer, part.area_m2 * part.layer_count)
        yield MaterialUse(
            label=f"{work.glass_name}, {part.name}",
            explanation=(
                f"{count_words(part.layer_count, 'sheet')} of "
                f"{viewer.size(part.width_mm, part.height_mm)}: {in_words(area, unit)}, "
                f"{'' if need.is_planned else 'and '}{need.words}"
            ),
            quantity=printed(area * (100 + need.waste_percent) / 100),
            unit=unit,
            unit_price=viewer.price_per(commission.glass.cost_per_m2, SQUARE_METRE),
            key=f"glass {work.glass_id}",
            kind="glass",
        )
    for material in _priced_materials(commission.studio, work.technique):
        yield material_use(material, work=work, times=times, viewer=viewer)


def area_for(viewer: Viewer, area_m2: float) -> tuple[Decimal, str]:
    """Return an area as it is printed for a reader, and its unit."""
    unit = viewer.unit(SQUARE_METRE)
    return printed(convert(_four(area_m2), SQUARE_METRE, unit)), unit


def material_use(
    material: Material,
    *,
    work: CommissionWork,
    times: tuple[PartKilnTime, ...],
    viewer: Viewer,
) -> MaterialUse:
    """Return how much of a material is used, in the reader's units, as printed."""
    unit, area_unit = viewer.unit(material.unit), viewer.unit(SQUARE_METRE)
    each = convert(material.amount_used, material.unit, unit)
    if material.used_per == UsedPer.PIECE:
        basis = Decimal(len(work.parts))
        words = "the piece and its maquette" if work.maquette else "1 piece"
    else:
        area, words = _area_of_use(material.used_per, work, times)
        basis, _ = area_for(viewer, area)
        each = convert_price(each, SQUARE_METRE, area_unit)
        words = f"{in_words(basis, area_unit)} {words}"
    each = each.quantize(FOUR_PLACES, ROUND_HALF_UP)
    return MaterialUse(
        label=material.name,
        explanation=f"{words}, {plain_number(each)} {unit} for each"
        if material.used_per == UsedPer.PIECE
        else f"{words}, {plain_number(each)} {unit}/{area_unit}",
        quantity=printed(basis * each),
        unit=unit,
        unit_price=viewer.price_per(material.cost_per_unit, material.unit),
        key=f"material {material.pk}",
        kind=material.kind,
    )


def _priced_materials(studio: Studio, technique: str) -> list[Material]:
    """Return the materials in quotes, without those another technique would use."""
    other = (
        MaterialKind.DECAL if technique == Technique.PAINTED else MaterialKind.ENAMEL
    )
    found = (
        Material.owned.for_studio(studio)
        .filter(is_retired=False, amount_used__gt=0)
        .exclude(used_per=UsedPer.NOT_PRICED)
        .exclude(kind=other)
    )
    return list(found.order_by("kind", "name", "pk"))


def _area_of_use(
    used_per: str, work: CommissionWork, times: tuple[PartKilnTime, ...]
) -> tuple[float, str]:
    """Return the square metres by which a material is counted, and what they are of."""
    of_passes = sum(
        part.area_m2 * part.painted_count * work.passes_per_layer for part in work.parts
    )
    of_fuses = sum(
        time.part.area_m2 * time.item.firing_count
        for time in times
        if time.item.kind != FiringKind.ENAMEL
    )
    return {
        UsedPer.PASS_AREA: (of_passes, "of passes"),
        UsedPer.FUSE_AREA: (of_fuses, "of shelf under the stacks"),
        UsedPer.ENAMEL_AREA: (of_passes, "of shelf under the layers"),
        UsedPer.FIRING_AREA: (
            of_passes + of_fuses,
            "of shelf under the layers and the stacks",
        ),
    }[UsedPer(used_per)]


def rule_minutes(
    commission: Commission, choices: QuoteChoices
) -> dict[str, tuple[Task, Decimal]]:
    """Return each task that the work takes, with the minutes of its rule, by its key."""
    work = CommissionWork.of(commission)
    stacks = _measured(work, tuple(_kiln_times(commission, work, choices)))
    return {
        task.key: (task, task.by_rule(*stacks))
        for task in choices.tasks
        if _applies(task, stacks)
    }


def _measured(work: CommissionWork, times: tuple[PartKilnTime, ...]) -> list[Measures]:
    """Return the measures of the piece, and of its maquette."""
    return [
        work.measures(
            part, firings=sum(t.item.firing_count for t in times if t.part == part)
        )
        for part in work.parts
    ]


def _applies(task: Task, stacks: list[Measures]) -> bool:
    """Return whether there is anything for a task to do: no decals, no setting them."""
    return not (task.counted or task.area) or any(
        one.count(task.counted) or one.area(task.area) for one in stacks
    )


def _labour(
    work: CommissionWork,
    choices: QuoteChoices,
    times: tuple[PartKilnTime, ...],
    viewer: Viewer,
) -> Iterator[LabourTime]:
    stacks = _measured(work, times)
    taxes = {TaxClass.MAIN: 0, TaxClass.SECOND: 1, TaxClass.UNTAXED: None}
    for task in choices.tasks:
        if minutes := task.minutes_of(*stacks):
            yield LabourTime(
                label=task.name,
                minutes=minutes,
                rate_per_hour=choices.labour_rate_per_hour,
                explanation=task_words(task, stacks, viewer),
                key=task.key,
                tax=taxes[task.tax],
            )


def _four(amount: float) -> Decimal:
    """Return an amount as a decimal of four places, as lines store it."""
    return Decimal(str(amount)).quantize(FOUR_PLACES, ROUND_HALF_UP)


def _plain(value: object) -> object:
    """Prepare dataclass fields for JSON: decimals as texts, tuples as lists."""
    if isinstance(value, Decimal):
        return str(value)
    if isinstance(value, dict):
        return {key: _plain(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(one) for one in value]
    return value
