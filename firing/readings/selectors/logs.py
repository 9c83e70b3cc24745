"""What was answered about earlier files of the same logger."""

from typing import Any

from firing.models import Firing
from firing.readings.selectors.imports import imports

# The newest files of a logger that are looked at for an answer.
LOOKED_AT = 5


def answers_before(firing: Firing, columns: str) -> dict[str, Any]:
    """Return the answers about the kiln's last files with the same header, by question.

    Removing a file takes its answers back.
    """
    before = (
        imports(firing.studio)
        .filter(firing__kiln=firing.kiln_id, read_as__columns=columns)
        .order_by("-at", "-pk")
        .values_list("read_as", flat=True)[:LOOKED_AT]
    )
    found: dict[str, Any] = {}
    for read_as in before:
        found = read_as["answers"] | found
    return found
