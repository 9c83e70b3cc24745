"""Today: what to do now, the next thing first."""

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
from studio.panels import PanelRequest, today_panels
from studio.roles import Can
from studio.selectors import kilns, stock
from studio.selectors.pictures import looks_of_pieces
from studio.today import things_to_do, words_of_hour
from studio.viewer import Viewer


@require_safe
@requires(Can.SEE_WORK)
def today(request: StudioRequest) -> HttpResponse:
    """Show what to do now."""
    asked = PanelRequest(viewer=viewer_for(request), now=timezone.now())
    items = things_to_do(asked)
    found = looks_of_pieces(request.studio, [i.piece for i in items if i.piece])
    context = {
        "panels": today_panels(asked),
        "rows": [
            {
                "item": item,
                "by": words_of_hour(item, asked),
                "picture": found.get(item.piece or 0),
            }
            for item in items
        ],
        "first_step": None if items else first_step(asked.viewer),
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
