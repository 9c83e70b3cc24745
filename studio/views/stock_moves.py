"""Deliveries, counts, corrections, the list of movements and the shopping list."""

from decimal import Decimal
from typing import TYPE_CHECKING

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from studio.answers import FormPage, WayBack, answer_form, answer_undo
from studio.forms.stock_moves import (
    CorrectForm,
    CountForm,
    ReceiveMaterialForm,
    ReceiveSheetsForm,
    item_words,
)
from studio.http import StudioRequest, posted, render_page, requires, viewer_for
from studio.money import round_money
from studio.roles import Can
from studio.selectors import stock as reads
from studio.selectors.shopping import shopping_list
from studio.services import stock as services
from studio.viewer import Viewer

if TYPE_CHECKING:
    from collections.abc import Sequence

    from studio.models import Material, StockMove, StockSheet

PAGE = 100
MOVED_TO = "count"
"""The kind whose amount is what is there, not what came or went."""


@require_http_methods(["GET", "POST"])
@requires(Can.RECORD_WORK)
def material_receive(request: StudioRequest, pk: int) -> HttpResponse:
    """Record a delivery of a material."""
    material = get_object_or_404(reads.materials(request.studio), pk=pk)
    viewer = viewer_for(request)
    form = ReceiveMaterialForm(posted(request), material=material, viewer=viewer)
    made: list[StockMove] = []
    return answer_form(
        request,
        FormPage(title=f"Receive {material}", submit="Add to stock", **_back()),
        form,
        lambda: made.append(
            services.receive_material(
                material=material, by=request.user, at=timezone.now(), **form.told
            )
        ),
        told=f"{material} is added to stock.",
        undo_url=lambda: _undo(made),
    )


@require_http_methods(["GET", "POST"])
@requires(Can.RECORD_WORK)
def glass_receive(request: StudioRequest, pk: int) -> HttpResponse:
    """Record a delivery of sheets."""
    glass = get_object_or_404(reads.glasses(request.studio), pk=pk)
    form = ReceiveSheetsForm(posted(request), viewer=viewer_for(request))
    made: list[StockMove] = []
    page = FormPage(
        title=f"Receive {glass}",
        submit="Add to the rack",
        is_paired=True,
        caution_title="Lifting sheets",
        caution_points=(
            "Large sheets are heavy and sharp: two people, gloves, never overhead.",
        ),
        **_back(),
    )
    return answer_form(
        request,
        page,
        form,
        lambda: made.append(
            services.receive_sheets(
                glass=glass, by=request.user, at=timezone.now(), **form.told
            )
        ),
        told=f"{glass} is on the rack.",
        undo_url=lambda: _undo(made),
    )


@require_http_methods(["GET", "POST"])
@requires(Can.RECORD_WORK)
def material_correct(request: StudioRequest, pk: int) -> HttpResponse:
    """Correct what the list says of a material."""
    return _correct(request, get_object_or_404(reads.materials(request.studio), pk=pk))


@require_http_methods(["GET", "POST"])
@requires(Can.RECORD_WORK)
def stock_sheet_correct(request: StudioRequest, pk: int) -> HttpResponse:
    """Correct what the list says of sheets of one size."""
    found = reads.stock_sheets(request.studio)
    return _correct(request, get_object_or_404(found, pk=pk))


def _correct(request: StudioRequest, item: "Material | StockSheet") -> HttpResponse:
    viewer = viewer_for(request)
    form = CorrectForm(posted(request), item=item, viewer=viewer)
    made: list[StockMove] = []
    page = FormPage(
        title=f"Correct {item_words(item, viewer)}",
        submit="Correct it",
        facts=(f"The list says {viewer.amount(item.on_hand, reads.unit_of(item))}",),
        **_back(),
    )
    return answer_form(
        request,
        page,
        form,
        lambda: made.append(
            services.correct_stock(
                item=item, by=request.user, at=timezone.now(), **form.told
            )
        ),
        told=f"{item} is corrected.",
        undo_url=lambda: _undo(made),
    )


@require_http_methods(["GET", "POST"])
@requires(Can.RECORD_WORK)
def stock_count(request: StudioRequest) -> HttpResponse:
    """Count what is on the shelves."""
    items: list[Material | StockSheet] = [
        *reads.on_the_rack(request.studio),
        *reads.materials(request.studio).filter(is_retired=False),
    ]
    form = CountForm(posted(request), items=items, viewer=viewer_for(request))
    made: list[StockMove] = []
    page = FormPage(
        title="Count",
        submit="Save the count",
        is_paired=True,
        intro="Leave empty what you did not count.",
        **_back(),
    )
    return answer_form(
        request,
        page,
        form,
        lambda: made.extend(
            services.count_stock(
                studio=request.studio,
                counted=form.counted,
                by=request.user,
                at=timezone.now(),
            )
        ),
        told="The count is saved.",
        undo_url=lambda: _undo(made),
    )


@require_safe
@requires(Can.SEE_WORK)
def stock_moves(request: StudioRequest) -> HttpResponse:
    """Show what came and went, newest first."""
    viewer = viewer_for(request)
    pages = Paginator(reads.moves(request.studio), PAGE)
    page = pages.get_page(request.GET.get("page"))
    rows = [
        {
            "move": many[0],
            "what": item_words(many[0].item, viewer),
            "amount": _amount(many, viewer),
            "why": many[0].why if len(many) == 1 else f"{len(many)} times",
            "may_undo": many[0].taken_back_at is None
            and many[0].kind in services.BY_HAND
            and not many[0].cause,
        }
        for many in reads.by_piece_and_day(page, viewer.zone)
    ]
    context = {"page_obj": page, "rows": rows, "now": timezone.now()}
    return render_page(request, "studio/stock_moves.html", context)


def _amount(many: "Sequence[StockMove]", viewer: Viewer) -> str:
    amount = sum((one.amount for one in many), start=Decimal(0))
    sign = "+" if amount > 0 and many[0].kind != MOVED_TO else ""
    return sign + viewer.amount(amount, many[0].unit)


@require_http_methods(["GET", "POST"])
@requires(Can.RECORD_WORK)
def stock_move_take_back(request: StudioRequest, pk: int) -> HttpResponse:
    """Take back a delivery, a count, a correction or a cut sheet."""
    move = get_object_or_404(reads.moves(request.studio), pk=pk)
    now = timezone.now()
    viewer = viewer_for(request)
    kind = move.get_kind_display()
    page = FormPage(
        title=f"Take back: {kind.lower()} {item_words(move.item, viewer)}",
        submit="Take it back",
        intro=f"Recorded {viewer.moment(move.at, now)}.",
        **_back(),
    )
    return answer_undo(
        request,
        page,
        lambda reason: services.take_back_move(
            move=move, reason=reason, by=request.user, at=now
        ),
        recorded_at=move.at,
        now=now,
        told="Taken back.",
    )


@require_safe
@requires(Can.SEE_WORK)
def stock_shopping(request: StudioRequest) -> HttpResponse:
    """Show what to buy."""
    viewer = viewer_for(request)
    lines = shopping_list(viewer)
    context = {
        "lines": [
            (one, viewer.money(round_money(one.cost, viewer.currency))) for one in lines
        ],
        "total": round_money(sum((one.cost for one in lines), start=0), viewer.currency)
        if lines
        else None,
    }
    return render_page(request, "studio/stock_shopping.html", context)


def _undo(made: "list[StockMove]") -> str:
    return reverse("studio:stock_move_take_back", args=[made[0].pk])


def _back() -> WayBack:
    return {
        "back_url": reverse("studio:stock"),
        "back_label": "Stock",
        "place": "stock",
    }
