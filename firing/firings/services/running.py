"""Starts and finishes firings, and tells the studio what became of the load."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from typing import BinaryIO

from django.db import IntegrityError, transaction

from firing.firings.services.cold import checked_cold
from firing.firings.services.span import hold_true_span, moment, note_line
from firing.kiln_time.services.bookings import kiln_time_guarded
from firing.loads.selectors.firings import piece_of
from firing.loads.selectors.known import NOTHING_READ, ReadByHand
from firing.locks import lock_kiln, lock_pieces
from firing.models import Booking, Firing, FiringKind, LoadItem
from firing.physics.schedule import PhysicsProblem
from firing.readings.services.judging import ask_for_judgement
from firing.schedules.selectors.programmes import curve_points, run_of
from firing.schedules.selectors.stacks import FUSES, allowed_kinds
from studio.errors import Refused
from studio.models import Outcome, Pass, Person
from studio.selectors.pieces import fresh
from studio.services import history, layers, pictures, pieces
from studio.services.before_work import refuse_hindered
from studio.services.locks import held
from studio.services.photographs import Developed, develop
from studio.services.stock_use import take_for_enamel_firing
from studio.stages import WorkKind
from studio.whole_files import with_its_files

ONE_RUNS = "one_running_firing_per_kiln"


@dataclass(frozen=True, slots=True, kw_only=True)
class Upload:
    """A picture as it was uploaded."""

    file: BinaryIO
    name: str


@transaction.atomic
def start_firing(
    *,
    firing: Firing,
    by: Person | None,
    at: datetime,
    started_at: datetime | None = None,
) -> Firing:
    """Record that the controller was started, now unless another time is given, and hold
    the kiln for the true span.

    If the true span would run into the next booking, the kiln is held only until that
    one, and the firing's note says so.

    Raises
    ------
    Refused
        When it was started or cancelled, the time is to come, something else is still
        in the kiln or was then, a piece in it is not stacked, or the studio wants a
        payment first.
    """
    started_at = started_at or at
    if started_at > at:
        raise Refused("That time is still to come. Start the controller first.")
    lock_kiln(firing.kiln)
    current = current_of(firing)
    if current.cancelled_at is not None:
        raise Refused("This firing was cancelled. Make up another one.")
    if current.started_at is not None:
        raise Refused("This firing was started already.")
    refuse_occupied(current)
    items = items_of(current)
    for item in items:
        _refuse_unready(item, current, by)
    run = run_of(current.kiln, current.schedule)
    booking: Booking = current.booking
    current.before_start = {
        "starts_at": booking.starts_at.isoformat(),
        "ends_at": booking.ends_at.isoformat(),
        "planned_curve": booking.planned_curve,
    }
    curve = curve_points(run, load_s=0)
    said = hold_true_span(current, curve, starts_at=started_at, by=by, at=at)
    say_of_start(current, said, started_at, at)
    current.started_at, current.start_recorded_at = started_at, at
    current.started_by = by
    with one_runs(current):
        current.save(
            update_fields=[
                "started_at",
                "started_by",
                "start_recorded_at",
                "before_start",
                "note",
            ]
        )
    for item in items:
        if item.piece is not None:
            pieces.note_into_kiln(
                piece=item.piece,
                firing_kind=current.kind,
                by=by,
                at=at,
            )
    take_for_enamel_firing(passes=passes_burnt_in(current, items), by=by, at=at)
    note_each(current, items, f"Started in {current.kiln}", by, at)
    return current


def passes_burnt_in(firing: Firing, items: Sequence[LoadItem]) -> list[Pass]:
    """Return the passes that a firing burns on; none of a firing of another kind."""
    if firing.kind != FiringKind.ENAMEL:
        return []
    return [item.of_pass for item in items if item.of_pass is not None]


def say_of_start(firing: Firing, said: str, started_at: datetime, at: datetime) -> None:
    """Write what there is to say of a start into the note, instead of what was said of
    it before; the caller saves it.
    """
    old = firing.before_start.pop("said", None)
    firing.note = "\n".join(one for one in firing.note.split("\n") if one != old)
    if said:
        line = f"Started at {moment(firing, started_at, at)}, {said}"
        note_line(firing, line)
        firing.before_start["said"] = line


def current_of(firing: Firing) -> Firing:
    """Return a firing as it is now, held."""
    found: Firing = (
        held(Firing.across_studios)
        .select_related("studio", "kiln__studio", "booking", "schedule")
        .get(pk=firing.pk)
    )
    return found


def items_of(firing: Firing) -> list[LoadItem]:
    """Return the load, with its pieces locked."""
    items = list(
        firing.items.select_related(
            "piece__studio", "of_pass__sheet__layer__piece__studio"
        ).order_by("pk")
    )
    lock_pieces(piece for item in items if (piece := piece_of(item)) is not None)
    return items


def refuse_occupied(firing: Firing) -> None:
    """Refuse what needs a kiln in which another firing runs.

    Raises
    ------
    Refused
        Naming what is in it.
    """
    inside = (
        Firing.owned.for_studio(firing.studio)
        .filter(kiln=firing.kiln, started_at__isnull=False, finished_at__isnull=True)
        .select_related("booking")
        .first()
    )
    if inside is not None:
        raise Refused(
            f"{firing.kiln} still holds “{inside.booking.title}”. Unload and finish "
            "that firing first."
        )


@contextmanager
def one_runs(firing: Firing) -> Iterator[None]:
    """Turn the database's refusal of a second running firing, and no other, into words.

    Raises
    ------
    Refused
        When another firing was started in the kiln since it was looked at.
    """
    try:
        with transaction.atomic():
            yield
    except IntegrityError as problem:
        if ONE_RUNS not in str(problem) and "firing_firing.kiln_id" not in str(problem):
            raise
        raise Refused(
            f"Another firing was started in {firing.kiln} at this moment. Look again."
        ) from problem


def _refuse_unready(item: LoadItem, firing: Firing, by: Person | None) -> None:
    if item.of_pass is not None:
        of_pass = item.of_pass
        title = of_pass.sheet.layer.piece.title
        if of_pass.painted_at is None or of_pass.outcome:
            raise Refused(
                f"{of_pass} of {title} does not wait for the kiln any more. Cancel this "
                "firing and make up the load again."
            )
    elif item.piece is not None:
        if firing.kind in FUSES:
            refuse_hindered(WorkKind.FUSE, item.piece, by=by)
        view = fresh(item.piece)
        if firing.kind not in allowed_kinds(view):
            raise Refused(
                f"{item.piece.title} is not ready for the kiln: "
                f"{view.stage_words.lower()}. Check the stack first."
            )
        if view.height_mm > firing.schedule.thickness_mm:
            raise Refused(
                f"The stack of {item.piece.title} was measured again and is higher "
                f"than {firing.schedule} was computed for. Cancel this firing, compute "
                "the schedule again and book it."
            )


def finish_firing(
    *,
    firing: Firing,
    outcomes: Mapping[int, tuple[str, str]],
    by: Person | None,
    at: datetime,
    pictures_of: Mapping[int, Upload] | None = None,
    hand: ReadByHand = NOTHING_READ,
) -> Firing:
    """Record that the kiln was unloaded, and how each thing in it came out.

    A kiln that is not known to be cold is unloaded only with what it shows, read at the
    kiln, and by somebody who confirms to know what hot glass does.

    Raises
    ------
    Refused
        When it was not started, is finished already, may be hot, an outcome is missing,
        or a picture cannot be read; nothing is recorded then.
    """
    photographs = {
        pk: develop(sent.file, sent.name) for pk, sent in (pictures_of or {}).items()
    }
    return _finish(firing, outcomes, photographs, by, at, hand)


@with_its_files()
def _finish(
    firing: Firing,
    outcomes: Mapping[int, tuple[str, str]],
    photographs: Mapping[int, Developed],
    by: Person | None,
    at: datetime,
    hand: ReadByHand,
) -> Firing:
    lock_kiln(firing.kiln)
    current = current_of(firing)
    if current.started_at is None:
        raise Refused("This firing was not started, so it cannot be finished.")
    if current.finished_at is not None:
        raise Refused("This firing is finished already.")
    if at < current.started_at:
        raise Refused("A firing ends after it was started.")
    shown = checked_cold(current, hand, at)
    items = items_of(current)
    missing = [item for item in items if item.pk not in outcomes]
    if missing:
        raise Refused(f"Say how {missing[0]} came out: fine, fire again, or cracked.")
    for item in items:
        outcome, note = outcomes[item.pk]
        if outcome not in Outcome.values:
            raise Refused(f"Say how {item} came out: fine, fire again, or cracked.")
        record_item(item, current, outcome, note, by, at)
    for item in items:
        if item.pk in photographs:
            _keep_picture(item, photographs[item.pk], by, at)
    current.finished_at = at
    current.finished_by = by
    current.unloaded_at_c = hand.shown_c
    current.energy_kwh = energy_of(current)
    current.save(
        update_fields=["finished_at", "finished_by", "unloaded_at_c", "energy_kwh"]
    )
    _give_back_rest(current, at)
    note_each(current, items, f"Unloaded from {current.kiln}{shown}", by, at)
    ask_for_judgement(firing=current)
    return current


def energy_of(firing: Firing) -> float | None:
    """Return what a firing took [kWh] by its kiln's model; none where it cannot follow."""
    try:
        return float(run_of(firing.kiln, firing.schedule).energy_kwh)
    except PhysicsProblem:
        return None


def record_item(
    item: LoadItem,
    firing: Firing,
    outcome: str,
    note: str,
    by: Person | None,
    at: datetime,
) -> None:
    """Record how one thing came out of the kiln."""
    item.outcome = outcome
    item.outcome_note = note
    item.save(update_fields=["outcome", "outcome_note"])
    if item.of_pass is not None and firing.kind == FiringKind.ENAMEL:
        layers.record_outcome(
            of_pass=item.of_pass, outcome=outcome, by=by, at=at, note=note
        )
    elif item.piece is not None:
        pieces.note_out_of_kiln(
            piece=item.piece,
            firing_kind=firing.kind,
            outcome=outcome,
            by=by,
            at=at,
            note=note,
        )


def _keep_picture(
    item: LoadItem, developed: Developed, by: Person | None, at: datetime
) -> None:
    pictures.keep_picture(
        studio=item.studio,
        developed=developed,
        by=by,
        at=at,
        piece=item.piece,
        of_pass=item.of_pass,
        caption=f"{item} out of the kiln",
    )


def _give_back_rest(firing: Firing, at: datetime) -> None:
    """End the booking when the kiln was unloaded, early or as late as allowed."""
    booking: Booking = firing.booking
    ends_at = at
    if at > booking.ends_at:
        following = (
            Booking.owned.for_studio(firing.studio)
            .filter(
                kiln=firing.kiln,
                cancelled_at__isnull=True,
                starts_at__gte=booking.ends_at,
            )
            .exclude(pk=booking.pk)
            .order_by("starts_at", "pk")
            .first()
        )
        if following is not None:
            ends_at = min(at, following.starts_at)
    if ends_at <= booking.starts_at:
        return
    booking.ends_at = ends_at
    with kiln_time_guarded(firing.kiln, booking.starts_at, ends_at, at, own=booking):
        booking.save(update_fields=["ends_at"])


def note_each(
    firing: Firing, items: list[LoadItem], what: str, by: Person | None, at: datetime
) -> None:
    """Write one line for each piece in the load."""
    found = {}
    for item in items:
        piece = piece_of(item)
        if piece is not None:
            found[piece.pk] = piece
    for piece in found.values() or [None]:
        history.record(
            studio=firing.studio,
            by=by,
            at=at,
            what=f"{firing.booking.title}: {what.lower()}" if piece is None else what,
            piece=piece,
            subject=f"firing {firing.pk}",
        )
