"""What the makers who share the kilns used of them in a span of time.

A firing counts when it is unloaded, a rented kiln when its time ends. Hours are those
from the start to the unloading, shared out by the area of shelf; they are rounded to
hundredths so that the parts of a firing still add up to the whole.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from decimal import ROUND_HALF_UP, Decimal
from itertools import accumulate

from firing.firings.selectors.kiln_use import HOUR_S, KilnUse, kiln_use
from firing.loads.selectors.names import firing_name
from firing.models import Booking, BookingKind, LoadItem
from studio.models import Kiln, KilnUser, Piece, Studio

HUNDREDTH = Decimal("0.01")
TENTH = Decimal("0.1")


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedUse:
    """What one firing, or one rental, took for one kiln user.

    Attributes
    ----------
    kiln_user : int or None
        None where nobody said whose it was.
    firing, booking : int or None
        Whichever of the two it was.
    hours, kwh : Decimal
        The user's part; `kwh` is none where it is not known.
    share : float
        Of the shelf; 1 for a kiln alone.
    """

    kiln_user: int | None
    at: datetime
    kiln: Kiln
    what: str
    hours: Decimal
    kwh: Decimal | None
    share: float
    firing: int | None = None
    booking: int | None = None


def shared_use(studio: Studio, *, since: datetime, until: datetime) -> list[SharedUse]:
    """Return what kiln users took in a span, by time; its end is outside it.

    Work in words and rented time of which nobody said whose it was come with them.
    """
    kilns = {kiln.pk: kiln for kiln in Kiln.owned.for_studio(studio).order_by("pk")}
    found = [
        *_of_firings(studio, kilns, since, until),
        *_rented(studio, kilns, since, until),
    ]
    return sorted(
        found, key=lambda use: (use.at, use.firing or 0, use.booking or 0, use.what)
    )


def _of_firings(
    studio: Studio, kilns: dict[int, Kiln], since: datetime, until: datetime
) -> Iterable[SharedUse]:
    by_firing: dict[int, list[KilnUse]] = defaultdict(list)
    for use in kiln_use(studio, since=since, until=until):
        by_firing[use.firing].append(use)
    people = dict(
        KilnUser.owned.for_studio(studio)
        .filter(person__isnull=False)
        .order_by("pk")
        .values_list("person", "pk")
    )
    made = {
        pk: (title, people[maker])
        for pk, title, maker in Piece.owned.for_studio(studio)
        .filter(maker__in=people)
        .order_by("pk")
        .values_list("pk", "title", "maker")
    }
    words: dict[tuple[int, int | None], list[str]] = defaultdict(list)
    named = (
        LoadItem.owned.for_studio(studio)
        .filter(firing__in=by_firing)
        .exclude(description="")
        .order_by("pk")
    )
    for firing, user, thing in named.values_list(
        "firing_id", "kiln_user_id", "description"
    ):
        words[firing, user].append(thing)
    for firing, uses in by_firing.items():
        yield from _shared_out(firing, uses, kilns, made, words)


def _shared_out(
    firing: int,
    uses: list[KilnUse],
    kilns: dict[int, Kiln],
    made: dict[int, tuple[str, int]],
    words: dict[tuple[int, int | None], list[str]],
) -> Iterable[SharedUse]:
    shares: dict[int | None, float] = defaultdict(float)
    things: dict[int | None, list[str]] = defaultdict(list)
    own = 0.0
    for use in uses:
        if use.piece is None:
            shares[use.kiln_user] += use.share
            things[use.kiln_user] += words[firing, use.kiln_user]
        elif use.piece in made:
            title, user = made[use.piece]
            shares[user] += use.share
            things[user].append(title)
        else:
            own += use.share
    one = uses[0]
    hours = parts_of(one.hours, [*shares.values(), own], HUNDREDTH)
    kwh = (
        parts_of(one.kwh, [*shares.values(), own], TENTH)
        if one.kwh is not None
        else [None] * len(hours)
    )
    for number, (whose, share) in enumerate(shares.items()):
        yield SharedUse(
            kiln_user=whose,
            at=one.finished_at,
            kiln=kilns[one.kiln],
            what=firing_name(one.kind, others=things[whose]),
            hours=hours[number],
            kwh=kwh[number],
            share=share,
            firing=firing,
        )


def _rented(
    studio: Studio, kilns: dict[int, Kiln], since: datetime, until: datetime
) -> Iterable[SharedUse]:
    rented = (
        Booking.owned.for_studio(studio)
        .filter(kind=BookingKind.RENTAL, cancelled_at=None)
        .filter(ends_at__gte=since, ends_at__lt=until)
        .order_by("ends_at", "pk")
    )
    for booking in rented:
        yield SharedUse(
            kiln_user=booking.kiln_user_id,
            at=booking.ends_at,
            kiln=kilns[booking.kiln_id],
            what=booking.title,
            hours=_rounded(hours_rented(booking), HUNDREDTH),
            kwh=None if booking.used_kwh is None else _rounded(booking.used_kwh, TENTH),
            share=1.0,
            booking=booking.pk,
        )


def hours_rented(booking: Booking) -> float:
    """Return for how long a rented kiln was used: as recorded, else as booked."""
    if booking.used_hours is not None:
        return booking.used_hours
    return (booking.ends_at - booking.starts_at).total_seconds() / HOUR_S


def parts_of(whole: float, shares: Iterable[float], step: Decimal) -> list[Decimal]:
    """Return the parts of a whole as multiples of `step` that add up to it, rounded.

    Each part ends where the sum of the shares so far, rounded, ends; so none is further
    off than one step.
    """
    ends = list(accumulate(shares))
    found, ended = [], Decimal(0)
    for end in ends:
        until = _rounded(whole * (end / ends[-1]), step)
        found.append(until - ended)
        ended = until
    return found


def _rounded(value: float, step: Decimal) -> Decimal:
    return Decimal(str(value)).quantize(step, ROUND_HALF_UP)
