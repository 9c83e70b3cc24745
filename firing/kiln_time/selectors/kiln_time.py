"""What each kiln is doing now, in words, and which page a booking leads to."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.urls import reverse

from firing.kiln_time.selectors.access import closures
from firing.kiln_time.selectors.standing import StandingTime
from firing.loads.selectors.known import Known, known_words
from firing.models import Booking, BookingKind, Firing
from studio.models import Closure, Kiln
from studio.viewer import Viewer


@dataclass(frozen=True, slots=True, kw_only=True)
class KilnState:
    """A kiln with what it is doing now, in words."""

    kiln: Kiln
    words: str
    kind: str
    booking: Booking | None = None
    following: Booking | None = None
    known: Known | None = None


def kiln_states(
    kilns: Sequence[Kiln],
    *,
    viewer: Viewer,
    now: datetime,
    standing: StandingTime | None = None,
) -> list[KilnState]:
    """Say whether each kiln is closed, free, or waiting for somebody.

    Pass in what stands in the kilns if the page has read it.
    """
    studio = viewer.studio
    by_kiln: dict[int, list[Booking]] = defaultdict(list)
    standing = standing or StandingTime(studio, now, with_curves=False)
    for booking in standing.coming_in(kiln.pk for kiln in kilns):
        by_kiln[booking.kiln_id].append(booking)
    inside, known = standing.inside, standing.known
    shut = list(closures(studio, now, now + timedelta(seconds=1)))
    return [
        _state(
            kiln,
            by_kiln[kiln.pk],
            inside.get(kiln.pk),
            known,
            next((c for c in shut if c.kiln_id in {None, kiln.pk}), None),
            viewer,
            now,
        )
        for kiln in kilns
    ]


def _state(
    kiln: Kiln,
    coming: list[Booking],
    inside: Firing | None,
    running: Mapping[int, Known],
    closure: Closure | None,
    viewer: Viewer,
    now: datetime,
) -> KilnState:
    current = next((b for b in coming if b.starts_at <= now), None)
    following = next((b for b in coming if b.starts_at > now), None)
    if inside is not None:
        known = running[inside.pk]
        words = known_words(known, viewer, now)
        return KilnState(
            kiln=kiln,
            words=f"{words}: unload" if known.is_cold else words,
            kind="waiting" if known.is_cold else "hot",
            booking=inside.booking,
            following=following,
            known=known,
        )
    if closure is not None:
        words = f"{closure.reason}, until {viewer.moment(closure.ends_at, now)}"
        return KilnState(kiln=kiln, words=words, kind="stopped", following=following)
    if current is not None:
        until = viewer.moment(current.ends_at, now)
        words, kind = {
            BookingKind.RENTAL: (f"Rented out until {until}", "doing"),
            BookingKind.MAINTENANCE: (f"Maintenance until {until}", "stopped"),
        }.get(
            BookingKind(current.kind),
            (f"To be loaded and started, held until {until}", "waiting"),
        )
        return KilnState(
            kiln=kiln, words=words, kind=kind, booking=current, following=following
        )
    words = "Free"
    if following is not None:
        words = f"Free until {viewer.moment(following.starts_at, now)}"
    return KilnState(kiln=kiln, words=words, kind="planned", following=following)


def booking_href(booking: Booking) -> str:
    """Return the page for a booking: its firing's, if it has one."""
    firing: Firing | None = getattr(booking, "firing", None)
    if firing is not None:
        return reverse("firing:firing_detail", args=[firing.pk])
    return reverse("firing:booking_detail", args=[booking.pk])
