"""A firing made up by hand takes over what the standing plan has for it, so that no
kiln is held twice for the same glass; stopped work leaves the plan.
"""

from collections.abc import Sequence
from datetime import datetime

from firing.loads.selectors.firings import firing_title
from firing.loads.selectors.planned import planned_firings, standing_plan
from firing.models import Booking, FiringKind, PlannedFiring, PlannedItem, PlannedWork
from firing.plans.selectors.places import layers_by_piece, lost_subject
from firing.plans.selectors.words import layer_words
from studio.models import Kiln, Pass, Person, Piece, Studio
from studio.services import history
from studio.viewer import Viewer, count_words

REASON = "A firing was made up for it"
STOPPED = "The work on it was stopped"


def take_over(
    *,
    studio: Studio,
    kiln: Kiln,
    passes: Sequence[Pass] = (),
    piece: Piece | None = None,
    starts_at: datetime,
    ends_at: datetime,
    by: Person | None,
    at: datetime,
) -> Booking | None:
    """Take these passes, or this piece's fuse, out of the standing plan.

    Returns the planned booking in the same kiln that the firing overlaps, for the firing
    to use as its own. What else was planned into that one loses its place: the history
    says so, piece by piece, and so orders a look at the plan. Other planned firings keep
    what is left of their loads; those that are left empty are given back.

    Parameters
    ----------
    starts_at, ends_at : datetime
        The span that the firing itself will hold.
    """
    plan = standing_plan(studio)
    if plan is None:
        return None
    items = _items(studio, passes, piece)
    touched = {item.firing_id for item in items}
    PlannedItem.across_studios.filter(pk__in=[item.pk for item in items]).delete()
    work = PlannedWork.owned.for_studio(studio).filter(plan=plan)
    if piece is not None:
        work.filter(piece=piece, task="assembly").delete()
    work.filter(of_pass__in=[one.pk for one in passes]).delete()
    used: Booking | None = None
    for row in planned_firings(studio).filter(pk__in=touched):
        booking = row.booking
        is_there = (
            booking.kiln_id == kiln.pk
            and booking.starts_at < ends_at
            and starts_at < booking.ends_at
        )
        if used is None and is_there:
            used = booking
            _note_lost(row, by, at)
            row.delete()
        else:
            _keep_rest(row, REASON, at)
    return used


def take_out(*, studio: Studio, pieces: Sequence[Piece], at: datetime) -> None:
    """Take stopped pieces out of the standing plan; what is left empty is given back.

    The caller holds every kiln.
    """
    found = PlannedItem.owned.for_studio(studio).filter(piece__in=pieces)
    touched = set(found.values_list("firing_id", flat=True))
    found.delete()
    PlannedWork.owned.for_studio(studio).filter(piece__in=pieces).delete()
    for row in planned_firings(studio).filter(pk__in=touched):
        _keep_rest(row, STOPPED, at)


def _keep_rest(row: PlannedFiring, reason: str, at: datetime) -> None:
    """Count what is left of a planned load, or give its kiln back."""
    left, booking = len(row.items.all()), row.booking
    if not left:
        _give_back(row, reason, at)
    elif row.kind == FiringKind.ENAMEL:
        booking.title = firing_title(row.kind, count_words(left, "layer"))
        booking.save(update_fields=["title"])


def _items(
    studio: Studio, passes: Sequence[Pass], piece: Piece | None
) -> list[PlannedItem]:
    """Return what the plan has for these passes or this stack."""
    found = PlannedItem.owned.for_studio(studio)
    if piece is not None:
        return list(found.filter(piece=piece).exclude(firing__kind=FiringKind.ENAMEL))
    layers = {one.sheet.layer_id for one in passes}
    return [
        item
        for item in found.filter(layer__in=layers)
        if any(item.is_of(one) for one in passes)
    ]


def _give_back(row: PlannedFiring, reason: str, at: datetime) -> None:
    booking = row.booking
    booking.cancelled_at, booking.cancelled_reason = at, reason
    booking.save(update_fields=["cancelled_at", "cancelled_reason"])
    row.delete()


def _note_lost(row: PlannedFiring, by: Person | None, at: datetime) -> None:
    """Record whose layers lose their place with a planned firing."""
    booking = row.booking
    when = Viewer.of_studio(row.studio).moment(booking.starts_at, at)
    for piece, numbers in layers_by_piece(row.items.all()).items():
        words = layer_words(numbers)
        lose, it = ("loses its", "it") if len(numbers) == 1 else ("lose their", "them")
        history.record(
            studio=row.studio,
            by=by,
            at=at,
            what=f"{words[:1].upper()}{words[1:]} {lose} planned place in "
            f"{booking.kiln}, {when}: that firing was made up without {it}",
            piece=piece,
            subject=lost_subject(booking),
        )
