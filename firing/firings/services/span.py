"""Holds a running firing's kiln for as long as it truly needs it."""

from datetime import datetime, timedelta

from firing.kiln_time.services.bookings import kiln_time_guarded
from firing.models import Booking, Firing
from firing.plans.services.replace_planned import make_way, put_back
from firing.schedules.selectors.programmes import held_s
from firing.schedules.selectors.typed import Points, curve_with_typed, typed_in
from studio.errors import Refused
from studio.models import Person
from studio.tenancy import StudioQuerySet
from studio.viewer import Viewer


def hold_true_span(
    firing: Firing,
    original: Points,
    *,
    starts_at: datetime,
    by: Person | None,
    at: datetime,
) -> str:
    """Hold the kiln from a start until the glass is out, by the original curve and what
    was typed since; return what there is to say of it.

    Planned loads that cannot happen give way, and come back once they are in nobody's
    way. If the span would run into the next booking, the kiln is held only until that
    one, and the words say so.

    Raises
    ------
    Refused
        When something else holds the kiln at the start.
    """
    booking: Booking = firing.booking
    curve = curve_with_typed(original, typed_in(firing), starts_at)
    ends_at = starts_at + timedelta(seconds=held_s(curve))
    make_way(booking, starts_at=starts_at, ends_at=ends_at, by=by, at=at)
    others = _others(booking)
    now_held = others.filter(starts_at__lte=starts_at, ends_at__gt=starts_at).first()
    if now_held is not None:
        raise Refused(
            f"{firing.kiln} is held for “{now_held.title}” until "
            f"{moment(firing, now_held.ends_at, at)}. Start after that, or cancel that "
            "booking first."
        )
    following = (
        others.filter(starts_at__gte=starts_at).order_by("starts_at", "pk").first()
    )
    said = ""
    if following is not None and following.starts_at < ends_at:
        opens_at = starts_at + timedelta(seconds=curve[-1][0])
        ends_at = following.starts_at
        said = (
            f"it may be opened {moment(firing, opens_at, at)}, but “{following.title}” "
            f"is booked from {moment(firing, following.starts_at, at)}. Move that "
            "booking: this kiln will not be free in time."
        )
    booking.starts_at, booking.ends_at, booking.planned_curve = (
        starts_at,
        ends_at,
        curve,
    )
    with kiln_time_guarded(firing.kiln, starts_at, ends_at, at, own=booking):
        booking.save(update_fields=["starts_at", "ends_at", "planned_curve"])
    put_back(booking, by=by, at=at)
    return said


def note_line(firing: Firing, line: str) -> None:
    """Add a line to a firing's note; the caller saves it."""
    firing.note = f"{firing.note}\n{line}" if firing.note else line


def moment(firing: Firing, instant: datetime, now: datetime) -> str:
    """Write an instant by the studio's clock."""
    return Viewer.of_studio(firing.studio).moment(instant, now)


def _others(booking: Booking) -> StudioQuerySet[Booking]:
    return (
        Booking.owned.for_studio(booking.studio)
        .filter(kiln=booking.kiln, cancelled_at__isnull=True)
        .exclude(pk=booking.pk)
    )
