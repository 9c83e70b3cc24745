"""What work really cost beside its quotes: one commission, and all of them."""

from decimal import Decimal
from typing import Any

from django.http import HttpResponse
from django.views.decorators.http import require_safe

from commissions.costing import Cost, CostLine
from commissions.pricing import Section
from commissions.selectors.cost_report import CostRow, cost_report
from commissions.selectors.costs import cost_of_commission, difference_words
from commissions.views.found import commission_or_404
from studio.http import StudioRequest, render_page, requires
from studio.money import plain_number
from studio.roles import Can
from studio.viewer import Viewer

BAR = 1000
LOOKS = (
    ("Material", "material", Section.MATERIALS),
    ("Kilns", "kiln", Section.KILN_TIME),
    ("Electricity", "energy", Section.ENERGY),
    ("Work", "work", Section.LABOUR),
)
PARTS = (("", "All of it"), ("piece", "Piece"), ("maquette", "Maquette"))
GROUPS = (("", "Commissions"), ("client", "Clients"), ("technique", "Techniques"))


@require_safe
@requires(Can.SEE_MONEY)
def commission_cost(request: StudioRequest, pk: int) -> HttpResponse:
    """Show what a commission cost so far: a picture first, the lines behind it."""
    commission = commission_or_404(request, pk)
    part = request.GET.get("part", "")
    if part not in {key for key, _ in PARTS}:
        part = ""
    cost = cost_of_commission(commission, part)
    viewer = Viewer.of_studio(request.studio)
    context: dict[str, Any] = {
        "commission": commission,
        "tabs": [
            {
                "label": name,
                "href": f"?part={key}" if key else "?",
                "current": key == part,
            }
            for key, name in PARTS
        ]
        if commission.maquette_layer_count
        else [],
    }
    if cost is not None:
        context |= _texts(cost, viewer)
    return render_page(request, "commissions/commission_cost.html", context)


def _texts(cost: Cost, viewer: Viewer) -> dict[str, Any]:
    def money(amount: Decimal) -> str:
        return viewer.money(amount, cost.currency)

    largest = max(cost.price, cost.quoted_cost, cost.cost) or Decimal(1)
    told = [one for one in cost.lines if one.reason and one.difference]
    return {
        "cost": cost,
        "bars": [
            ("Quoted", _bar(cost, largest, quoted=True), money(cost.quoted_cost)),
            ("Real", _bar(cost, largest, quoted=False), money(cost.cost)),
        ],
        "price_x": round(cost.price * BAR / largest),
        "price": money(cost.price),
        "left": money(abs(cost.left)),
        "is_loss": cost.left < 0,
        "margin": plain_number(round(cost.margin_percent, 1)),
        "earned": money(cost.earned_per_hour) if cost.earned_per_hour else "",
        "hours": viewer.labour(int(cost.minutes)),
        "allowance": money(cost.allowance),
        "lost": money(cost.lost),
        "reasons": [
            (one.label, one.reason, difference_words(one, cost.currency))
            for one in sorted(told, key=lambda one: -abs(one.difference))
        ],
        "rows": [
            (
                one.label,
                money(one.quoted),
                "not recorded" if one.real is None else money(one.real),
                difference_words(one, cost.currency),
                one.reason,
            )
            for one in cost.lines
        ],
    }


def _bar(cost: Cost, largest: Decimal, *, quoted: bool) -> list[dict[str, Any]]:
    """Return the stretches of a bar: direct lines by section, then overhead."""

    def amount(one: CostLine) -> Decimal:
        return one.quoted if quoted else one.counted

    parts = [
        (
            name,
            look,
            sum((amount(x) for x in cost.lines if x.section == section), Decimal(0)),
        )
        for name, look, section in LOOKS
    ]
    whole = cost.quoted_cost if quoted else cost.cost
    direct = sum((one for _, _, one in parts), Decimal(0))
    parts.append(("Overhead", "overhead", whole - direct))
    found, until = [], Decimal(0)
    for name, look, one in parts:
        x = round(until * BAR / largest)
        until += one
        width = round(until * BAR / largest) - x
        found.append({"name": name, "look": look, "x": x, "width": width})
    return found


@require_safe
@requires(Can.SEE_MONEY)
def cost_list(request: StudioRequest) -> HttpResponse:
    """Show what every accepted commission cost, by commission, client or technique."""
    by = request.GET.get("by", "")
    report = cost_report(request.studio)
    rows = {"client": report.by_client, "technique": report.by_technique}.get(
        by, report.rows
    )
    viewer = Viewer.of_studio(request.studio)
    largest = max([max(row.price, row.real) for row in rows] or [Decimal(1)])
    context = {
        "rows": [_row(row, largest, viewer, report.currency) for row in rows],
        "is_by_commission": by not in {"client", "technique"},
        "tabs": [
            {"label": name, "href": f"?by={key}" if key else "?", "current": key == by}
            for key, name in GROUPS
        ],
    }
    return render_page(request, "commissions/cost_list.html", context)


def _row(
    row: CostRow, largest: Decimal, viewer: Viewer, currency: str
) -> dict[str, Any]:
    scale = BAR / (largest or Decimal(1))
    earned = row.earned_per_hour
    return {
        "row": row,
        "price_x": round(row.price * scale),
        "quoted_width": round(row.quoted * scale),
        "real_width": round(row.real * scale),
        "is_loss": row.left < 0,
        "price": viewer.money(row.price, currency),
        "real": viewer.money(row.real, currency),
        "quoted": viewer.money(row.quoted, currency),
        "margin": plain_number(round(row.margin_percent, 1)),
        "earned": viewer.money(earned, currency) if earned is not None else "",
    }
