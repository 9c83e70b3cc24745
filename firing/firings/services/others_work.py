"""Other work in a load, in words: added, given to its maker, taken out."""

from datetime import datetime

from django.db import transaction

from firing.firings.services.running import current_of
from firing.locks import lock_kiln
from firing.models import Firing, LoadItem
from studio.errors import Refused
from studio.models import KilnUser, Person
from studio.services import history
from studio.tenancy import same_studio


@transaction.atomic
def add_work(
    *,
    firing: Firing,
    description: str,
    kiln_user: KilnUser | None,
    by: Person | None,
    at: datetime,
) -> LoadItem:
    """Add another thing to a load, whose maker is charged their part of it.

    Raises
    ------
    Refused
        When the firing is cancelled.
    """
    same_studio(firing.studio, *filter(None, [kiln_user]))
    current = _held(firing)
    item = LoadItem.across_studios.create(
        studio=current.studio,
        firing=current,
        description=description,
        kiln_user=kiln_user,
    )
    _tell(current, f"Added {_words(item)}", by=by, at=at)
    return item


@transaction.atomic
def change_work(
    *,
    item: LoadItem,
    description: str,
    kiln_user: KilnUser | None,
    by: Person | None,
    at: datetime,
    is_out: bool = False,
) -> None:
    """Correct what a thing in a load is and whose it is, or take it out.

    Raises
    ------
    Refused
        When it is a piece or a layer, the firing is cancelled, or nothing else is in it.
    """
    same_studio(item.studio, *filter(None, [kiln_user]))
    current = _held(item.firing)
    now = current.items.filter(pk=item.pk).select_related("kiln_user").first()
    if now is None:
        raise Refused("Somebody took it out meanwhile.")
    if not now.description:
        raise Refused("A piece belongs to its maker. Change that on the piece.")
    if is_out:
        if current.items.count() == 1:
            raise Refused(
                "Nothing else is in this firing. Say what was, or cancel the firing."
            )
        now.delete()
        _tell(current, f"Took out {_words(now)}", by=by, at=at)
        return
    before = _words(now)
    now.description, now.kiln_user = description, kiln_user
    now.save(update_fields=["description", "kiln_user"])
    if before != _words(now):
        _tell(current, f"{before} is {_words(now)}", by=by, at=at)


def _held(firing: Firing) -> Firing:
    lock_kiln(firing.kiln)
    current = current_of(firing)
    if current.cancelled_at is not None:
        raise Refused("This firing is cancelled: nothing goes into it.")
    return current


def _words(item: LoadItem) -> str:
    whose = f" ({item.kiln_user})" if item.kiln_user else ""
    return f"“{item.description}”{whose}"


def _tell(firing: Firing, what: str, *, by: Person | None, at: datetime) -> None:
    history.record(
        studio=firing.studio,
        by=by,
        at=at,
        what=f"{firing.booking.title}: {what}",
        subject=f"firing {firing.pk}",
    )
