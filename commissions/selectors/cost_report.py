"""What every accepted commission cost beside its quote: read in a fixed number of queries."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal

from django.db.models import Max, Q, Sum

from commissions.models import CommissionedPiece, Quote, QuoteLine
from commissions.pricing import DIRECT, Section
from firing.firings.selectors.kiln_use import kiln_use
from firing.models import FiringKind
from studio.models import Kiln, Studio, Technique
from studio.money import round_money
from studio.selectors.pieces import finished_pieces
from studio.selectors.stock_costs import material_costs
from studio.selectors.task_times import minutes_by_task

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class CostRow:
    """One commission, or several: quoted and real cost within what the studio got."""

    key: int | str
    name: str
    count: int
    price: Decimal
    quoted: Decimal
    real: Decimal
    minutes: Decimal
    labour: Decimal

    @property
    def left(self) -> Decimal:
        return self.price - self.real

    @property
    def margin_percent(self) -> Decimal:
        return self.left * 100 / self.price if self.price else ZERO

    @property
    def earned_per_hour(self) -> Decimal | None:
        """Return what an hour of work earned; none without hours."""
        if not self.minutes:
            return None
        return (self.labour + self.left) * 60 / self.minutes


@dataclass(frozen=True, slots=True, kw_only=True)
class CostReport:
    """Every finished commission in the studio's currency, newest first."""

    rows: tuple[CostRow, ...]
    by_client: tuple[CostRow, ...]
    by_technique: tuple[CostRow, ...]
    currency: str


@dataclass(slots=True)
class _Quoted:
    """The sums of a quote's lines; amounts and hours of tasks by their keys."""

    direct: Decimal = ZERO
    materials: Decimal = ZERO
    kilns: dict[str, Decimal] = field(default_factory=dict)
    energy: Decimal | None = None
    kwh_price: Decimal = ZERO
    labour: Decimal = ZERO
    minutes: Decimal = ZERO
    rate: Decimal = ZERO
    tasks: dict[str, tuple[Decimal, Decimal]] = field(default_factory=dict)
    overhead_percent: Decimal = ZERO
    gallery: Decimal = ZERO


def cost_report(studio: Studio) -> CostReport:
    """Return the report; as `costs.cost_of_commission` says of each alone.

    Only of work that is finished: while it goes on, its own page says what it took so
    far. What was not recorded counts as quoted.
    """
    minutes = minutes_by_task(studio)
    quoted = _sums(studio, {key for tasks in minutes.values() for key in tasks})
    kiln_cost, kwh = _kilns(studio)
    materials = material_costs(studio)
    pieces = _finished(studio)
    rows, clients, techniques = [], [], []
    for pk, commission, title, client_pk, client, technique, net in _accepted(studio):
        if commission not in pieces:
            continue
        sums, own = quoted[pk], pieces[commission]
        real, spent, labour = sums.direct, sums.minutes, sums.labour
        if took := [materials[one] for one in own if one in materials]:
            real += sum(took, ZERO) - sums.materials
        for kind in ("enamel", "fuse"):
            fired = sum((kiln_cost.get((one, kind), ZERO) for one in own), ZERO)
            if fired:
                real += fired - sums.kilns.get(kind, ZERO)
        used = sum(kwh.get(one, 0.0) for one in own)
        if sums.energy is not None and used:
            real += Decimal(str(round(used, 1))) * sums.kwh_price - sums.energy
        for key in {key for one in own for key in minutes.get(one, ())}:
            taken = Decimal(sum(minutes.get(one, {}).get(key, 0) for one in own))
            amount, hours = sums.tasks.get(key, (ZERO, ZERO))
            worth = taken * sums.rate / 60
            real += worth - amount
            labour += worth - amount
            spent += taken - hours * 60
        row = CostRow(
            key=commission,
            name=title,
            count=1,
            price=net - sums.gallery,
            quoted=_with_overhead(sums.direct, sums, studio.currency),
            real=_with_overhead(real, sums, studio.currency),
            minutes=spent,
            labour=labour,
        )
        rows.append(row)
        clients.append((client_pk, client, row))
        techniques.append((technique, Technique(technique).label, row))
    return CostReport(
        rows=tuple(rows),
        by_client=_grouped(clients),
        by_technique=_grouped(techniques),
        currency=studio.currency,
    )


def _kilns(studio: Studio) -> tuple[dict[tuple[int, str], Decimal], dict[int, float]]:
    """Return what kilns cost by piece and kind, and the energy by piece."""
    rates = dict(Kiln.owned.for_studio(studio).values_list("pk", "hourly_rate"))
    cost: dict[tuple[int, str], Decimal] = defaultdict(Decimal)
    kwh: dict[int, float] = defaultdict(float)
    for use in kiln_use(studio):
        if use.piece is not None:
            kind = "enamel" if use.kind == FiringKind.ENAMEL else "fuse"
            hours = Decimal(str(use.hours * use.share))
            cost[use.piece, kind] += rates[use.kiln] * hours
            kwh[use.piece] += (use.kwh or 0.0) * use.share
    return cost, kwh


def _finished(studio: Studio) -> dict[int, list[int]]:
    """Return the pieces of the commissions whose pieces are all finished."""
    done = set(finished_pieces(studio).order_by().values_list("pk", flat=True))
    pieces: dict[int, list[int]] = defaultdict(list)
    open_ones = set()
    rows = CommissionedPiece.owned.for_studio(studio)
    for commission, piece, replaced in rows.values_list(
        "commission_id", "piece_id", "replaced_at"
    ):
        pieces[commission].append(piece)
        if replaced is None and piece not in done:
            open_ones.add(commission)
    return {key: own for key, own in pieces.items() if key not in open_ones}


def _accepted(
    studio: Studio,
) -> list[tuple[int, int, str, int, str, str, Decimal]]:
    """Return the quote that counts of each commission, newest commission first."""
    rows = (
        Quote.owned.for_studio(studio)
        .filter(accepted_at__isnull=False, currency=studio.currency)
        .order_by("-commission_id", "-version")
        .values_list(
            "pk",
            "commission_id",
            "commission__title",
            "commission__client_id",
            "commission__client__name",
            "commission__technique",
            "net",
        )
    )
    newest: dict[int, tuple[int, int, str, int, str, str, Decimal]] = {}
    for row in rows:
        newest.setdefault(row[1], row)
    return list(newest.values())


def _sums(studio: Studio, tasks: set[str]) -> dict[int, _Quoted]:
    """Return the sums of accepted quotes' lines, by what their real cost stands beside.

    Of tasks only those that are named: what nobody recorded needs no sum of its own.
    """
    found: dict[int, _Quoted] = defaultdict(_Quoted)
    rows = (
        QuoteLine.owned.for_studio(studio)
        .filter(quote__accepted_at__isnull=False)
        .order_by()
    )
    sections = [*DIRECT, Section.OVERHEAD, Section.GALLERY]
    for quote, section, amount, quantity, unit_price in (
        rows.filter(section__in=sections)
        .values_list("quote_id", "section")
        .annotate(Sum("amount"), Sum("quantity"), Max("unit_price"))
    ):
        one = found[quote]
        if section in DIRECT:
            one.direct += amount
        if section == Section.LABOUR:
            one.labour, one.minutes, one.rate = amount, quantity * 60, unit_price
        elif section == Section.MATERIALS:
            one.materials = amount
        elif section == Section.ENERGY:
            one.energy, one.kwh_price = amount, unit_price
        elif section == Section.OVERHEAD:
            one.overhead_percent = quantity
        elif section == Section.GALLERY:
            one.gallery = amount
    apart = Q(section=Section.KILN_TIME) | Q(section=Section.LABOUR, key__in=tasks)
    for quote, section, key, amount, quantity in rows.filter(apart).values_list(
        "quote_id", "section", "key", "amount", "quantity"
    ):
        one = found[quote]
        if section == Section.LABOUR:
            one.tasks[key] = (amount, quantity)
        else:
            kind = "enamel" if key == FiringKind.ENAMEL else "fuse"
            one.kilns[kind] = one.kilns.get(kind, ZERO) + amount
    return found


def _with_overhead(direct: Decimal, sums: _Quoted, currency: str) -> Decimal:
    return round_money(direct + direct * sums.overhead_percent / 100, currency)


def _grouped(rows: Iterable[tuple[int | str, str, CostRow]]) -> tuple[CostRow, ...]:
    found: dict[int | str, list[CostRow]] = defaultdict(list)
    names: dict[int | str, str] = {}
    for key, name, row in rows:
        found[key].append(row)
        names[key] = name
    grouped = [
        CostRow(
            key=key,
            name=names[key],
            count=len(own),
            price=sum((one.price for one in own), ZERO),
            quoted=sum((one.quoted for one in own), ZERO),
            real=sum((one.real for one in own), ZERO),
            minutes=sum((one.minutes for one in own), ZERO),
            labour=sum((one.labour for one in own), ZERO),
        )
        for key, own in found.items()
    ]
    return tuple(sorted(grouped, key=lambda one: (one.name, str(one.key))))
