"""Puts right what a logger sent: readings of one span, removed or in another unit."""

from datetime import datetime

from django.db import transaction
from django.db.models import F
from django.db.models.expressions import Combinable

from firing.controller_log.pushed import COLDEST_C, HOTTEST_C
from firing.models import Firing, PushedChange, PushedCorrection
from firing.readings.selectors.pushed import DONE_WORDS, Pushed, corrected_c, pushed_in
from firing.readings.services.judging import ask_for_judgement
from studio.errors import Refused
from studio.models import Person
from studio.services import history
from studio.services.locks import held


@transaction.atomic
def correct_pushed(
    *,
    firing: Firing,
    pushed: Pushed,
    change: str,
    seen: str,
    by: Person | None,
    at: datetime,
) -> PushedCorrection:
    """Remove a logger's readings of a span, or put them into the unit they were sent in.

    Parameters
    ----------
    firing : Firing
        The firing.
    pushed : Pushed
        Which of its readings.
    change : one of PushedChange
        What to do.
    seen : str
        Their `mark` when somebody looked.
    by, at : Person or None, datetime
        Who does it, and when.

    Raises
    ------
    Refused
        When there are others now, none at all, or the unit cannot have been that.
    """
    current: Firing = (
        held(Firing.across_studios)
        .select_related("studio", "booking")
        .get(pk=firing.pk)
    )
    found = pushed_in(current, pushed)
    if found is None:
        raise Refused("There are no readings in this time. Give another one.")
    if found.mark != seen:
        raise Refused("These readings were changed since you looked. Look again.")
    rows = pushed.rows_of(current)
    if change == PushedChange.REMOVED:
        rows.delete()
    else:
        low, high = (
            corrected_c(change, end) for end in (found.lowest_c, found.highest_c)
        )
        if low < COLDEST_C or high > HOTTEST_C:
            raise Refused(
                f"They would be {low:,.0f} to {high:,.0f} °C then, which no kiln is. "
                "Choose the other unit, or a shorter time."
            )
        rows.update(temperature_c=_expression(change))
    made: PushedCorrection = PushedCorrection.across_studios.create(
        studio=current.studio,
        firing=current,
        logger=pushed.logger,
        change=change,
        first_at=found.first_at,
        last_at=found.last_at,
        reading_count=found.count,
        at=at,
        by=by,
    )
    history.record(
        studio=current.studio,
        by=by,
        at=at,
        what=(
            f"Put {found.count:,} readings right that {pushed.logger or 'a logger'} sent of "
            f"“{current.booking.title}”: {DONE_WORDS[PushedChange(change)]}"
        ),
        subject=f"firing {current.pk}",
    )
    ask_for_judgement(firing=current)
    return made


def _expression(change: str) -> Combinable:
    """Return `corrected_c` for the database; it is linear, so two values tell it."""
    zero = corrected_c(change, 0.0)
    return F("temperature_c") * (corrected_c(change, 1.0) - zero) + zero
