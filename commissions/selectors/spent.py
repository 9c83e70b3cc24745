"""What pieces cost that have no quote: made for stock, for a show, or to try something.

Work, kilns, electricity and overhead at the studio's rates of today, stock as it was
taken. A piece's own maquettes count with it, unless a commission has them.
"""

from collections import defaultdict
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from commissions.costing import Spent, SpentLine, spent_of
from commissions.models import CommissionedPiece
from commissions.pricing import Section
from commissions.selectors.costs import (
    Recorded,
    energy_of,
    kilns_worth,
    loads_words,
    lost_worth,
    recorded_of,
    tenths,
)
from commissions.selectors.rates import StudioRates, studio_rates
from firing.firings.selectors.kiln_use import KilnUse, kiln_use
from firing.models import FiringKind
from studio.models import Kiln, Piece, Studio
from studio.money import plain_number, round_money
from studio.selectors.pieces import finished_pieces, pieces
from studio.selectors.stock_costs import material_costs
from studio.selectors.task_times import minutes_by_task
from studio.viewer import Viewer

ZERO = Decimal(0)
MAQUETTE = "maquette"


def maquettes_without_commission(piece: Piece) -> list[int]:
    """Return the keys of a piece's maquettes that no commission has."""
    found = Piece.owned.for_studio(piece.studio).filter(maquette_of=piece)
    rows = found.exclude(pk__in=_commissioned(piece.studio)).order_by("pk")
    return list(rows.values_list("pk", flat=True))


def spent_on_piece(piece: Piece, part: str = "") -> Spent:
    """Return what a piece cost so far, whatever it is made for.

    Parameters
    ----------
    part : str
        `piece` or `maquette` for one of them; empty for both.
    """
    keys = [] if part == MAQUETTE else [piece.pk]
    if part != "piece":
        keys += maquettes_without_commission(piece)
    return _spent(piece.studio, dict.fromkeys(keys))


def spent_on_commission(studio: Studio, commission: int) -> Spent:
    """Return what a commission's pieces cost so far, where no quote can stand beside."""
    rows = CommissionedPiece.owned.for_studio(studio).filter(commission=commission)
    return _spent(studio, dict(rows.values_list("piece_id", "replaced_at")))


def _spent(studio: Studio, keys: dict[int, datetime | None]) -> Spent:
    rates = studio_rates(studio)
    kilns = {one.pk: one for one in Kiln.owned.for_studio(studio)}
    recorded = recorded_of(studio, keys)
    return spent_of(
        _lines(studio, recorded, rates, kilns),
        overhead_percent=rates.overhead_percent,
        lost=lost_worth(recorded, rates.labour_rate_per_hour, kilns, studio.currency),
        currency=studio.currency,
    )


def _lines(
    studio: Studio, recorded: Recorded, rates: StudioRates, kilns: dict[int, Kiln]
) -> Iterator[SpentLine]:
    """Yield a line for everything of which something was recorded."""
    currency, write = studio.currency, Viewer.of_studio(studio).labour
    if recorded.material is not None:
        yield SpentLine(
            section=Section.MATERIALS,
            label="Material",
            amount=round_money(recorded.material, currency),
            much="Taken from stock",
        )
    for label, is_enamel in (("Enamel firings", True), ("Fuse and anneal", False)):
        uses = [u for u in recorded.uses if (u.kind == FiringKind.ENAMEL) is is_enamel]
        if uses:
            yield SpentLine(
                section=Section.KILN_TIME,
                label=label,
                amount=round_money(kilns_worth(uses, kilns), currency),
                much=_uses_words(uses, kilns),
            )
    kwh = None if rates.kiln_rate_has_energy else energy_of(recorded.uses)
    if kwh is not None:
        yield SpentLine(
            section=Section.ENERGY,
            label="Electricity",
            amount=round_money(kwh * rates.energy_price_per_kwh, currency),
            much=f"{plain_number(kwh)} kWh by the kilns' models",
        )
    names = {task.key: task.name for task in rates.tasks}
    # In the order of the bench; tasks that the studio has no more come last.
    for key in sorted(recorded.minutes, key=lambda one: (_rank(one, names), one)):
        taken = recorded.minutes[key]
        yield SpentLine(
            section=Section.LABOUR,
            label=names.get(key, key),
            amount=round_money(taken * rates.labour_rate_per_hour / 60, currency),
            much=write(taken),
            minutes=Decimal(taken),
        )


def _rank(key: str, names: dict[str, str]) -> int:
    return list(names).index(key) if key in names else len(names)


def _uses_words(uses: list[KilnUse], kilns: dict[int, Kiln]) -> str:
    """Say how much of which kilns, such as "2.5 loads in Heron, 31 h"."""
    loads = Decimal(str(sum(use.share for use in uses)))
    hours = Decimal(str(sum(use.hours * use.share for use in uses)))
    names = " and ".join(sorted({kilns[use.kiln].name for use in uses}))
    return f"{loads_words(loads)} in {names}, {tenths(hours)} h"


def _commissioned(studio: Studio) -> Collection[int]:
    rows = CommissionedPiece.owned.for_studio(studio)
    return set(rows.values_list("piece_id", flat=True))


@dataclass(frozen=True, slots=True, kw_only=True)
class SpentRow:
    """A piece without a commission and what it cost, its maquettes included."""

    piece: int
    title: str
    cost: Decimal
    minutes: int


def spent_report(studio: Studio) -> tuple[SpentRow, ...]:
    """Return every finished piece without a commission, newest first; as its page says.

    Read in a fixed number of queries.
    """
    commissioned = _commissioned(studio)
    root: dict[int, int] = {}
    for pk, of in pieces(studio).order_by().values_list("pk", "maquette_of"):
        if pk not in commissioned:
            root[pk] = pk if of is None or of in commissioned else of
    rates = studio_rates(studio)
    hourly = dict(Kiln.owned.for_studio(studio).values_list("pk", "hourly_rate"))
    # By piece and line, rounded one by one as on its page.
    lines: dict[int, dict[str, Decimal]] = defaultdict(lambda: defaultdict(Decimal))
    kwh: dict[int, float] = defaultdict(float)
    minutes: dict[int, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    for pk, took in material_costs(studio).items():
        if pk in root:
            lines[root[pk]]["material"] += took
    for use in kiln_use(studio):
        if use.piece in root:
            own, hours = root[use.piece], Decimal(str(use.hours * use.share))
            kind = "enamel" if use.kind == FiringKind.ENAMEL else "fuse"
            lines[own][kind] += hourly[use.kiln] * hours
            kwh[own] += (use.kwh or 0.0) * use.share
    for pk, tasks in minutes_by_task(studio).items():
        if pk in root:
            for key, taken in tasks.items():
                minutes[root[pk]][key] += taken
    found = []
    roots = set(root.values())
    for piece in finished_pieces(studio):
        if piece.pk not in roots:
            continue
        own_lines, taken_by = list(lines[piece.pk].values()), minutes[piece.pk]
        if not rates.kiln_rate_has_energy:
            used = Decimal(str(round(kwh[piece.pk], 1)))
            own_lines.append(used * rates.energy_price_per_kwh)
        own_lines += [
            taken * rates.labour_rate_per_hour / 60 for taken in taken_by.values()
        ]
        direct = sum((round_money(one, studio.currency) for one in own_lines), ZERO)
        overhead = direct * rates.overhead_percent / 100
        found.append(
            SpentRow(
                piece=piece.pk,
                title=piece.title,
                cost=direct + round_money(overhead, studio.currency),
                minutes=sum(taken_by.values()),
            )
        )
    return tuple(found)
