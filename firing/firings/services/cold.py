"""No kiln is unloaded hot by mistake: what must be known, read and confirmed first."""

from datetime import datetime

from firing.loads.selectors.known import ReadByHand, known_of, known_words
from firing.models import Firing
from firing.planning.problem.practice import ROOM_C
from studio.errors import Refused
from studio.viewer import Viewer

# An unheated studio in winter; a smaller number is of the other unit.
COLDEST_ROOM_C = ROOM_C - 10


def checked_cold(firing: Firing, hand: ReadByHand, at: datetime) -> str:
    """Return what the kiln showed as the end of a line in the history.

    Raises
    ------
    Refused
        When the kiln may be hot and its temperature or the confirmation is missing, or
        when no kiln can show what was typed.
    """
    known = known_of(firing.studio, [firing], now=at)[firing.pk]
    viewer, shown_c = Viewer.of_studio(firing.studio), hand.shown_c
    if shown_c is None:
        if known.is_cold:
            return ""
        raise Refused(
            f"{firing.kiln} is not known to be cold "
            f"({known_words(known, viewer, at)}). Read its temperature and enter it."
        )
    curve = firing.booking.planned_curve
    hottest_c = max((celsius for _, celsius in curve), default=known.opening_c)
    shown = viewer.temperature(shown_c)
    if shown_c > max(hottest_c, known.last.temperature_c if known.last else 0):
        raise Refused(
            f"{shown} is hotter than this firing ever is. Read the temperature again."
        )
    if shown_c < COLDEST_ROOM_C:
        raise Refused(
            f"{shown} is colder than a studio. Read the temperature again, and look at "
            "its unit."
        )
    is_sure = known.is_cold and shown_c < known.opening_c
    if not (is_sure or hand.is_confirmed):
        raise Refused("Tick that you know what hot glass does, or leave it closed.")
    return f", which showed {shown}"
