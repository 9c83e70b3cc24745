"""The firing app's part of the style guide: the kiln ribbon and the firing chart."""

from firing.drawings.samples import sample_context
from studio.panels import Panel, on_style_guide


@on_style_guide
def firing_samples(key: str) -> Panel:
    """Return the invented ribbon and chart."""
    return Panel(template="firing/_styleguide.html", context=sample_context(key))
