"""What work really cost: beside its quotes, one commission and all of them, and without."""

from decimal import Decimal
from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_safe

from commissions.costing import Cost, CostLine, Spent
from commissions.pricing import Section
from commissions.selectors.commissions import commission_of_piece
from commissions.selectors.cost_report import CostRow, cost_report
from commissions.selectors.costs import cost_of_commission, difference_words
from commissions.selectors.spent import (
    maquettes_without_commission,
    spent_on_commission,
    spent_on_piece,
    spent_report,
)
from commissions.views.found import commission_or_404
from studio.http import StudioRequest, piece_or_404, render_page, requires
from studio.money import plain_number
from studio.roles import Can
from studio.selectors.pictures import looks_of_pieces
from studio.stages import Stage
from studio.viewer import Viewer

BAR = 1000
LOOKS = (
    ("Material", "material", Section.MATERIALS),
    ("Kilns", "kiln", Section.KILN_TIME),
    ("Electricity", "energy", Section.ENERGY),
    ("Work", "work", Section.LABOUR),
)
# Without any of these, what is recorded of a work is not all of it.
MUST_BE_THERE = {Section.MATERIALS, Section.KILN_TIME, Section.LABOUR}
PARTS = (("", "All of it"), ("piece", "Piece"), ("maquette", "Maquette"))
GROUPS = (
    ("", "Commissions"),
    ("client", "Clients"),
    ("technique", "Techniques"),
    ("own", "No commission"),
)


@require_safe
@requires(Can.SEE_MONEY)
def commission_cost(request: StudioRequest, pk: int) -> HttpResponse:
    """Show what a commission cost so far: a picture first, the lines behind it."""
    commission = commission_or_404(request, pk)
    part = _part(request)
    cost = cost_of_commission(commission, part)
    viewer = Viewer.of_studio(request.studio)
    context: dict[str, Any] = {
        "commission": commission,
        "tabs": _tabs(PARTS, "part", part)
        if cost is not None and commission.maquette_layer_count
        else [],
    }
    if cost is not None:
        context |= _texts(cost, viewer)
    elif (spent := spent_on_commission(request.studio, commission.pk)).lines:
        context |= _spent_texts(spent, viewer, so_far=True)
    return render_page(request, "commissions/commission_cost.html", context)


@require_safe
@requires(Can.SEE_MONEY)
def piece_cost(request: StudioRequest, pk: int) -> HttpResponse:
    """Show what a piece without a commission cost so far; one with, on its page."""
    view = piece_or_404(request, pk)
    commission = commission_of_piece(request.studio, pk)
    if commission is not None:
        part = "maquette" if view.piece.maquette_of_id else "piece"
        url = reverse("commissions:commission_cost", args=[commission.pk])
        whole = not commission.maquette_layer_count
        return redirect(url if whole else f"{url}?part={part}")
    part = _part(request)
    spent = spent_on_piece(view.piece, part)
    so_far = view.stage not in {Stage.FINISHED, Stage.LOST, Stage.STOPPED}
    context: dict[str, Any] = {
        "piece": view.piece,
        "tabs": _tabs(PARTS, "part", part)
        if maquettes_without_commission(view.piece)
        else [],
    }
    if spent.lines:
        viewer = Viewer.of_studio(request.studio)
        context |= _spent_texts(spent, viewer, so_far=so_far)
    return render_page(request, "commissions/piece_cost.html", context)


def _part(request: StudioRequest) -> str:
    part = request.GET.get("part", "")
    return part if part in {key for key, _ in PARTS} else ""


def _tabs(
    choices: tuple[tuple[str, str], ...], name: str, chosen: str
) -> list[dict[str, Any]]:
    return [
        {
            "label": label,
            "href": f"?{name}={key}" if key else "?",
            "current": key == chosen,
        }
        for key, label in choices
    ]


def _spent_texts(spent: Spent, viewer: Viewer, *, so_far: bool) -> dict[str, Any]:
    """Return a bar, its key with amounts, and the lines of work without a quote."""
    parts: list[tuple[str, str, Decimal, str]] = [
        (name, look, spent.of_section(section), section)
        for name, look, section in LOOKS
    ]
    parts.append(("Overhead", "overhead", spent.overhead, ""))
    recorded = {line.section for line in spent.lines}
    missing = [
        name.lower()
        for name, _, _, section in parts
        if section in MUST_BE_THERE and section not in recorded
    ]
    return {
        "spent": spent,
        "so_far": so_far,
        "whole": viewer.money(spent.cost),
        "bar": [
            one | {"amount": viewer.money(amount)}
            for one, (_, _, amount, _) in zip(
                _stretches([part[:3] for part in parts], spent.cost or Decimal(1)),
                parts,
                strict=True,
            )
            if amount
        ],
        "hours": viewer.labour(int(spent.minutes)) if spent.minutes else "",
        "lost": viewer.money(spent.lost) if spent.lost else "",
        "missing": " or ".join(missing),
        "rows": [
            (line.label, viewer.money(line.amount), line.much) for line in spent.lines
        ]
        + (
            [("Overhead", viewer.money(spent.overhead), "On all of the above")]
            if spent.overhead
            else []
        ),
    }


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
    return _stretches(parts, largest)


def _stretches(
    parts: list[tuple[str, str, Decimal]], largest: Decimal
) -> list[dict[str, Any]]:
    """Return where each amount of a bar is drawn, one after the other."""
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
    """Show what finished work cost: by commission, client, technique, or without any."""
    by = request.GET.get("by", "")
    tabs = _tabs(GROUPS, "by", by)
    if by == "own":
        context = {"pieces": _spent_rows(request), "is_own": True, "tabs": tabs}
        return render_page(request, "commissions/cost_list.html", context)
    report = cost_report(request.studio)
    rows = {"client": report.by_client, "technique": report.by_technique}.get(
        by, report.rows
    )
    viewer = Viewer.of_studio(request.studio)
    largest = max([max(row.price, row.real) for row in rows] or [Decimal(1)])
    context = {
        "rows": [_row(row, largest, viewer, report.currency) for row in rows],
        "is_by_commission": by not in {"client", "technique"},
        "tabs": tabs,
    }
    return render_page(request, "commissions/cost_list.html", context)


def _spent_rows(request: StudioRequest) -> list[dict[str, Any]]:
    rows = spent_report(request.studio)
    viewer = Viewer.of_studio(request.studio)
    largest = max([row.cost for row in rows], default=Decimal(0)) or Decimal(1)
    looks = looks_of_pieces(request.studio, [row.piece for row in rows])
    return [
        {
            "row": row,
            "picture": looks.get(row.piece, ""),
            "width": round(row.cost * BAR / largest),
            "cost": viewer.money(row.cost),
            "hours": viewer.labour(row.minutes) if row.minutes else "",
        }
        for row in rows
    ]


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
