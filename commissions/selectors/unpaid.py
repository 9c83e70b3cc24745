"""What is still to be paid before a piece is painted or fused."""

from commissions.models import Commission, Instalment
from commissions.selectors.commissions import commission_of_piece
from commissions.selectors.money import view_money
from commissions.selectors.rates import price_book
from studio.models import Piece
from studio.money import format_money
from studio.selectors.before_work import Hindrance, before_work
from studio.stages import WorkKind

ASK = "Ask the owner first: this work should not begin yet."


@before_work
def unpaid_before(
    kind: WorkKind,
    piece: Piece,
    may_see_money: bool,  # noqa: FBT001
) -> list[Hindrance]:
    """Return the deposit before painting, and the stage payment before a fuse."""
    commission = commission_of_piece(piece.studio, piece.pk)
    if commission is None or commission.closed_at is not None:
        return []
    due_on = Instalment.DueOn.ACCEPTED
    if kind is WorkKind.FUSE:
        # The stage payment is for the work itself, and never for its maquette.
        if piece.maquette_of_id is not None:
            return []
        due_on = Instalment.DueOn.STACKED
    words = _unpaid_words(commission, due_on)
    if not words:
        return []
    book = price_book(piece.studio)
    is_rule = book.needs_deposit if kind is WorkKind.PAINT else book.needs_stage_payment
    return [Hindrance(words=words if may_see_money else ASK, is_rule=is_rule)]


def _unpaid_words(commission: Commission, due_on: str) -> str:
    accepted = commission.quotes.filter(accepted_at__isnull=False).first()
    if accepted is None:
        return ""
    money = view_money(
        accepted=accepted,
        payments=list(commission.payments.all()),
        stage=None,
        currency=accepted.currency,
    )
    told = []
    for part in money.instalments:
        if part.instalment.due_on == due_on and part.open > 0:
            amount = format_money(part.open, money.currency)
            label = part.instalment.label
            what = (
                f"{amount} of the {label.lower()}"
                if part.paid
                else f"{label} of {amount}"
            )
            told.append(f"{what} isn't paid yet.")
    return " ".join(told)
