"""Stock: sheet glass and materials; only those who see money see what they cost."""

from decimal import Decimal
from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from studio.amounts import SQUARE_METRE
from studio.answers import FormPage, form_page
from studio.forms.base import StudioModelForm
from studio.forms.stock import GlassForm, MaterialForm, begun_glass
from studio.http import (
    OK,
    StudioRequest,
    posted,
    render_page,
    requires,
    viewer_for,
)
from studio.money import format_unit_price
from studio.roles import Can
from studio.selectors import glass_families
from studio.selectors import stock as stock_reads
from studio.selectors.shelves import jars, racks
from studio.services.stock import note_form
from studio.viewer import Viewer
from studio.views.saving import save_form

if TYPE_CHECKING:
    from studio.models import Glass, Material


@require_safe
@requires(Can.SEE_WORK)
def stock(request: StudioRequest) -> HttpResponse:
    """Show glasses and materials."""
    viewer = viewer_for(request)
    glasses = list(stock_reads.glasses(request.studio))
    context = {
        "racks": racks(viewer),
        "jars": jars(viewer),
        "glasses": [
            (one, viewer.price_per(one.cost_per_m2, SQUARE_METRE)) for one in glasses
        ],
        "too_cold": [
            told
            for one in glasses
            if not one.is_retired
            for told in glass_families.too_cold(one, viewer)
        ],
        "materials": [
            {
                "material": one,
                "cost": _shown(viewer.price_per(one.cost_per_unit, one.unit), viewer),
                "unit": viewer.unit(one.unit),
            }
            for one in stock_reads.materials(request.studio)
        ],
    }
    return render_page(request, "studio/stock.html", context)


def _shown(price: Decimal, viewer: Viewer) -> str:
    """Write a price; only one below a whole coin needs more digits than money has."""
    if price < 1:
        return format_unit_price(price, viewer.currency)
    return viewer.money(price)


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def glass_new(request: StudioRequest) -> HttpResponse:
    """Add a sheet glass; its family proposes what it is fired at."""
    begun = begun_glass(request.GET.dict(), viewer_for(request))
    return _edit(request, GlassForm, None, "Add a glass", begun)


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def glass_edit(request: StudioRequest, pk: int) -> HttpResponse:
    """Change a sheet glass."""
    found = get_object_or_404(stock_reads.glasses(request.studio), pk=pk)
    return _edit(request, GlassForm, found, f"Change {found}")


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def material_new(request: StudioRequest) -> HttpResponse:
    """Add a material."""
    return _edit(request, MaterialForm, None, "Add a material")


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def material_edit(request: StudioRequest, pk: int) -> HttpResponse:
    """Change a material."""
    found = get_object_or_404(stock_reads.materials(request.studio), pk=pk)
    return _edit(request, MaterialForm, found, f"Change {found}")


def _edit(
    request: StudioRequest,
    kind: type[StudioModelForm],
    record: "Glass | Material | None",
    title: str,
    begun: dict[str, str] | None = None,
) -> HttpResponse:
    form = kind(
        posted(request),
        initial=begun or {},
        instance=record,
        studio=request.studio,
        viewer=viewer_for(request),
    )
    status = OK
    if request.method == "POST":
        status = save_form(request, form, note_form)
        if status == OK:
            messages.success(request, f"{form.instance} is saved.")
            for told in form.warnings:
                messages.warning(request, told)
            return redirect("studio:stock")
    page = FormPage(
        title=title,
        submit="Save",
        back_url=reverse("studio:stock"),
        back_label="Stock",
        place="stock",
        is_paired=True,
    )
    return form_page(request, page, form, status)
