"""Today: what to do now, the next thing first."""

from collections.abc import Mapping

from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from studio.http import (
    StudioRequest,
    render_page,
    requires,
    viewer_for,
)
from studio.panels import Panel, PanelRequest, inspection_warnings, today_panels
from studio.roles import Can
from studio.selectors import kilns, stock
from studio.selectors.edges import edge_of
from studio.selectors.pieces import PieceView
from studio.selectors.work import BenchWork, LayersOfPiece, work_of
from studio.viewer import Viewer

# Kilns first (firing registers its sections below 30): glass cools whether or not
# anybody is at the bench. Then what frees a piece for its next step, then painting.
INSPECT_ORDER, DECIDE_ORDER, STACK_ORDER, AGAIN_ORDER, PAINT_ORDER = 30, 32, 34, 36, 38


@require_safe
@requires(Can.SEE_WORK)
def today(request: StudioRequest) -> HttpResponse:
    """Show what to do now."""
    asked = PanelRequest(viewer=viewer_for(request), now=timezone.now())
    panels = [*today_panels(asked), *own_panels(work_of(request.studio), asked)]
    panels.sort(key=lambda panel: panel.order)
    context = {
        "panels": panels,
        "first_step": None if panels else first_step(asked.viewer),
    }
    return render_page(request, "studio/today.html", context)


def first_step(viewer: Viewer) -> tuple[str, str, str] | None:
    """Return what a studio needs before any work: why, where, and the verb."""
    studio = viewer.studio
    if viewer.may_manage_kilns and not kilns.kilns(studio).exists():
        return (
            "Begin with a kiln: schedules, kiln time and quotes are worked out for it.",
            reverse("studio:kiln_new"),
            "Add a kiln",
        )
    if viewer.may_see_money and not stock.glasses(studio).exists():
        return (
            "Now the glass you fuse: layers are cut from it, and its data sheet gives "
            "the temperatures.",
            reverse("studio:glass_new"),
            "Add a glass",
        )
    return None


def own_panels(work: BenchWork, asked: PanelRequest) -> list[Panel]:
    """Return the bench's sections that have something in them."""
    told = inspection_warnings(asked, [view.piece for view in work.to_inspect])
    found = [
        _pieces("inspect", work.to_inspect, INSPECT_ORDER, told),
        _pieces("decide", work.to_decide, DECIDE_ORDER),
        _pieces("stack", work.to_stack, STACK_ORDER),
        _layers("again", work.to_make_again, AGAIN_ORDER),
        _layers("paint", work.to_paint, PAINT_ORDER),
    ]
    return [panel for panel in found if panel.context["rows"]]


def _pieces(
    name: str,
    views: tuple[PieceView, ...],
    order: int,
    told: Mapping[int, str] | None = None,
) -> Panel:
    rows = [
        {
            "view": view,
            "edge": edge_of(view, key=f"{name}-{view.piece.pk}"),
            "warning": (told or {}).get(view.piece.pk, ""),
        }
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
