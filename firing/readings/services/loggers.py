"""Makes and revokes a kiln's loggers, and saves what they send."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from django.db import transaction

from firing.controller_log.pushed import PushedReading
from firing.models import Firing, KilnLogger, Reading
from firing.readings.services.judging import ask_for_judgement, ask_to_look
from studio.errors import Refused
from studio.keyed_tokens import new_nonce
from studio.models import Kiln, Person
from studio.services import history
from studio.services.locks import held

MOST_LOGGERS = 5
# A logger's clock may be a little wrong.
SLACK = timedelta(minutes=10)
# A clock that is off by less is right; one that differs by less from what it was is the
# same, sent through a slower line [s].
CLOCK_RIGHT_S, CLOCK_SWING_S = 60.0, 45.0
BEFORE_START = timedelta(hours=12)


@dataclass(frozen=True, slots=True, kw_only=True)
class PushedReadings:
    """What became of the readings that were sent."""

    firing: Firing
    kept: int
    known: int


@transaction.atomic
def make_logger(
    *, kiln: Kiln, name: str, by: Person | None, at: datetime
) -> KilnLogger:
    """Let a program or device send a kiln's readings.

    Raises
    ------
    Refused
        When it has no name, or the kiln has many already.
    """
    name = " ".join(name.split())[:80]
    if not name:
        raise Refused("Give the logger a name, such as: laptop beside the kiln.")
    standing = KilnLogger.owned.for_studio(kiln.studio).filter(
        kiln=kiln, revoked_at__isnull=True
    )
    if standing.count() >= MOST_LOGGERS:
        raise Refused(f"{kiln} has {MOST_LOGGERS} loggers. Take one away first.")
    made: KilnLogger = KilnLogger.across_studios.create(
        studio=kiln.studio,
        kiln=kiln,
        name=name,
        nonce=new_nonce(),
        made_at=at,
        made_by=by,
    )
    _record(made, by, at, f"Let the logger “{name}” send readings of kiln {kiln}")
    return made


@transaction.atomic
def revoke_logger(*, logger: KilnLogger, by: Person | None, at: datetime) -> None:
    """Revoke a logger's right to send; what it sent stays."""
    if logger.revoked_at is None:
        logger.revoked_at = at
        logger.save(update_fields=["revoked_at"])
        _record(
            logger, by, at, f"Took the logger “{logger}” of kiln {logger.kiln} away"
        )


def _record(logger: KilnLogger, by: Person | None, at: datetime, what: str) -> None:
    history.record(
        studio=logger.studio, by=by, at=at, what=what, subject=f"kiln {logger.kiln_id}"
    )


def clock_off_s(logger: KilnLogger, clock: datetime | None, at: datetime) -> float:
    """Return by how much a logger's clock is behind [s], 0 where it is right enough.

    What it told before stands while it is nearly the same: readings that are sent again
    must get the same instants again.
    """
    if clock is None:
        return 0.0
    off_s: float = round((at - clock).total_seconds())
    if abs(off_s - logger.clock_off_s) <= CLOCK_SWING_S:
        return logger.clock_off_s
    return off_s if abs(off_s) > CLOCK_RIGHT_S else 0.0


@transaction.atomic
def take_pushed(
    *,
    logger: KilnLogger,
    readings: Sequence[PushedReading],
    at: datetime,
    clock: datetime | None = None,
) -> PushedReadings:
    """Save readings for the firing that is running in a logger's kiln.

    Readings sent twice are saved once: sending again after a lost answer does no harm.
    `clock` is what the logger's own clock shows: where it is wrong, its readings are
    moved by as much.

    Raises
    ------
    Refused
        When no firing runs in the kiln, or a reading is of another time.
    """
    firing: Firing | None = (
        held(Firing.across_studios)
        .select_related("studio", "booking", "kiln", "schedule__glass")
        .filter(
            studio=logger.studio,
            kiln=logger.kiln,
            started_at__isnull=False,
            finished_at__isnull=True,
        )
        .first()
    )
    if firing is None or firing.started_at is None:
        raise Refused(
            f"No firing runs in {logger.kiln}. Start it in the program, then send again."
        )
    logger.clock_off_s = clock_off_s(logger, clock, at)
    if logger.clock_off_s:
        moved = timedelta(seconds=logger.clock_off_s)
        readings = [replace(one, at=one.at + moved) for one in readings]
    earliest, latest = firing.started_at - BEFORE_START, at + SLACK
    for one in readings:
        if not earliest <= one.at <= latest:
            raise Refused(
                f"{one.at.isoformat()} is not within this firing, which began at "
                f"{firing.started_at.isoformat()}. Set the logger's clock, or send "
                "what it shows as “clock”."
            )
    known = set(
        Reading.owned.for_studio(logger.studio)
        .filter(
            firing=firing,
            source__isnull=True,
            at__gte=readings[0].at,
            at__lte=readings[-1].at,
        )
        .values_list("at", flat=True)
    )
    new = [one for one in readings if one.at not in known]
    Reading.across_studios.bulk_create(
        Reading(
            studio=logger.studio,
            firing=firing,
            logger=logger,
            at=one.at,
            temperature_c=one.temperature_c,
        )
        for one in new
    )
    if logger.heard_at is None:
        _record(logger, None, at, f"The logger “{logger}” sent its first readings")
    logger.heard_at = at
    logger.save(update_fields=["heard_at", "clock_off_s"])
    if new:
        ask_for_judgement(firing=firing)
        ask_to_look(firing=firing)
    return PushedReadings(firing=firing, kept=len(new), known=len(readings) - len(new))
