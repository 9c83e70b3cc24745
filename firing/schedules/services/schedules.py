"""Stores computed schedules, version by version; none is ever edited."""

from datetime import datetime

from django.db import transaction

from firing.locks import lock_pieces
from firing.models import FiringKind, Schedule, ScheduleRule, ScheduleSegment
from firing.physics.limits import DEFAULT_LIMITS, Limits
from firing.schedules.selectors.designs import DesignAsked, asked_for_piece, propose
from firing.schedules.selectors.fits import stack_problems
from firing.schedules.selectors.programmes import (
    Proposal,
    propose_enamel,
)
from firing.schedules.selectors.schedules import series
from firing.schedules.selectors.stacks import allowed_kinds
from studio.errors import Refused
from studio.models import Glass, Kiln, Person, Piece, Studio
from studio.selectors.glass_checks import mixed_problems
from studio.selectors.pieces import PieceView, fresh
from studio.services import history
from studio.services.locks import held
from studio.tenancy import same_studio
from studio.viewer import Viewer

# As long as the column is: two long titles together may be longer.
NAME_LETTERS = 160


def compute_fuse_schedule(
    *,
    piece: Piece,
    kiln: Kiln,
    rule: str,
    by: Person | None,
    at: datetime,
    kind: str = "",
    limits: Limits = DEFAULT_LIMITS,
) -> Schedule:
    """Compute a piece's fuse and anneal, or its re-anneal, fitted to a controller.

    Without a kind, the piece's stage decides it. Each call adds a version. The limits
    are for the computed rule only.

    Raises
    ------
    Refused
        When the piece is not at that stage, or the kiln cannot take it.
    PhysicsProblem
        When the table, the controller or the kiln does not reach that far.
    """
    same_studio(piece.studio, kiln)
    if rule == ScheduleRule.COMPUTED:
        # A design may take seconds, so it is made before anybody has to wait for the
        # lock. It is found again under the lock unless the piece changed in between.
        view = fresh(piece)
        kind = kind or default_kind(view)
        _refuse_kind(view, kind)
        refuse_misfit(view=view, kiln=kiln, kind=kind)
        _proposal(view, kiln=kiln, rule=rule, kind=kind, limits=limits)
    return _compute(
        piece=piece, kiln=kiln, rule=rule, by=by, at=at, kind=kind, limits=limits
    )


@transaction.atomic
def _compute(
    *,
    piece: Piece,
    kiln: Kiln,
    rule: str,
    by: Person | None,
    at: datetime,
    kind: str,
    limits: Limits,
) -> Schedule:
    # One at a time per piece, so that two never get the same version number.
    lock_pieces([piece])
    view = fresh(piece)
    kind = kind or default_kind(view)
    _refuse_kind(view, kind)
    refuse_misfit(view=view, kiln=kiln, kind=kind)
    proposal = _proposal(view, kiln=kiln, rule=rule, kind=kind, limits=limits)
    label = FiringKind(kind).label
    return _store(
        proposal,
        studio=piece.studio,
        name=f"{label}: {piece.title}",
        piece=piece,
        by=by,
        at=at,
    )


def _proposal(
    view: PieceView, *, kiln: Kiln, rule: str, kind: str, limits: Limits
) -> Proposal:
    return propose(asked_for_piece(view, kiln=kiln, kind=kind, limits=limits), rule)


def _refuse_kind(view: PieceView, kind: str) -> None:
    if kind not in allowed_kinds(view):
        words = FiringKind(kind).label.lower() if kind in FiringKind.values else kind
        raise Refused(
            f"{view.piece.title} cannot have a {words} now: {view.stage_words.lower()}."
        )


def default_kind(view: PieceView) -> str:
    """Return the kind of firing that a piece's stage calls for.

    Raises
    ------
    Refused
        When it calls for none.
    """
    kinds = allowed_kinds(view)
    if not kinds:
        raise Refused(
            f"{view.piece.title} is not ready for a fuse: {view.stage_words.lower()}. "
            "Finish its layers and check the stack first."
        )
    return kinds[0]


def refuse_misfit(*, view: PieceView, kiln: Kiln, kind: str) -> None:
    """Refuse a kiln that a piece does not fit.

    Raises
    ------
    Refused
        With every reason.
    """
    problems = mixed_problems(
        [v.layer.glass for v in view.layers], Viewer.of_studio(view.piece.studio)
    )
    if problems:
        raise Refused(" ".join(problems))
    problems = stack_problems(
        kiln=kiln,
        kind=kind,
        width_mm=view.piece.width_mm,
        depth_mm=view.piece.height_mm,
        height_mm=view.height_mm,
        glass=view.piece.glass,
        is_dammed=view.piece.is_dammed,
        viewer=Viewer.of_studio(view.piece.studio),
    )
    if problems:
        raise Refused(f"{kiln} cannot take {view.piece.title}. {' '.join(problems)}")


@transaction.atomic
def compute_enamel_schedule(
    *, studio: Studio, glass: Glass, kiln: Kiln, by: Person | None, at: datetime
) -> Schedule:
    """Return the studio's enamel schedule of a glass in a kiln.

    The last version is used as long as it would come out the same today.

    Raises
    ------
    PhysicsProblem
        When the sheets are too thick for it, or the kiln cannot do it.
    """
    same_studio(studio, glass, kiln)
    held(Glass.across_studios).get(pk=glass.pk)
    proposal = propose_enamel(glass=glass, kiln=kiln)
    last = (
        series(studio, kind=FiringKind.ENAMEL, piece=None, glass=glass, kiln=kiln)
        # Computed ones are in the same series; the standing programme is another.
        .filter(rule=ScheduleRule.STANDARD)
        .first()
    )
    if last is not None and _is_same(last, proposal):
        return last
    return _store(
        proposal,
        studio=studio,
        name=f"Enamel: {glass.name} in {kiln.name}",
        piece=None,
        by=by,
        at=at,
    )


def keep_design(
    *,
    studio: Studio,
    asked: DesignAsked,
    by: Person | None,
    at: datetime,
    rule: str = ScheduleRule.COMPUTED,
) -> Schedule:
    """Save a designed schedule that belongs to no piece, as the next version.

    Another rule saves the table's schedule in its place. Versions are counted for each glass in each kiln and kind of firing. A schedule that
    equals the last version becomes no new one.

    Raises
    ------
    PhysicsProblem
        When there is no such schedule, or kiln or controller cannot do it.
    """
    same_studio(studio, asked.glass, asked.kiln)
    # It may take seconds if it is not computed yet, so this comes before anybody waits.
    proposal = propose(asked, rule)
    return _keep_design(studio=studio, proposal=proposal, by=by, at=at)


@transaction.atomic
def _keep_design(
    *, studio: Studio, proposal: Proposal, by: Person | None, at: datetime
) -> Schedule:
    # One at a time per glass, so that two never get the same version number.
    held(Glass.across_studios).get(pk=proposal.glass.pk)
    label = FiringKind(proposal.kind).label
    return keep_proposal(
        proposal,
        studio=studio,
        name=f"{label}: {proposal.glass.name} in {proposal.kiln.name}",
        piece=None,
        by=by,
        at=at,
    )


def keep_proposal(
    proposal: Proposal,
    *,
    studio: Studio,
    name: str,
    piece: Piece | None,
    by: Person | None,
    at: datetime,
) -> Schedule:
    """Save a proposal as its series' next version, unless it equals the last one.

    Called while the piece, or without one the glass, is locked.
    """
    last = _last_like(proposal, studio=studio, piece=piece)
    if (
        last is not None
        and last.kiln_id == proposal.kiln.pk
        and _is_same(last, proposal)
    ):
        return last
    return _store(proposal, studio=studio, name=name, piece=piece, by=by, at=at)


def _last_like(
    proposal: Proposal, *, studio: Studio, piece: Piece | None
) -> Schedule | None:
    found: Schedule | None = series(
        studio,
        kind=proposal.kind,
        piece=piece,
        glass=proposal.glass,
        kiln=proposal.kiln,
    ).first()
    return found


def _is_same(stored: Schedule, proposal: Proposal) -> bool:
    rows = [
        (row.label, row.rate_c_per_h, row.target_c, row.hold_s)
        for row in stored.segments.all()
    ]
    wanted = [
        (s.label, s.rate_c_per_h, s.target_c, s.hold_s)
        for s in proposal.fitted.segments
    ]
    return rows == wanted and stored.basis == proposal.basis


def _store(
    proposal: Proposal,
    *,
    studio: Studio,
    name: str,
    piece: Piece | None,
    by: Person | None,
    at: datetime,
) -> Schedule:
    last = _last_like(proposal, studio=studio, piece=piece)
    schedule = Schedule.across_studios.create(
        studio=studio,
        name=name[:NAME_LETTERS],
        version=1 if last is None else last.version + 1,
        kind=proposal.kind,
        piece=piece,
        kiln=proposal.kiln,
        glass=proposal.glass,
        thickness_mm=proposal.thickness_mm,
        rule=proposal.rule,
        start_c=proposal.fitted.start_c,
        basis=proposal.basis,
        made_at=at,
        made_by=by,
    )
    ScheduleSegment.across_studios.bulk_create(
        ScheduleSegment(
            studio=studio,
            schedule=schedule,
            number=number,
            label=segment.label,
            rate_c_per_h=segment.rate_c_per_h,
            target_c=segment.target_c,
            hold_s=segment.hold_s,
        )
        for number, segment in enumerate(proposal.fitted.segments, start=1)
    )
    history.record(
        studio=studio,
        by=by,
        at=at,
        what=f"Computed the schedule {schedule} for {proposal.kiln}",
        piece=piece,
        subject=f"schedule {schedule.pk}",
    )
    return schedule
