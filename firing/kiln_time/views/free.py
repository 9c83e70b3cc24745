"""Finding free kiln time."""

from datetime import datetime

from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import require_safe

from firing.kiln_time.forms.free import FreeForm
from firing.kiln_time.selectors.free_spans import FreeRow, FreeSpans, find_free
from firing.schedules.selectors.stacks import allowed_kinds
from studio.errors import StudioError
from studio.http import (
    StudioRequest,
    piece_or_404,
    render_page,
    requires,
    viewer_for,
)
from studio.roles import Can
from studio.selectors.pieces import PieceView
from studio.viewer import Viewer


@require_safe
@requires(Can.SEE_WORK)
def free_time(request: StudioRequest) -> HttpResponse:
    """Find free spans that are long enough."""
    now, viewer = timezone.now(), viewer_for(request)
    data = request.GET if "lasts" in request.GET else None
    form = FreeForm(data, studio=request.studio, viewer=viewer)
    found: FreeSpans | None = None
    view: PieceView | None = None
    problem = ""
    if form.is_bound and form.is_valid():
        piece = form.cleaned_data["piece"]
        view = piece_or_404(request, piece.pk) if piece else None
        try:
            found = find_free(form.in_use, form.search(view), viewer=viewer, now=now)
        except StudioError as refusal:
            problem = str(refusal)
    context = {
        "form": form,
        "problem": problem,
        "found": found,
        "rows": [
            {"row": row, "book_url": _book_url(row, view, viewer)}
            for row in (found.rows if found else ())
        ],
    }
    return render_page(request, "firing/kiln_time/free_time.html", context)


def _book_url(row: FreeRow, view: PieceView | None, viewer: Viewer) -> str:
    """Return where to book a span: the piece's own fuse if it is ready for one."""
    if not viewer.may_book_kilns:
        return ""
    if view is not None and allowed_kinds(view):
        address = reverse("firing:fuse_plan", args=[view.piece.pk])
        return f"{address}?{urlencode({'kiln': row.kiln.pk})}"
    filled: dict[str, str | int] = {
        "kiln": row.kiln.pk,
        "starts_at": _typed(row.starts_at, viewer),
        "ends_at": _typed(row.ends_at, viewer),
    }
    if view is not None:
        filled["title"] = f"For {view.piece.title}"
    return f"{reverse('firing:booking_new')}?{urlencode(filled)}"


def _typed(instant: datetime, viewer: Viewer) -> str:
    return f"{instant.astimezone(viewer.zone):%Y-%m-%dT%H:%M}"
