"""Today: what to do now, the next thing first."""

from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from studio.http import (
    StudioRequest,
    reader_for,
    render_page,
    requires,
)
from studio.panels import Panel, PanelRequest, today_panels
from studio.reader import Reader
from studio.roles import Can
from studio.selectors import kilns, stock
from studio.selectors.edges import edge_of
from studio.selectors.pieces import PieceView
from studio.selectors.work import BenchWork, LayersOfPiece, work_of

# Kilns first (firing registers its sections below 30): glass cools whether or not
# anybody is at the bench. Then what frees a piece for the next step, then painting.
INSPECT_ORDER, DECIDE_ORDER, STACK_ORDER, AGAIN_ORDER, PAINT_ORDER = 30, 32, 34, 36, 38


@require_safe
@requires(Can.SEE_WORK)
def today(request: StudioRequest) -> HttpResponse:
    """Show what to do now."""
    asked = PanelRequest(reader=reader_for(request), now=timezone.now())
    panels = [*today_panels(asked), *own_panels(work_of(request.studio))]
    panels.sort(key=lambda panel: panel.order)
    context = {
        "panels": panels,
        "first_step": None if panels else first_step(asked.reader),
    }
    return render_page(request, "studio/today.html", context)


def first_step(reader: Reader) -> tuple[str, str, str] | None:
    """Return what a studio lacks before any work: why, where, and the verb."""
    studio = reader.studio
    if reader.may_manage_kilns and not kilns.kilns(studio).exists():
        return (
            "Begin with a kiln: schedules, kiln time and quotes are worked out for it.",
            reverse("studio:kiln_new"),
            "Add a kiln",
        )
    if reader.may_see_money and not stock.glasses(studio).exists():
        return (
            "Now the glass you fuse: layers are cut from it, and its data sheet gives "
            "the temperatures.",
            reverse("studio:glass_new"),
            "Add a glass",
        )
    return None


def own_panels(work: BenchWork) -> list[Panel]:
    """Return the bench's sections, those that have something in them."""
    found = [
        _pieces("inspect", work.to_inspect, INSPECT_ORDER),
        _pieces("decide", work.to_decide, DECIDE_ORDER),
        _pieces("stack", work.to_stack, STACK_ORDER),
        _layers("again", work.to_make_again, AGAIN_ORDER),
        _layers("paint", work.to_paint, PAINT_ORDER),
    ]
    return [panel for panel in found if panel.context["rows"]]


def _pieces(name: str, views: tuple[PieceView, ...], order: int) -> Panel:
    rows = [
        {"view": view, "edge": edge_of(view, key=f"{name}-{view.piece.pk}")}
        for view in views
    ]
    return Panel(
        template=f"studio/_today_{name}.html", context={"rows": rows}, order=order
    )


def _layers(name: str, groups: tuple[LayersOfPiece, ...], order: int) -> Panel:
    rows = [
        {
            "view": group.view,
            "group": group,
            "edge": edge_of(group.view, key=f"{name}-{group.view.piece.pk}"),
        }
        for group in groups
    ]
    return Panel(
        template=f"studio/_today_{name}.html", context={"rows": rows}, order=order
    )
