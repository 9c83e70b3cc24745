"""Makes what was sold: the piece, its maquette and their layers, as in the quote."""

from datetime import datetime

from django.db.models import Q

from commissions.models import Commission, CommissionedPiece, Quote
from commissions.selectors.rates import set_as_quoted
from commissions.selectors.work import CommissionWork, WorkPart
from firing.loads.selectors.firings import standing_items
from studio.models import Glass, Person, Piece, Technique
from studio.services.details import resize_piece
from studio.services.pieces import LayerPlan, plan_piece
from studio.services.reservations import reserve


def make_pieces(*, commission: Commission, quote: Quote, at: datetime) -> Piece:
    """Plan the piece, and the maquette made before it; return the piece.

    Layers run from the back: those with an image first, then the clear caps at the
    front, which protect them.
    """
    work = CommissionWork.from_json(quote.inputs["work"])
    glass: Glass = Glass.owned.for_studio(commission.studio).get(pk=work.glass_id)
    piece = _plan(commission, work, work.piece, glass, at=at)
    _join(commission, piece, is_maquette=False)
    reserve(piece=piece, at=at)
    if work.maquette is not None:
        trial = _plan(commission, work, work.maquette, glass, at=at, maquette_of=piece)
        _join(commission, trial, is_maquette=True)
        reserve(piece=trial, at=at)
    take_over(commission, quote)
    return piece


def _plan(
    commission: Commission,
    work: CommissionWork,
    part: WorkPart,
    glass: Glass,
    *,
    at: datetime,
    maquette_of: Piece | None = None,
) -> Piece:
    title = work.title if maquette_of is None else f"{work.title}, maquette"
    image = LayerPlan(
        technique=work.technique, passes=work.passes_per_layer, glass=glass
    )
    cap = LayerPlan(technique=Technique.CLEAR, passes=0, glass=glass)
    return plan_piece(
        studio=commission.studio,
        title=title[:160],
        width_mm=part.width_mm,
        height_mm=part.height_mm,
        glass=glass,
        layers=[image] * part.painted_count + [cap] * part.cap_count,
        by=None,
        at=at,
        maker=commission.created_by,
        is_dammed=work.is_dammed,
        maquette_of=maquette_of,
    )


def _join(commission: Commission, piece: Piece, *, is_maquette: bool) -> None:
    CommissionedPiece.across_studios.create(
        studio=commission.studio,
        commission=commission,
        piece=piece,
        is_maquette=is_maquette,
    )


def set_sizes(
    *, commission: Commission, quote: Quote, by: Person | None, at: datetime
) -> None:
    """Give the pieces the size that a quote says, unless work on them has begun.

    Layers are changed at the bench: the piece's page says what differs from the quote.
    """
    work = CommissionWork.from_json(quote.inputs["work"])
    rows = CommissionedPiece.owned.for_studio(commission.studio).filter(
        commission=commission, replaced_at=None
    )
    for row in rows.select_related("piece__studio").order_by("piece_id"):
        piece, part = row.piece, work.maquette if row.is_maquette else work.piece
        if part is None:
            continue
        wanted = (part.width_mm, part.height_mm, work.is_dammed)
        is_same = wanted == (piece.width_mm, piece.height_mm, piece.is_dammed)
        if not is_same and not _is_booked(piece):
            is_resized = resize_piece(
                piece=piece,
                width_mm=part.width_mm,
                height_mm=part.height_mm,
                is_dammed=work.is_dammed,
                by=by,
                at=at,
            )
            if is_resized:
                reserve(piece=piece, at=at)


def _is_booked(piece: Piece) -> bool:
    of_it = Q(piece=piece) | Q(of_pass__sheet__layer__piece=piece)
    return standing_items(piece.studio).filter(of_it).exists()


def take_over(commission: Commission, quote: Quote) -> None:
    """Set the commission to what was accepted, in case it changed since the quote."""
    set_as_quoted(commission, quote)
    commission.save()
