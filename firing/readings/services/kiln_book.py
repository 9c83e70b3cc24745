"""Keeps what was changed in a kiln or measured of it, and what is done now and then."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import TypeAlias

from django.db import transaction

from firing.models import (
    ChangedPart,
    KilnChange,
    KilnComparison,
    KilnEvenness,
    KilnUpkeep,
)
from firing.schedules.selectors.limits import JUDGE_ALL_JOB
from studio import jobs
from studio.models import Kiln, Person
from studio.services import history
from studio.services.locks import held
from studio.viewer import Viewer

Entry: TypeAlias = KilnChange | KilnComparison | KilnEvenness


@transaction.atomic
def keep_entry(
    *,
    kind: type[Entry],
    kiln: Kiln,
    values: Mapping[str, object],
    by: Person | None,
    at: datetime,
) -> Entry:
    """Save what was changed in a kiln or measured of it.

    From the day of a change its firings are compared anew; designs and verdicts count how
    even it is. A comparison alone changes nothing: the offset is set from its page.
    """
    made: Entry = kind.across_studios.create(
        studio=kiln.studio, kiln=kiln, made_at=at, made_by=by, **values
    )
    _note(kiln, by, at, f"Kiln {kiln}: {_said(made)}")
    _judge_anew(made)
    return made


@transaction.atomic
def correct_entry(
    *, entry: Entry, values: Mapping[str, object], by: Person | None, at: datetime
) -> None:
    """Correct what was entered of a kiln; the history says what it was."""
    if all(getattr(entry, name) == value for name, value in values.items()):
        return
    before = _said(entry)
    for name, value in values.items():
        setattr(entry, name, value)
    entry.save(update_fields=list(values))
    after = _said(entry)
    told = after if after == before else f"{after}, before {before}"
    _note(entry.kiln, by, at, f"Kiln {entry.kiln}, corrected: {told}")
    _judge_anew(entry)


@transaction.atomic
def remove_entry(*, entry: Entry, by: Person | None, at: datetime) -> None:
    """Remove what was entered of a kiln by mistake; the kiln's settings stay."""
    _note(entry.kiln, by, at, f"Kiln {entry.kiln}, removed: {_said(entry)}")
    entry.delete()
    _judge_anew(entry)


def _said(entry: Entry) -> str:
    """Say an entry in the studio's units, for its history."""
    viewer = Viewer.of_studio(entry.studio)
    match entry:
        case KilnComparison():
            return (
                f"{entry}: showed {viewer.temperature(entry.shown_c)}, measured "
                f"{viewer.temperature(entry.measured_c)}"
            )
        case KilnEvenness():
            return (
                f"{entry}: {viewer.temperature(entry.middle_c)} in the middle, "
                f"{viewer.temperature(entry.edge_c)} {viewer.length(entry.reach_mm)} "
                "from it"
            )
    return str(entry)


def _judge_anew(entry: Entry) -> None:
    if isinstance(entry, KilnEvenness):  # Every verdict in this kiln counts it.
        jobs.enqueue(studio=entry.studio, name=JUDGE_ALL_JOB)


@transaction.atomic
def keep_upkeep(
    *,
    kiln: Kiln,
    what: str,
    every: int,
    counted: str,
    since: date,
    by: Person | None,
    at: datetime,
) -> KilnUpkeep:
    """Keep what is to be done to a kiln after so many firings, hours or months."""
    made: KilnUpkeep = KilnUpkeep.across_studios.create(
        studio=kiln.studio,
        kiln=kiln,
        what=what,
        every=every,
        counted=counted,
        since=since,
        made_at=at,
        made_by=by,
    )
    _note(kiln, by, at, f"Kiln {kiln}: {made}")
    return made


@transaction.atomic
def upkeep_done(
    *, rule: KilnUpkeep, on: date, by: Person | None, at: datetime
) -> KilnChange:
    """Record that upkeep was done; pressed twice on a day, it is done once."""
    held(KilnUpkeep.owned.for_studio(rule.studio)).get(pk=rule.pk)
    found: KilnChange | None = rule.done.filter(changed_on=on).first()
    if found is not None:
        return found
    made: KilnChange = KilnChange.across_studios.create(
        studio=rule.studio,
        kiln=rule.kiln,
        changed_on=on,
        part=ChangedPart.OTHER,
        upkeep=rule,
        made_at=at,
        made_by=by,
    )
    _note(rule.kiln, by, at, f"Kiln {rule.kiln}: {made}")
    return made


@transaction.atomic
def remove_upkeep(*, rule: KilnUpkeep, by: Person | None, at: datetime) -> None:
    """Stop asking for upkeep; what was done keeps its words."""
    KilnChange.owned.for_studio(rule.studio).filter(upkeep=rule, note="").update(
        note=rule.what
    )
    _note(rule.kiln, by, at, f"Kiln {rule.kiln}: no more {rule}")
    rule.delete()


def _note(kiln: Kiln, by: Person | None, at: datetime, what: str) -> None:
    history.record(
        studio=kiln.studio, by=by, at=at, what=what, subject=f"kiln {kiln.pk}"
    )
