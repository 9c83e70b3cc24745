"""The style guide: every component in both themes, with invented samples."""

from django.http import HttpResponse
from django.views.decorators.http import require_safe

from studio.http import StudioRequest, render_page, requires
from studio.panels import style_guide_panels
from studio.roles import Can
from studio.styleguide import themed_samples


@require_safe
@requires(Can.SEE_WORK)
def styleguide(request: StudioRequest) -> HttpResponse:
    """Show the components; ids of the two themes are kept apart."""
    themes = [
        {**shown, "panels": style_guide_panels(f"added-{shown['theme']}")}
        for shown in themed_samples()
    ]
    return render_page(request, "studio/styleguide.html", {"themes": themes})
