"""Records an acceptance that a member heard of, and takes it back.

What the client accepts on their page is in `commissions.services.quotes`.
"""

from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from django.db import transaction
from django.utils.text import capfirst

from commissions.models import (
    Commission,
    CommissionedPiece,
    Invoice,
    Payment,
    Quote,
)
from commissions.selectors.quotes import (
    accepted_quote,
    accepted_words,
    day_of,
    view_quote,
)
from commissions.services.commissions import locked, refuse_closed
from commissions.services.due_dates import tell_due_date
from commissions.services.notes import note
from commissions.services.pieces import set_sizes
from commissions.services.quotes import take_effect
from firing.firings.services.stopping import stop_work
from studio.errors import Refused
from studio.models import Person
from studio.selectors.pieces import fresh
from studio.undo import because, checked_reason

NOON = time(12)
TAKEN_BACK = "the acceptance was taken back"


@transaction.atomic
def record_acceptance(
    *, quote: Quote, name: str, day: date, how: str, by: Person | None, at: datetime
) -> Quote:
    """Record that the client accepted in another way than on their page.

    It has the same effect. Whether the quote still stood is judged on that day.

    Raises
    ------
    Refused
        When something is accepted already, the quote did not stand, the day is before it
        was sent or to come, or the name or how it was accepted is left out.
    """
    commission = locked(quote.commission)
    refuse_closed(commission)
    current: Quote = Quote.across_studios.select_related("studio").get(pk=quote.pk)
    accepted = accepted_quote(commission)
    if accepted is not None and current.adds_to_id != accepted.pk:
        raise Refused(accepted_words(accepted))
    if not name.strip() or not how.strip():
        raise Refused("Write who accepted, and how: by letter, on the phone.")
    if current.sent_at is None:
        raise Refused(f"Send {current.name} first: its paper is what is accepted.")
    if not day_of(current.studio, current.sent_at) <= day <= day_of(current.studio, at):
        sent = f"{day_of(current.studio, current.sent_at):%a %-d %b %Y}"
        raise Refused(
            f"{capfirst(current.name)} was sent on {sent}. Give a day from then to "
            "today."
        )
    noon = datetime.combine(day, NOON, tzinfo=ZoneInfo(current.studio.time_zone))
    accepted_at = min(max(noon, current.sent_at), at)
    view = view_quote(current, at=accepted_at)
    if not view.may_be_answered:
        raise Refused(
            f"{capfirst(current.name)} cannot be accepted: {view.state_words.lower()}."
        )
    current.accepted_how = " ".join(how.split())[:200]
    current.acceptance_recorded_at, current.acceptance_recorded_by = at, by
    take_effect(
        current,
        commission=commission,
        name=name,
        accepted_at=accepted_at,
        by=by,
        at=at,
    )
    return current


@transaction.atomic
def take_back_acceptance(
    *, quote: Quote, reason: str, by: Person | None, at: datetime
) -> None:
    """Take back an acceptance that was recorded by mistake: the quote waits again.

    Raises
    ------
    Refused
        When no member recorded it, something was built on it since, or it is late and no
        reason is given.
    """
    commission = locked(quote.commission)
    refuse_closed(commission)
    current: Quote = Quote.across_studios.get(pk=quote.pk)
    recorded_at = current.acceptance_recorded_at
    if current.accepted_at is None or recorded_at is None:
        raise Refused("No member recorded an acceptance of this quote.")
    why = checked_reason(reason, recorded_at=recorded_at, now=at)
    _refuse_built_on(current, commission, recorded_at)
    if current.adds_to_id is None:
        _give_up_pieces(commission, by=by, at=at)
    name = current.accepted_by_name
    current.accepted_at, current.accepted_by_name, current.accepted_how = None, "", ""
    current.acceptance_recorded_at = current.acceptance_recorded_by = None
    current.agreed_date = None
    current.save()
    before = accepted_quote(commission)
    if before is not None:
        set_sizes(commission=commission, quote=before, by=by, at=at)
    tell_due_date(commission)
    note(
        commission,
        by=by,
        at=at,
        what=f"Took back that {name} accepted {current.name}{because(why)}",
    )


def _refuse_built_on(quote: Quote, commission: Commission, since: datetime) -> None:
    if quote.addenda.filter(sent_at__isnull=False).exists():
        raise Refused("An addendum to it was sent, so its acceptance stays.")
    payments = Payment.owned.for_studio(commission.studio).filter(commission=commission)
    if payments.filter(recorded_at__gte=since, taken_back_at=None).exists():
        raise Refused("Money was recorded since. Take that payment back first.")
    issued = Invoice.owned.for_studio(commission.studio).filter(commission=commission)
    if issued.filter(issued_at__gte=since).exists():
        raise Refused("An invoice was issued since, so the acceptance stays.")


def _give_up_pieces(commission: Commission, *, by: Person | None, at: datetime) -> None:
    """Stop the pieces that the acceptance made; another acceptance makes new ones.

    Raises
    ------
    Refused
        When work on one has begun, or a kiln is booked for it.
    """
    rows = CommissionedPiece.owned.for_studio(commission.studio).filter(
        commission=commission
    )
    made = list(rows.select_related("piece__studio"))
    for piece in (row.piece for row in made):
        view = fresh(piece)
        painted = any(one.painted_at for v in view.layers for one in v.all_passes)
        if view.events or painted:
            raise Refused(
                f"Work on {piece.title} has begun, so the acceptance stays. Close the "
                "commission if it is not to be made."
            )
    stopped = stop_work(
        studio=commission.studio,
        pieces=[row.piece for row in made if row.replaced_at is None],
        reason=TAKEN_BACK,
        by=by,
        at=at,
    )
    if stopped.sentences:
        raise Refused("A kiln is booked for it. Cancel that firing first.")
    rows.filter(replaced_at=None).update(replaced_at=at)
