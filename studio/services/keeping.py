"""Saves plain records (kilns, glasses, hours, the studio itself) with their history."""

from collections.abc import Sequence
from datetime import datetime

from django.db import IntegrityError, transaction
from django.db.models import Model

from studio.errors import Refused
from studio.models import Person, Studio
from studio.services import history

# What a service of its own changes, and a form that was open meanwhile must not.
KEPT_ELSEWHERE = frozenset({"currency"})


def _subject(record: Model) -> str:
    return f"{record._meta.model_name} {record.pk}"


@transaction.atomic
def keep(
    *,
    studio: Studio,
    record: Model,
    changed: Sequence[str],
    by: Person | None,
    at: datetime,
    is_about_money: bool = False,
) -> None:
    """Save a record and note what was added or changed, field by field.

    Raises
    ------
    Refused
        When somebody else saved one like it since the form was checked.
    """
    is_new = record.pk is None
    if not is_new and not changed:
        return
    try:
        with transaction.atomic():
            record.save(update_fields=None if is_new else _kept_here(record))
    except IntegrityError as problem:
        # The form looked before this transaction began; a button may be pressed twice.
        raise Refused(
            "The same was saved at this very moment, by you or by somebody else. Look "
            "whether it is there already."
        ) from problem
    name = f"{record._meta.verbose_name} {record}"
    what = f"Added {name}" if is_new else f"Changed {name}: {', '.join(changed)}"
    history.record(
        studio=studio,
        by=by,
        at=at,
        what=what,
        subject=_subject(record),
        is_about_money=is_about_money,
    )


def _kept_here(record: Model) -> list[str]:
    fields = record._meta.concrete_fields
    return [
        one.name
        for one in fields
        if not one.primary_key and one.name not in KEPT_ELSEWHERE
    ]


@transaction.atomic
def remove(*, studio: Studio, record: Model, by: Person | None, at: datetime) -> None:
    """Delete a record that nothing else depends on, and note it in the history."""
    what = f"Removed {record._meta.verbose_name} {record}"
    subject = _subject(record)
    record.delete()
    history.record(studio=studio, by=by, at=at, what=what, subject=subject)
