"""What is done about a lost piece: it is made again, and the client is told."""

from datetime import datetime

from django.db import transaction

from commissions.models import CommissionedPiece, Post
from commissions.services.commissions import locked, refuse_closed
from commissions.services.due_dates import tell_due_date
from commissions.services.notes import note
from commissions.services.posts import post_news, withdraw_post
from commissions.services.promises import ask_after_work_changed
from firing.firings.services.stopping import stop_work
from studio.errors import Refused
from studio.models import Layer, Person, Piece, Studio
from studio.selectors.pieces import fresh, remake_of
from studio.services.pieces import LayerPlan, plan_piece
from studio.services.reservations import reserve
from studio.services.stopping import give_up_remake
from studio.stages import Stage
from studio.undo import because, checked_reason

TAKEN_BACK = "its remake was taken back"


@transaction.atomic
def start_remake(*, piece: Piece, by: Person | None, at: datetime) -> Piece:
    """Plan a lost piece again inside its commission, with every layer to be made.

    The lost one stays on record. The promised day is worked out again.

    Raises
    ------
    Refused
        When the commission is closed, or the piece is not lost or replaced already.
    """
    row = _row(piece)
    commission = locked(row.commission)
    refuse_closed(commission)
    row.refresh_from_db()
    view = fresh(piece)
    if view.stage is not Stage.LOST:
        raise Refused(f"{piece.title} is not lost: {view.stage_words.lower()}.")
    if row.replaced_at is not None:
        raise Refused(f"{piece.title} is being made again already.")
    again = plan_piece(
        studio=piece.studio,
        title=f"{piece.title[:148]}, made again",
        width_mm=piece.width_mm,
        height_mm=piece.height_mm,
        glass=piece.glass,
        layers=[_plan_of(one.layer) for one in view.layers],
        by=by,
        at=at,
        maker=piece.maker,
        is_dammed=piece.is_dammed,
        maquette_of=piece.maquette_of,
        remake_of=piece,
    )
    reserve(piece=again, at=at)
    row.replaced_at = at
    row.save(update_fields=["replaced_at"])
    CommissionedPiece.across_studios.create(
        studio=piece.studio,
        commission=commission,
        piece=again,
        is_maquette=row.is_maquette,
    )
    tell_due_date(commission)
    note(
        commission,
        by=by,
        at=at,
        what=f"Started the remake of {piece.title}",
        piece=again,
    )
    ask_after_work_changed(commission=commission, at=at)
    return again


@transaction.atomic
def take_back_remake(
    *, lost: Piece, reason: str, by: Person | None, at: datetime
) -> None:
    """Take back the remake of a lost piece that was started by mistake.

    Raises
    ------
    Refused
        When there is none, work on it began, or it is late and no reason is given.
    """
    row = _row(lost)
    commission = locked(row.commission)
    row.refresh_from_db()
    again = remake_of(lost)
    if again is None or row.replaced_at is None:
        raise Refused(f"{lost.title} is not being made again.")
    why = checked_reason(reason, recorded_at=row.replaced_at, now=at)
    stop_work(studio=lost.studio, pieces=[again], reason=TAKEN_BACK, by=by, at=at)
    view = fresh(again)
    if view.events or any(one.painted_at for v in view.layers for one in v.all_passes):
        raise Refused(
            f"Work on {again.title} has begun. Mark it as lost if it is not to be "
            "finished."
        )
    give_up_remake(again)
    rows = CommissionedPiece.owned.for_studio(lost.studio)
    rows.filter(piece=again).update(replaced_at=at)
    rows.filter(piece=lost).update(replaced_at=None)
    tell_due_date(commission)
    note(
        commission,
        by=by,
        at=at,
        what=f"Took back the remake of {lost.title}{because(why)}",
        piece=lost,
    )


def tell_client(*, piece: Piece, text: str, by: Person | None, at: datetime) -> Post:
    """Tell the client that their piece is lost, in the maker's own words.

    Raises
    ------
    Refused
        When it is not lost, was told already, or nothing is written.
    """
    with transaction.atomic():
        row = _row(piece)
        commission = locked(row.commission)
        row.refresh_from_db()
        view = fresh(piece)
        if view.stage is not Stage.LOST:
            raise Refused(f"{piece.title} is not lost.")
        if row.loss_told_at is not None and row.loss_told_at >= view.events[-1].at:
            raise Refused("The client was told already. Post news to add to it.")
        row.loss_told_at = at
        row.save(update_fields=["loss_told_at"])
        return post_news(commission=commission, text=text, by=by, at=at)


@transaction.atomic
def take_back_telling(
    *, piece: Piece, reason: str, by: Person | None, at: datetime
) -> None:
    """Take what the client was told about a loss off their page again.

    Raises
    ------
    Refused
        When they were not told, or it is late and no reason is given.
    """
    row = _row(piece)
    commission = locked(row.commission)
    row.refresh_from_db()
    told_at = row.loss_told_at
    if told_at is None:
        raise Refused("The client was not told yet.")
    checked_reason(reason, recorded_at=told_at, now=at)
    row.loss_told_at = None
    row.save(update_fields=["loss_told_at"])
    posts = Post.owned.for_studio(commission.studio)
    for post in posts.filter(commission=commission, at=told_at, withdrawn_at=None):
        withdraw_post(post=post, by=by, at=at, reason=reason)


def _plan_of(layer: Layer) -> LayerPlan:
    return LayerPlan(
        technique=layer.technique,
        passes=layer.planned_passes,
        glass=layer.glass,
        title=layer.title,
    )


def _row(piece: Piece) -> CommissionedPiece:
    """Return a piece's place in its commission.

    Raises
    ------
    Refused
        When it is made for nobody.
    """
    studio: Studio = piece.studio
    rows = CommissionedPiece.owned.for_studio(studio).filter(piece=piece)
    row: CommissionedPiece | None = rows.select_related("commission__studio").first()
    if row is None:
        raise Refused(f"{piece.title} is not made for a commission.")
    return row
