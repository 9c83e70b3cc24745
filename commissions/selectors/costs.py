"""What a commission really cost, from its records, beside its accepted quote.

Of the whole commission, or of the piece or its maquette alone. The quoted price of one
of them is in proportion to its quoted cost.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from commissions.costing import Cost, CostLine, cost_of
from commissions.models import Commission, CommissionedPiece, Quote
from commissions.pricing import DIRECT, Section
from commissions.selectors.quotes import accepted_quote
from commissions.selectors.rates import QuoteChoices
from commissions.selectors.work import CommissionWork, WorkPart
from firing.firings.selectors.kiln_use import KilnUse, kiln_use
from firing.models import FiringKind
from studio.models import Kiln, Studio
from studio.money import format_money, plain_number, round_money
from studio.selectors.pieces import finished_pieces
from studio.selectors.stock_costs import material_costs
from studio.selectors.task_times import lost_minutes, minutes_by_task
from studio.viewer import Viewer

TENTH = Decimal("0.1")
ZERO = Decimal(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorded:
    """What was recorded of pieces; `lost_pieces` are those made once more."""

    minutes: Mapping[str, int]
    lost_minutes: int
    uses: tuple[KilnUse, ...]
    material: Decimal | None
    lost_pieces: frozenset[int]
    is_open: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Quoted:
    """What was quoted for the whole work, or for one stack of it.

    Attributes
    ----------
    minutes : mapping
        By the tasks' keys.
    kiln_times : list
        As the quote keeps them, each with its amount.
    share : Decimal
        Of the quote's material, by area of glass.
    """

    minutes: Mapping[str, Decimal]
    kiln_times: list[tuple[dict[str, Any], Decimal]]
    energy: Decimal
    share: Decimal


def cost_of_commission(commission: Commission, part: str = "") -> Cost | None:
    """Return what a commission cost so far beside its accepted quote; none without one.

    Parameters
    ----------
    part : str
        The name of one of its stacks, `piece` or `maquette`; empty for all.
    """
    quote = accepted_quote(commission)
    if quote is None or quote.currency != commission.studio.currency:
        return None
    rows = CommissionedPiece.owned.for_studio(commission.studio).filter(
        commission=commission
    )
    if part:
        rows = rows.filter(is_maquette=part == "maquette")
    keys = dict(rows.values_list("piece_id", "replaced_at"))
    recorded = recorded_of(commission.studio, keys)
    viewer = Viewer.of_studio(commission.studio)
    choices = QuoteChoices.from_json(quote.inputs["choices"])
    quoted = _quoted(quote, choices, part)
    sums = _sums(quote)
    kilns = {k.pk: k for k in Kiln.owned.for_studio(commission.studio)}
    lines = list(_lines(quote, quoted, recorded, choices, kilns, sums, viewer))
    price = quote.net - sums.get(Section.GALLERY, ZERO)
    allowance = sums.get(Section.REMAKE, ZERO)
    if part:
        every = sum((sums.get(one, ZERO) for one in DIRECT), ZERO)
        share = sum((one.quoted for one in lines), ZERO) / every if every else ZERO
        price = round_money(price * share, quote.currency)
        allowance = round_money(allowance * share, quote.currency)
    return cost_of(
        lines,
        price=price,
        overhead_percent=choices.overhead_percent,
        allowance=allowance,
        lost=lost_worth(recorded, choices.labour_rate_per_hour, kilns, quote.currency),
        currency=quote.currency,
    )


def recorded_of(studio: Studio, keys: Mapping[int, datetime | None]) -> Recorded:
    """Return what was recorded of pieces, by when each was replaced by another."""
    by_piece = minutes_by_task(studio, keys)
    minutes: dict[str, int] = defaultdict(int)
    for tasks in by_piece.values():
        for key, one in tasks.items():
            minutes[key] += one
    replaced = frozenset(key for key, at in keys.items() if at is not None)
    standing = [key for key in keys if key not in replaced]
    finished = finished_pieces(studio).filter(pk__in=standing).count()
    took = material_costs(studio, keys)
    return Recorded(
        minutes=minutes,
        material=sum(took.values(), ZERO) if took else None,
        lost_minutes=lost_minutes(studio, standing)
        + sum(sum(by_piece.get(key, {}).values()) for key in replaced),
        uses=tuple(kiln_use(studio, keys)),
        lost_pieces=replaced,
        is_open=finished < len(standing),
    )


def _quoted(quote: Quote, choices: QuoteChoices, part: str) -> Quoted:
    work = CommissionWork.from_json(quote.inputs["work"])
    lines = [x for x in quote.lines.all() if x.section == Section.KILN_TIME]
    times = [
        (time, line.amount)
        for time, line in zip(quote.inputs["kiln_times"], lines, strict=False)
        if not part or time["part"] == part
    ]
    kwh = sum(
        (Decimal(str(time["kwh_each"])) * _loads(time) for time, _ in times), ZERO
    )
    minutes = {
        one["key"]: Decimal(one["minutes"]) for one in quote.inputs["pricing"]["labour"]
    }
    stacks = list(work.parts)
    if part:
        stacks = [one for one in stacks if one.name == part]
        firings = sum(time["firing_count"] for time, _ in times)
        minutes = _minutes_of_part(work, stacks, choices, firings)
    area = sum(one.area_m2 * one.layer_count for one in work.parts)
    own = sum(one.area_m2 * one.layer_count for one in stacks)
    return Quoted(
        minutes={key: one for key, one in minutes.items() if one},
        kiln_times=times,
        energy=kwh * choices.energy_price_per_kwh,
        share=Decimal(str(own / area)) if part else Decimal(1),
    )


def _minutes_of_part(
    work: CommissionWork, stacks: list[WorkPart], choices: QuoteChoices, firings: int
) -> dict[str, Decimal]:
    """Return the quoted minutes of one stack by task; none where it is not made."""
    if not stacks:
        return {}
    (stack,) = stacks
    measured = work.measures(stack, firings=firings)
    return {
        task.key: task.minutes_of_maquette(measured)
        if stack == work.maquette
        else task.minutes_of(measured)
        for task in choices.tasks
    }


def _loads(time: Mapping[str, Any]) -> Decimal:
    return Decimal(str(time.get("loads", time["firing_count"])))


def _sums(quote: Quote) -> dict[str, Decimal]:
    sums: dict[str, Decimal] = defaultdict(Decimal)
    for line in quote.lines.all():
        sums[line.section] += line.amount
    return sums


def lost_worth(
    recorded: Recorded,
    labour_rate: Decimal,
    kilns: Mapping[int, Kiln],
    currency: str,
) -> Decimal:
    """Return what lost passes and lost pieces took of work and kilns."""
    kiln_cost = ZERO
    for use in recorded.uses:
        is_whole = use.piece in recorded.lost_pieces
        share = use.share if is_whole else use.lost_share
        kiln_cost += kilns[use.kiln].hourly_rate * Decimal(str(use.hours * share))
    work = recorded.lost_minutes * labour_rate / 60
    return round_money(kiln_cost + work, currency)


def _lines(
    quote: Quote,
    quoted: Quoted,
    recorded: Recorded,
    choices: QuoteChoices,
    kilns: Mapping[int, Kiln],
    sums: Mapping[str, Decimal],
    viewer: Viewer,
) -> Iterator[CostLine]:
    currency = quote.currency
    yield CostLine(
        section=Section.MATERIALS,
        label="Material",
        quoted=round_money(sums.get(Section.MATERIALS, ZERO) * quoted.share, currency),
        real=None
        if recorded.material is None
        else round_money(recorded.material, currency),
        is_open=recorded.is_open,
        reason="" if recorded.material is None else "Taken from stock",
    )
    yield from _kiln_lines(quoted, recorded, kilns, currency)
    if not choices.kiln_rate_has_energy:
        yield _energy_line(quoted, recorded, choices, currency)
    yield from _labour_lines(quoted, recorded, choices, currency, viewer)


def _kiln_lines(
    quoted: Quoted, recorded: Recorded, kilns: Mapping[int, Kiln], currency: str
) -> Iterator[CostLine]:
    """Yield enamel firings and fuses: as quoted, and where they were really fired."""
    for label, is_enamel in (("Enamel firings", True), ("Fuse and anneal", False)):
        own = [
            (time, amount)
            for time, amount in quoted.kiln_times
            if (time["kind"] == FiringKind.ENAMEL) is is_enamel
        ]
        uses = [
            use for use in recorded.uses if (use.kind == FiringKind.ENAMEL) is is_enamel
        ]
        if not own and not uses:
            continue
        real = kilns_worth(uses, kilns)
        yield CostLine(
            section=Section.KILN_TIME,
            label=label,
            quoted=round_money(sum((one for _, one in own), ZERO), currency),
            real=round_money(real, currency) if uses else None,
            is_open=recorded.is_open,
            reason=_kiln_reason([time for time, _ in own], uses, kilns) if uses else "",
        )


def kilns_worth(uses: Iterable[KilnUse], kilns: Mapping[int, Kiln]) -> Decimal:
    """Return what uses of kilns cost by the hour, not rounded."""
    return sum(
        (kilns[u.kiln].hourly_rate * Decimal(str(u.hours * u.share)) for u in uses),
        ZERO,
    )


def energy_of(uses: Iterable[KilnUse]) -> Decimal | None:
    """Return the energy of uses of kilns [kWh], to a tenth; none where none is known."""
    known = [u.kwh * u.share for u in uses if u.kwh is not None]
    return Decimal(str(round(sum(known), 1))) if known else None


def _kiln_reason(
    quoted: list[dict[str, Any]], uses: list[KilnUse], kilns: Mapping[int, Kiln]
) -> str:
    """Say what was other than quoted: the kilns, how many loads, how many hours."""
    told = []
    planned = sorted({time["kiln"] for time in quoted})
    real = sorted({kilns[use.kiln].name for use in uses})
    if planned and planned != real:
        told.append(f"in {' and '.join(real)}, not {' and '.join(planned)}")
    loads = sum((_loads(time) for time in quoted), ZERO)
    used = Decimal(str(sum(use.share for use in uses)))
    if abs(loads - used) >= TENTH:
        told.append(f"{loads_words(used)}, not {tenths(loads)}")
    hours = sum((Decimal(str(t["hours_each"])) * _loads(t) for t in quoted), ZERO)
    taken = Decimal(str(sum(use.hours * use.share for use in uses)))
    if abs(hours - taken) >= 1:
        told.append(f"{tenths(taken)} h, not {tenths(hours)} h")
    said = "; ".join(told)
    return said[:1].upper() + said[1:]


def loads_words(loads: Decimal) -> str:
    """Say how many loads, such as "2.5 loads"."""
    return f"{tenths(loads)} {'load' if tenths(loads) == '1' else 'loads'}"


def tenths(number: Decimal) -> str:
    """Write a number to a tenth, without noughts."""
    return plain_number(number.quantize(TENTH, ROUND_HALF_UP))


def _energy_line(
    quoted: Quoted, recorded: Recorded, choices: QuoteChoices, currency: str
) -> CostLine:
    kwh = energy_of(recorded.uses)
    return CostLine(
        section=Section.ENERGY,
        label="Electricity",
        quoted=round_money(quoted.energy, currency),
        real=None
        if kwh is None
        else round_money(kwh * choices.energy_price_per_kwh, currency),
        is_open=recorded.is_open,
        reason="" if kwh is None else f"{plain_number(kwh)} kWh by the kilns' models",
    )


def _labour_lines(
    quoted: Quoted,
    recorded: Recorded,
    choices: QuoteChoices,
    currency: str,
    viewer: Viewer,
) -> Iterator[CostLine]:
    """Yield each quoted task, and those that were recorded beside them."""
    names = {task.key: task.name for task in choices.tasks}
    rate = choices.labour_rate_per_hour
    for key in dict.fromkeys([*quoted.minutes, *recorded.minutes]):
        minutes, taken = quoted.minutes.get(key, ZERO), recorded.minutes.get(key)
        reason = ""
        if taken is not None and taken != minutes:
            reason = f"{viewer.labour(taken)}, not {viewer.labour(int(minutes))}"
        spent = minutes if taken is None else Decimal(taken)
        if recorded.is_open:
            spent = max(spent, minutes)
        yield CostLine(
            section=Section.LABOUR,
            label=names.get(key, key),
            quoted=round_money(minutes * rate / 60, currency),
            real=None if taken is None else round_money(taken * rate / 60, currency),
            minutes=spent,
            is_open=recorded.is_open,
            reason=reason,
        )


def difference_words(line: CostLine, currency: str) -> str:
    """Say a difference with its sign: "+$410.00"; nothing where there is none."""
    more = line.difference
    if not more:
        return ""
    return f"{'+' if more > 0 else '−'}{format_money(abs(more), currency)}"
