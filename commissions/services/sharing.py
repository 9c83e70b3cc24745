"""Makes and revokes share links, and records when they are opened."""

from datetime import datetime, timedelta

from django.db import transaction

from commissions.models import Commission, ShareLink
from commissions.selectors.share_links import live_link
from commissions.services.commissions import locked
from commissions.services.notes import note
from studio.errors import Refused
from studio.keyed_tokens import new_nonce
from studio.models import Person
from studio.services.locks import held
from studio.undo import because, checked_reason

# A commission takes months, and clients want the care notes after it.
LIFETIME = timedelta(days=540)
OPENED_EVERY = timedelta(minutes=10)


@transaction.atomic
def make_share_link(
    *,
    commission: Commission,
    by: Person | None,
    at: datetime,
    lifetime: timedelta = LIFETIME,
) -> ShareLink:
    """Make a private link to the commission's page, or return the one already open."""
    # One at a time: of two links only the newer is shown, and only that can be revoked.
    commission = locked(commission)
    if link := live_link(commission, at=at):
        return link
    link = ShareLink.across_studios.create(
        studio=commission.studio,
        commission=commission,
        nonce=new_nonce(),
        made_at=at,
        made_by=by,
        expires_at=at + lifetime,
    )
    note(commission, by=by, at=at, what="Made a private link for the client")
    return link


@transaction.atomic
def revoke_share_link(*, link: ShareLink, by: Person | None, at: datetime) -> None:
    """Close a link; doing it twice changes nothing."""
    current = held(ShareLink.across_studios).get(pk=link.pk)
    if current.revoked_at is not None:
        return
    current.revoked_at = at
    current.save(update_fields=["revoked_at"])
    note(link.commission, by=by, at=at, what="Closed the client's private link")


@transaction.atomic
def restore_share_link(
    *, link: ShareLink, reason: str, by: Person | None, at: datetime
) -> None:
    """Let a link that was closed by mistake work again, at the same address.

    Raises
    ------
    Refused
        When another one is open, or it is late and no reason is given.
    """
    commission = locked(link.commission)
    current = held(ShareLink.across_studios).get(pk=link.pk)
    if current.revoked_at is None:
        return
    why = checked_reason(reason, recorded_at=current.revoked_at, now=at)
    if live_link(commission, at=at):
        raise Refused("Another link is open by now. Close that one first.")
    current.revoked_at = None
    current.save(update_fields=["revoked_at"])
    what = f"Opened the client's private link again{because(why)}"
    note(commission, by=by, at=at, what=what)


def note_opened(*, link: ShareLink, at: datetime) -> None:
    """Record that the page was opened, at most every ten minutes."""
    last = link.last_opened_at
    if last is None or at - last > OPENED_EVERY:
        ShareLink.across_studios.filter(pk=link.pk).update(last_opened_at=at)
