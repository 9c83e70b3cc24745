"""Books kiln time and gives it back.

Whoever books locks the kiln's row first, so bookings are made one after another. The
database's own guard has the last word, whatever got past the lock.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime

from django.db import IntegrityError, transaction

from firing import guard
from firing.kiln_time.selectors.access import closures, closures_of
from firing.kiln_time.selectors.free_starts import NOT_FREE, FreeSpan, next_free_span
from firing.locks import lock_kiln
from firing.models import Booking, BookingKind
from studio.errors import Refused
from studio.models import Closure, Kiln, KilnUser, Person, Studio
from studio.services import history
from studio.services.locks import held
from studio.tenancy import same_studio
from studio.viewer import Viewer


class KilnTaken(Refused):
    """The kiln is not free for the whole span."""

    def __init__(
        self,
        message: str,
        *,
        other: Booking | Closure | None,
        next_free: FreeSpan | None,
    ) -> None:
        super().__init__(message)
        self.other = other
        self.next_free = next_free


@transaction.atomic
def book_kiln(
    *,
    studio: Studio,
    kiln: Kiln,
    kind: str,
    title: str,
    starts_at: datetime,
    ends_at: datetime,
    by: Person | None,
    at: datetime,
    is_provisional: bool = False,
    planned_curve: Sequence[Sequence[float]] = (),
    instead_of: Booking | None = None,
    kiln_user: KilnUser | None = None,
) -> Booking:
    """Book a kiln for a span of time.

    Parameters
    ----------
    kiln_user : KilnUser or None
        Who rents it.
    instead_of : Booking or None
        A planned booking of that kiln that becomes this one.

    Raises
    ------
    KilnTaken
        Naming the booking or closure in the way, and when it is next free.
    Refused
        When the span is empty or the kiln no longer in use.
    """
    same_studio(studio, kiln, *filter(None, [kiln_user]))
    starts_at, ends_at = starts_at.astimezone(UTC), ends_at.astimezone(UTC)
    if ends_at <= starts_at:
        raise Refused("The end must come after the start.")
    lock_kiln(kiln)
    if kiln.is_retired:
        raise Refused(f"{kiln} is no longer in use. Choose another kiln.")
    refuse_closed(kiln, starts_at, ends_at, at)
    with kiln_time_guarded(kiln, starts_at, ends_at, at):
        booking = instead_of or Booking(studio=studio, kiln=kiln)
        booking.kind = BookingKind(kind)
        booking.title = title[:200]
        booking.kiln_user = kiln_user
        booking.starts_at, booking.ends_at = starts_at, ends_at
        booking.is_provisional = is_provisional
        booking.planned_curve = [list(point) for point in planned_curve]
        booking.booked_at, booking.booked_by = at, by
        booking.save()
    viewer = Viewer.of_studio(studio)
    history.record(
        studio=studio,
        by=by,
        at=at,
        what=(
            f"Booked {kiln} for {title}, {viewer.moment(starts_at, at)} "
            f"to {viewer.moment(ends_at, at)}"
        ),
        subject=f"booking {booking.pk}",
    )
    return booking


@transaction.atomic
def record_rented(
    *,
    booking: Booking,
    kiln_user: KilnUser | None,
    used_hours: float | None,
    used_kwh: float | None,
    by: Person | None,
    at: datetime,
) -> None:
    """Say or correct who rented a kiln, and what of its time and electricity was used.

    Raises
    ------
    Refused
        When it is not rented, or not all of the hours were held.
    """
    same_studio(booking.studio, *filter(None, [kiln_user]))
    current: Booking = held(Booking.across_studios).get(pk=booking.pk)
    if current.kind != BookingKind.RENTAL or current.cancelled_at is not None:
        raise Refused("Only a kiln that is rented out has somebody who used it.")
    held_h = (current.ends_at - current.starts_at).total_seconds() / 3600
    if used_hours is not None and used_hours > held_h:
        raise Refused(
            f"The kiln was held for {held_h:g} h. Write at most that, or move the "
            "booking."
        )
    current.kiln_user = kiln_user
    current.used_hours, current.used_kwh = used_hours, used_kwh
    current.save(update_fields=["kiln_user", "used_hours", "used_kwh"])
    used = "".join(
        f", {amount:g} {unit}"
        for amount, unit in ((used_hours, "h"), (used_kwh, "kWh"))
        if amount is not None
    )
    history.record(
        studio=booking.studio,
        by=by,
        at=at,
        what=f"“{current.title}”: rented to {kiln_user or 'nobody in the list'}{used}",
        subject=f"booking {booking.pk}",
    )


def book_all(*, studio: Studio, bookings: Sequence[Booking], at: datetime) -> None:
    """Write new bookings in kilns that the caller has locked, in few queries.

    Raises
    ------
    KilnTaken
        When something else stands or is closed in one of them; none is written then.
    """
    if not bookings:
        return
    first = min(one.starts_at for one in bookings)
    shut = list(closures(studio, first, max(one.ends_at for one in bookings)))
    for one in bookings:
        if any(
            closure.kiln_id in (None, one.kiln_id)
            and closure.starts_at < one.ends_at
            and one.starts_at < closure.ends_at
            for closure in shut
        ):
            refuse_closed(one.kiln, one.starts_at, one.ends_at, at)
    try:
        with transaction.atomic():
            Booking.across_studios.bulk_create(bookings)
    except IntegrityError as problem:
        if guard.MESSAGE not in str(problem):
            raise
        one = next(filter(_is_taken, bookings), bookings[0])
        raise taken_by(one.kiln, one.starts_at, one.ends_at, at) from problem


def _is_taken(booking: Booking) -> bool:
    return Booking.across_studios.overlapping(
        booking.kiln_id, booking.starts_at, booking.ends_at
    ).exists()


@contextmanager
def kiln_time_guarded(
    kiln: Kiln,
    starts_at: datetime,
    ends_at: datetime,
    at: datetime,
    *,
    own: Booking | None = None,
) -> Iterator[None]:
    """Turn the database's refusal of an overlap, and nothing else, into words.

    `own` is the booking that moves into the span, where there is one.

    Raises
    ------
    KilnTaken
        When the database found another booking in the span.
    """
    try:
        with transaction.atomic():
            yield
    except IntegrityError as problem:
        if guard.MESSAGE not in str(problem):
            raise
        raise taken_by(kiln, starts_at, ends_at, at, own=own) from problem


def refuse_closed(
    kiln: Kiln, starts_at: datetime, ends_at: datetime, at: datetime
) -> None:
    """Refuse a span in which the kiln or the studio is closed.

    Raises
    ------
    KilnTaken
        Naming the closure.
    """
    closure = closures_of(kiln, starts_at, ends_at).first()
    if closure is None:
        return
    viewer = Viewer.of_studio(kiln.studio)
    who = str(closure.kiln) if closure.kiln else "The studio"
    free = next_free_span(
        kiln=kiln,
        lasts_s=(ends_at - starts_at).total_seconds(),
        after=starts_at,
        now=at,
    )
    raise KilnTaken(
        f"{who} is closed from {viewer.moment(closure.starts_at, at)} to "
        f"{viewer.moment(closure.ends_at, at)}: {closure.reason}. "
        f"{free_words(kiln, free, at)}",
        other=closure,
        next_free=free,
    )


def taken_by(
    kiln: Kiln,
    starts_at: datetime,
    ends_at: datetime,
    at: datetime,
    *,
    own: Booking | None = None,
) -> KilnTaken:
    """Name the booking in the way of a span, and the next free time."""
    others = Booking.across_studios.overlapping(kiln.pk, starts_at, ends_at).filter(
        studio=kiln.studio
    )
    if own is not None:
        others = others.exclude(pk=own.pk)
    other: Booking | None = others.order_by("starts_at", "pk").first()
    lasts_s = (ends_at - starts_at).total_seconds()
    free = next_free_span(kiln=kiln, lasts_s=lasts_s, after=starts_at, now=at)
    viewer = Viewer.of_studio(kiln.studio)
    if other is None:
        who = f"{kiln} was booked by somebody else at the same moment."
    else:
        who = (
            f"{kiln} is taken by “{other.title}” from "
            f"{viewer.moment(other.starts_at, at)} to "
            f"{viewer.moment(other.ends_at, at)}."
        )
    return KilnTaken(f"{who} {free_words(kiln, free, at)}", other=other, next_free=free)


def free_words(kiln: Kiln, free: FreeSpan | None, at: datetime) -> str:
    """Say when a kiln is next free for this long."""
    viewer = Viewer.of_studio(kiln.studio)
    if free is None:
        return NOT_FREE.format(kiln=kiln)
    start = viewer.moment(free.starts_at, at)
    if free.ends_at is None:
        return f"It is free from {start} on."
    return f"It is free for that long from {start} (until {viewer.moment(free.ends_at, at)})."


@transaction.atomic
def cancel_booking(
    *, booking: Booking, reason: str, by: Person | None, at: datetime
) -> None:
    """Give kiln time back, and cancel the firing that was to use it.

    Raises
    ------
    Refused
        When it is cancelled already, or its firing was started.
    """
    lock_kiln(booking.kiln)
    current: Booking = (
        held(Booking.across_studios).select_related("firing", "kiln").get(pk=booking.pk)
    )
    if current.cancelled_at is not None:
        raise Refused(f"“{current.title}” is cancelled already.")
    firing = getattr(current, "firing", None)
    if firing is not None and firing.started_at is not None:
        raise Refused(
            f"“{current.title}” was started: its kiln time can no longer be given "
            "back. Finish the firing instead."
        )
    current.cancelled_at = at
    current.cancelled_reason = reason[:200]
    current.save(update_fields=["cancelled_at", "cancelled_reason"])
    why = f": {reason}" if reason else ""
    pieces = (
        {item.piece for item in firing.items.select_related("piece") if item.piece}
        if firing is not None
        else set()
    )
    for piece in pieces or {None}:
        history.record(
            studio=current.studio,
            by=by,
            at=at,
            what=f"Cancelled “{current.title}” in {current.kiln}{why}",
            piece=piece,
            subject=f"booking {current.pk}",
        )
