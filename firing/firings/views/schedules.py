"""A schedule: what to type into the controller, and where its numbers come from."""

from django.http import HttpResponse
from django.views.decorators.http import require_safe

from firing.loads.selectors.saved_schedules import (
    changes_between,
    version_before,
    version_of,
)
from firing.schedules.selectors.schedules import versions_of
from firing.schedules.selectors.tables import (
    CAUTIONS,
    bands_words,
    basis_facts,
    rule_words,
    segment_rows,
)
from firing.schedules.views.lookups import schedule_or_404
from studio.http import (
    StudioRequest,
    render_page,
    requires,
    viewer_for,
)
from studio.roles import Can


@require_safe
@requires(Can.SEE_WORK)
def schedule_detail(request: StudioRequest, pk: int) -> HttpResponse:
    """Show one version of a schedule."""
    schedule = schedule_or_404(request, pk)
    viewer = viewer_for(request)
    other = version_of(schedule, request.GET.get("against", "")) or version_before(
        schedule
    )
    context = {
        "other": other,
        "changes": changes_between(other, schedule, viewer) if other else (),
        "schedule": schedule,
        "rows": segment_rows(schedule, viewer),
        "facts": basis_facts(schedule, viewer),
        "rule_words": rule_words(schedule),
        "bands": bands_words(schedule, viewer),
        "source": schedule.basis.get("source", ""),
        "versions": versions_of(schedule),
        "cautions": CAUTIONS,
    }
    return render_page(request, "firing/firings/schedule_detail.html", context)
