"""Makes up firings: enamel loads and fuses, each with its booking."""

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

from django.db import transaction

from firing.kiln_time.services.bookings import book_kiln
from firing.loads.selectors.firings import standing_items
from firing.loads.selectors.loads import LoadPlan, plan_load, share_programme
from firing.loads.selectors.names import firing_name
from firing.loads.selectors.saved_schedules import why_not_for
from firing.locks import lock_all_kilns, lock_kiln, lock_pieces
from firing.models import Booking, BookingKind, Firing, FiringKind, LoadItem, Schedule
from firing.planning.problem import practice
from firing.plans.services.replace_planned import (
    cancel_and_put_back,
    keep_way_back,
    take_over,
)
from firing.schedules.selectors.fits import stack_problems
from firing.schedules.selectors.programmes import (
    BOTH_FACES,
    curve_points,
    held_s,
    load_s_of,
    run_of,
)
from firing.schedules.selectors.stacks import allowed_kinds
from firing.schedules.services.schedules import compute_enamel_schedule, refuse_misfit
from studio.errors import Refused
from studio.models import Glass, Kiln, KilnUser, Pass, Person, Piece, Studio
from studio.selectors.pieces import fresh
from studio.services import history
from studio.tenancy import same_studio
from studio.viewer import Viewer


@transaction.atomic
def make_up_enamel_firing(
    *,
    studio: Studio,
    kiln: Kiln,
    passes: Sequence[Pass],
    starts_at: datetime,
    by: Person | None,
    at: datetime,
    schedule: Schedule | None = None,
) -> Firing:
    """Load painted passes into a kiln, book it, and give it an enamel schedule.

    Without a saved schedule it is the studio's standing programme.

    Raises
    ------
    Refused
        When a pass does not wait for the kiln or lies in another load, when glasses do
        not go together, when not all of it fits, or when the schedule is for another
        kiln or glass; nothing is made then.
    KilnTaken
        When the kiln is not free.
    """
    same_studio(studio, kiln, *passes)
    if not passes:
        raise Refused("Choose at least one painted layer for the load.")
    lock_all_kilns(studio)  # The plan may have some of it in another.
    lock_pieces(p.sheet.layer.piece for p in passes)
    locked = _waiting(studio, passes)
    plan = _plan_all(kiln, locked)
    if schedule is None:
        schedule = compute_enamel_schedule(
            studio=studio, glass=_hottest_glass(locked), kiln=kiln, by=by, at=at
        )
    elif reason := why_not_for(schedule, kiln=kiln, passes=locked):
        raise Refused(reason)
    layers = [one.sheet.layer for one in locked]
    firing = _book(
        studio=studio,
        kiln=kiln,
        schedule=schedule,
        name=firing_name(
            schedule.kind, layers=[(one.piece.title, one.number) for one in layers]
        ),
        passes=locked,
        load_s=practice.LOAD_SHEETS_S,
        starts_at=starts_at,
        by=by,
        at=at,
    )
    LoadItem.across_studios.bulk_create(
        LoadItem(
            studio=studio,
            firing=firing,
            of_pass=laid.of_pass,
            x_mm=laid.placed.x_mm,
            y_mm=laid.placed.y_mm,
            is_turned=laid.placed.is_turned,
        )
        for laid in plan.laid
    )
    for piece in {p.sheet.layer.piece for p in locked}:
        numbers = ", ".join(
            str(p.sheet.layer.number) for p in locked if p.sheet.layer.piece == piece
        )
        _note(firing, f"Put layer {numbers} into the load for {kiln}", piece, by, at)
    return firing


def _waiting(studio: Studio, passes: Sequence[Pass]) -> list[Pass]:
    """Read the passes again and refuse those that cannot go into a load."""
    locked = list(
        Pass.owned.for_studio(studio)
        .filter(pk__in=[p.pk for p in passes])
        .select_related("sheet__layer__piece__studio", "sheet__layer__glass")
        .order_by("pk")
    )
    for of_pass in locked:
        title = of_pass.sheet.layer.piece.title
        if of_pass.sheet.layer.piece.stopped_at is not None:
            raise Refused(f"{title} is stopped. Leave its layers out of the load.")
        if of_pass.painted_at is None:
            raise Refused(f"{of_pass} of {title} is not painted yet.")
        if of_pass.outcome:
            raise Refused(f"{of_pass} of {title} was fired already.")
        if of_pass.sheet.set_aside_at is not None:
            raise Refused(
                f"{of_pass} of {title} is on a sheet that was set aside: "
                f"{of_pass.sheet.set_aside_reason}."
            )
    taken = (
        standing_items(studio)
        .filter(of_pass__in=locked)
        .select_related(
            "of_pass__sheet__layer__piece", "firing__kiln", "firing__booking"
        )
        .first()
    )
    if taken is not None and taken.of_pass is not None:
        when = Viewer.of_studio(studio).day(taken.firing.booking.starts_at)
        raise Refused(
            f"{taken.of_pass} of {taken.of_pass.sheet.layer.piece.title} lies in "
            f"another load already: {taken.firing.kiln}, {when}. Cancel that firing, or "
            "leave the layer out of this one."
        )
    return locked


def _plan_all(kiln: Kiln, passes: Sequence[Pass]) -> LoadPlan:
    """Place every pass, or refuse and name what does not fit."""
    first = passes[0].sheet.layer.glass
    for of_pass in passes:
        glass = of_pass.sheet.layer.glass
        if not share_programme(glass, first):
            raise Refused(
                f"{first.name} and {glass.name} need different temperatures and must "
                "not share an enamel firing. Make up one firing for each."
            )
    plan = plan_load(
        kiln=kiln, passes=passes, glass=first, viewer=Viewer.of_studio(kiln.studio)
    )
    if plan.left_out:
        raise Refused(f"Not everything goes into {kiln}. {_left_out_words(plan)}")
    return plan


def _left_out_words(plan: LoadPlan) -> str:
    """Say what does not fit and why, one sentence for each piece and reason."""
    numbers: dict[tuple[str, str], list[str]] = {}
    for out in plan.left_out:
        layer = out.of_pass.sheet.layer
        key = (layer.piece.title, out.reason)
        numbers.setdefault(key, []).append(str(layer.number))
    return " ".join(
        f"Layer{'s' if len(found) > 1 else ''} {', '.join(found)} of {title}: {reason}"
        for (title, reason), found in numbers.items()
    )


def _hottest_glass(passes: Sequence[Pass]) -> Glass:
    """Return one glass for the whole load, always the same for the same load."""
    glasses = {p.sheet.layer.glass for p in passes}
    return max(glasses, key=lambda g: (g.sheet_thickness_mm, g.enamel_c, -g.pk))


@transaction.atomic
def book_fuse(
    *,
    piece: Piece,
    kiln: Kiln | None,
    schedule: Schedule,
    starts_at: datetime,
    by: Person | None,
    at: datetime,
) -> Firing:
    """Book a kiln for a piece's whole fuse and anneal, or its re-anneal.

    Raises
    ------
    Refused
        When the schedule was computed for another piece, glass, kiln or stage or for no
        kiln, or the piece is booked already.
    KilnTaken
        When the kiln is not free for the whole cycle.
    """
    if kiln is None:
        raise Refused(f"{schedule} was fitted to no kiln. Design it for one.")
    studio = piece.studio
    same_studio(studio, kiln, schedule)
    lock_all_kilns(studio)  # The plan may have it in another.
    lock_pieces([piece])
    view = fresh(piece)
    if schedule.piece_id is None:
        _refuse_other_glass(schedule, piece)
    elif schedule.piece_id != piece.pk:
        raise Refused(f"{schedule} was computed for another piece. Compute one for it.")
    if schedule.kiln_id != kiln.pk:
        raise Refused(
            f"{schedule} was fitted to {schedule.kiln}, not to {kiln}. Compute it again "
            "for this kiln."
        )
    if schedule.kind not in allowed_kinds(view):
        raise Refused(
            f"{piece.title} cannot have a {schedule.get_kind_display().lower()} now: "
            f"{view.stage_words.lower()}."
        )
    if view.height_mm > schedule.thickness_mm:
        raise Refused(
            f"The stack was measured again since {schedule} was computed, and is "
            "higher now. Compute the schedule again."
        )
    refuse_misfit(view=view, kiln=kiln, kind=schedule.kind)
    standing = (
        standing_items(studio)
        .filter(piece=piece, firing__finished_at__isnull=True)
        .select_related("firing__kiln", "firing__booking")
        .first()
    )
    if standing is not None:
        when = Viewer.of_studio(studio).moment(standing.firing.booking.starts_at, at)
        raise Refused(
            f"{piece.title} is booked already: {standing.firing.kiln}, {when}. Cancel "
            "that firing first."
        )
    firing = _book(
        studio=studio,
        kiln=kiln,
        schedule=schedule,
        name=firing_name(schedule.kind, stacks=[piece.title]),
        piece=piece,
        load_s=practice.LOAD_STACK_S,
        starts_at=starts_at,
        by=by,
        at=at,
    )
    LoadItem.across_studios.create(
        studio=studio,
        firing=firing,
        piece=piece,
        x_mm=max(0.0, (kiln.shelf_width_mm - piece.width_mm) / 2),
        y_mm=max(0.0, (kiln.shelf_depth_mm - piece.height_mm) / 2),
    )
    what = schedule.get_kind_display().lower()
    _note(firing, f"Booked {kiln} for the {what}", piece, by, at)
    return firing


def _refuse_other_glass(schedule: Schedule, piece: Piece) -> None:
    """Refuse a saved schedule that was designed for a different glass from the piece's."""
    if schedule.glass_id != piece.glass_id:
        raise Refused(
            f"{schedule} was designed for {schedule.glass}, and {piece.title} is of "
            f"{piece.glass}. Design one for that glass."
        )
    if piece.is_dammed and schedule.basis.get("faces") == BOTH_FACES:
        raise Refused(
            f"{schedule} was designed for glass that cools through both faces, and "
            f"{piece.title} is dammed. Design one with dams."
        )


@transaction.atomic
def book_work(
    *,
    schedule: Schedule,
    things: Sequence[str],
    starts_at: datetime,
    by: Person | None,
    at: datetime,
    kiln_user: KilnUser | None = None,
) -> Firing:
    """Book a kiln by a saved schedule for work that is not one of the studio's pieces.

    `things` say in words what goes in, one line for each thing to inspect afterwards;
    `kiln_user` is the maker whose they are, where they are not the studio's.

    Raises
    ------
    Refused
        When nothing goes in, the schedule belongs to a piece, or the kiln cannot take
        glass of that height.
    KilnTaken
        When the kiln is not free for the whole cycle.
    """
    same_studio(schedule.studio, *filter(None, [kiln_user]))
    named = [thing.strip()[:160] for thing in things if thing.strip()]
    kiln = schedule.kiln
    if not named:
        raise Refused("Say what goes in: choose a piece, or write it in words.")
    if schedule.piece_id is not None:
        raise Refused(
            f"{schedule} belongs to {schedule.piece}. Book it from that piece."
        )
    if kiln is None:
        raise Refused(f"{schedule} was fitted to no kiln. Design it for one.")
    lock_kiln(kiln)
    problems = stack_problems(
        kiln=kiln,
        kind=schedule.kind,
        width_mm=0.0,
        depth_mm=0.0,
        height_mm=schedule.thickness_mm,
        glass=schedule.glass,
        is_dammed=False,
        viewer=Viewer.of_studio(schedule.studio),
    )
    if problems:
        raise Refused(f"{kiln} cannot take it. {' '.join(problems)}")
    firing = _book(
        studio=schedule.studio,
        kiln=kiln,
        schedule=schedule,
        name=firing_name(schedule.kind, others=named),
        load_s=load_s_of(schedule.kind),
        starts_at=starts_at,
        by=by,
        at=at,
    )
    LoadItem.across_studios.bulk_create(
        LoadItem(
            studio=schedule.studio,
            firing=firing,
            description=thing,
            kiln_user=kiln_user,
        )
        for thing in named
    )
    return firing


def _book(
    *,
    studio: Studio,
    kiln: Kiln,
    schedule: Schedule,
    name: str,
    load_s: float,
    starts_at: datetime,
    by: Person | None,
    at: datetime,
    passes: Sequence[Pass] = (),
    piece: Piece | None = None,
) -> Firing:
    """Book the kiln from loading to unloading and make the firing.

    It takes over what the standing plan has for these passes or this piece, or keeps
    there for nothing.
    """
    curve = curve_points(run_of(kiln, schedule), load_s=load_s)
    # Hours are added in UTC: a local night of 23 or 25 hours means nothing to a kiln.
    starts_at = starts_at.astimezone(UTC)
    ends_at = starts_at + timedelta(seconds=held_s(curve))
    planned = take_over(
        studio=studio,
        kiln=kiln,
        passes=passes,
        piece=piece,
        starts_at=starts_at,
        ends_at=ends_at,
        at=at,
    )
    booking: Booking = book_kiln(
        studio=studio,
        kiln=kiln,
        kind=BookingKind.FIRING,
        title=name,
        starts_at=starts_at,
        ends_at=ends_at,
        by=by,
        at=at,
        planned_curve=curve,
        instead_of=planned.booking,
    )
    keep_way_back(planned, booking, by=by, at=at)
    return Firing.across_studios.create(
        studio=studio,
        kind=FiringKind(schedule.kind),
        kiln=kiln,
        booking=booking,
        schedule=schedule,
        made_at=at,
        made_by=by,
    )


def cancel_firing(
    *, firing: Firing, reason: str, by: Person | None, at: datetime
) -> list[str]:
    """Cancel a planned firing: its load waits again, and its kiln time is free again.

    Returns what the plan has again in its place, one sentence each.

    Raises
    ------
    Refused
        When it was started or is cancelled already.
    """
    return cancel_and_put_back(booking=firing.booking, reason=reason, by=by, at=at)


def _note(
    firing: Firing, what: str, piece: Piece, by: Person | None, at: datetime
) -> None:
    history.record(
        studio=firing.studio,
        by=by,
        at=at,
        what=what,
        piece=piece,
        subject=f"firing {firing.pk}",
    )
