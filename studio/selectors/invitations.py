"""Reads of invitations: a studio's own, a person's, and the one behind a link."""

import hashlib
from datetime import datetime

from django.db.models import Q

from studio.models import Invitation, Person, Studio
from studio.tenancy import StudioQuerySet

UNANSWERED = Q(accepted_at=None, declined_at=None, withdrawn_at=None)


def token_hash(token: str) -> str:
    """Return what is stored of a link's token, which is too random to be guessed."""
    return hashlib.sha256(token.encode()).hexdigest()


def unanswered(studio: Studio) -> StudioQuerySet[Invitation]:
    """Return the studio's invitations that nobody answered, expired ones too."""
    return (
        Invitation.owned.for_studio(studio).filter(UNANSWERED).order_by("email", "pk")
    )


def behind_link(token_sha256: str, *, at: datetime) -> Invitation | None:
    """Return the invitation whose newest link has a token of this hash, or none."""
    return _standing(at).filter(token_sha256=token_sha256).first()


def waiting_for(person: Person, *, at: datetime) -> list[Invitation]:
    """Return the invitations that a person can answer without a link.

    Until it was shown that the address is theirs there are none: somebody else may have
    made an account with it.
    """
    if person.email_confirmed_at is None:
        return []
    return list(_standing(at).filter(email=person.email).order_by("pk"))


def _standing(at: datetime) -> StudioQuerySet[Invitation]:
    return Invitation.across_studios.filter(
        UNANSWERED, expires_at__gt=at
    ).select_related("studio")
