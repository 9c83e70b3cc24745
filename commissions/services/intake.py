"""Creates or changes a commission from one form: client, picture, facts."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, BinaryIO

from django.db import IntegrityError

from commissions.models import Client, Commission
from commissions.selectors.work import CommissionWork
from commissions.services.clients import create_client
from commissions.services.commissions import (
    change_commission,
    create_commission,
    locked,
)
from commissions.services.promises import ask_after_change
from studio.errors import Refused
from studio.models import Person, Picture, Studio
from studio.services.photographs import Developed, develop
from studio.services.pictures import keep_picture
from studio.whole_files import with_its_files


def take_in(
    *,
    studio: Studio,
    client: Client | None,
    new_client: dict[str, str],
    reference_file: BinaryIO | None,
    facts: dict[str, Any],
    by: Person,
    at: datetime,
    request_key: str = "",
) -> Commission:
    """Create a commission with its new client and its picture, all or nothing.

    Parameters
    ----------
    request_key : str
        Of the form: sent a second time, it returns what the first one made.

    Raises
    ------
    Refused
        When the picture cannot be read, no layer would carry an image, or the form was
        sent before and said something else.
    """
    sent = _Sent(
        client=client,
        new_client=new_client,
        has_picture=reference_file is not None,
        facts=facts,
    )
    if (made := _made_by(studio, request_key, sent)) is not None:
        return made
    developed = _developed(reference_file)
    try:
        with with_its_files():
            if client is None:
                client = create_client(studio=studio, by=by, at=at, **new_client)
            return create_commission(
                studio=studio,
                client=client,
                reference=_reference(studio, developed, by, at),
                by=by,
                at=at,
                request_key=request_key,
                **facts,
            )
    except IntegrityError:
        # The same form was sent twice at once, and the other one was faster.
        if (made := _made_by(studio, request_key, sent)) is not None:
            return made
        raise


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sent:
    """What a form says, to compare with what an earlier copy of it created."""

    client: Client | None
    new_client: dict[str, str]
    has_picture: bool
    facts: dict[str, Any]

    def is_same_as(self, made: Commission) -> bool:
        """Return whether treating the form as the same one would lose nothing."""
        if self.client is not None:
            is_same_client = made.client_id == self.client.pk
        else:
            is_same_client = _has_all(made.client, self.new_client)
        # A picture is not compared: it was re-encoded when it was saved.
        has_its_picture = made.reference_id is not None or not self.has_picture
        return is_same_client and has_its_picture and _has_all(made, self.facts)


def _has_all(record: Client | Commission, values: Mapping[str, object]) -> bool:
    return all(getattr(record, name) == value for name, value in values.items())


def _made_by(studio: Studio, request_key: str, sent: _Sent) -> Commission | None:
    """Return the commission that this form already created, or none.

    Raises
    ------
    Refused
        When the form was sent before and says something else now.
    """
    if not request_key:
        return None
    found = Commission.owned.for_studio(studio).select_related("client")
    made: Commission | None = found.filter(request_key=request_key).first()
    if made is not None and not sent.is_same_as(made):
        raise Refused(
            f"This form was sent before and made {made.title}. Open that under "
            "Commissions and change it there, or begin a new form."
        )
    return made


def change(
    *,
    commission: Commission,
    client: Client | None,
    new_client: dict[str, str],
    reference_file: BinaryIO | None,
    facts: dict[str, Any],
    by: Person,
    at: datetime,
) -> None:
    """Change a commission; without a new picture the old one stays.

    Raises
    ------
    Refused
        When a quote is accepted, or the picture cannot be read.
    """
    studio = commission.studio
    developed = _developed(reference_file)
    with with_its_files():
        # Locked before it is looked at: the page may be older than the last change.
        before = CommissionWork.of(locked(commission))
        if client is None:
            client = create_client(studio=studio, by=by, at=at, **new_client)
        if developed is not None:
            facts = facts | {"reference": _reference(studio, developed, by, at)}
        change_commission(commission=commission, client=client, by=by, at=at, **facts)
        current = locked(commission)
        if CommissionWork.of(current) != before:
            ask_after_change(commission=current, at=at)


def _developed(upload: BinaryIO | None) -> Developed | None:
    if upload is None:
        return None
    return develop(upload, str(getattr(upload, "name", "The file")))


def _reference(
    studio: Studio, developed: Developed | None, by: Person, at: datetime
) -> Picture | None:
    if developed is None:
        return None
    return keep_picture(
        studio=studio, developed=developed, by=by, at=at, caption="Reference"
    )
