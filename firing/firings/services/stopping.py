"""Stops the work on pieces in the kilns as well: what was booked for them is given back."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.db.models import Q

from firing.kiln_time.selectors.booking_loads import booking_name
from firing.kiln_time.services.bookings import cancel_booking
from firing.loads.selectors.firings import standing_items
from firing.locks import lock_all_kilns
from firing.models import Firing, LoadItem
from firing.plans.services.replace_planned import take_out
from studio.models import Person, Piece, Studio
from studio.services import history
from studio.services.stopping import stop_pieces
from studio.tenancy import same_studio
from studio.viewer import count_words


@dataclass(frozen=True, slots=True, kw_only=True)
class StoppedWork:
    """What became of the kilns, each firing by its booking's title and kiln."""

    freed: tuple[str, ...] = ()
    shared: tuple[str, ...] = ()
    running: tuple[str, ...] = ()

    @property
    def sentences(self) -> list[str]:
        """Say what was given back, what goes on without it, and what is hot."""
        return [
            *(f"{title} is cancelled and the kiln is free." for title in self.freed),
            *(f"{title} goes on without it." for title in self.shared),
            *(
                f"{title} is running: let it end and unload it as usual."
                for title in self.running
            ),
        ]


@transaction.atomic
def stop_work(
    *,
    studio: Studio,
    pieces: Sequence[Piece],
    reason: str,
    by: Person | None,
    at: datetime,
) -> StoppedWork:
    """Stop pieces at the bench, in the plan and in the kilns.

    Firings that hold nothing else are cancelled; others keep the rest of their load.
    What is running goes on: a hot kiln is not stopped by a note.
    """
    same_studio(studio, *pieces)
    if not pieces:
        return StoppedWork()
    lock_all_kilns(studio)
    take_out(studio=studio, pieces=pieces, at=at)
    freed, shared, running = [], [], []
    for firing, items in _loads(studio, pieces):
        name = f"“{firing.booking.title}” in {firing.kiln}"
        if firing.started_at is not None:
            running.append(name)
        elif len(items) == firing.items.count():
            cancel_booking(booking=firing.booking, reason=reason, by=by, at=at)
            freed.append(name)
        else:
            _leave_out(firing, items, by=by, at=at)
            shared.append(name)
    stop_pieces(pieces=pieces, reason=reason, by=by, at=at)
    return StoppedWork(freed=tuple(freed), shared=tuple(shared), running=tuple(running))


def _loads(
    studio: Studio, pieces: Sequence[Piece]
) -> list[tuple[Firing, list[LoadItem]]]:
    """Return the unfinished firings with these pieces in them, and what is theirs."""
    items = (
        standing_items(studio)
        .filter(
            Q(piece__in=pieces) | Q(of_pass__sheet__layer__piece__in=pieces),
            firing__finished_at__isnull=True,
        )
        .select_related("firing__booking__kiln", "firing__kiln")
        .order_by("firing__booking__starts_at", "pk")
    )
    found: dict[int, tuple[Firing, list[LoadItem]]] = {}
    for item in items:
        found.setdefault(item.firing_id, (item.firing, []))[1].append(item)
    return list(found.values())


def _leave_out(
    firing: Firing, items: Sequence[LoadItem], *, by: Person | None, at: datetime
) -> None:
    """Take some of a planned load out; the rest keeps its places and its time."""
    LoadItem.across_studios.filter(pk__in=[item.pk for item in items]).delete()
    booking, title = firing.booking, firing.booking.title
    booking.title = booking_name(booking)
    booking.save(update_fields=["title"])
    history.record(
        studio=firing.studio,
        by=by,
        at=at,
        what=f"Took {count_words(len(items), 'layer')} out of “{title}” in "
        f"{firing.kiln}: stopped",
        subject=f"firing {firing.pk}",
    )
