"""How a piece's layers differ from what was accepted, and what that would cost."""

from collections.abc import Iterator
from copy import copy
from dataclasses import dataclass
from decimal import Decimal

from commissions.models import Commission, CommissionedPiece, Quote
from commissions.selectors.prices import price_work
from commissions.selectors.quotes import accepted_quote
from commissions.selectors.rates import QuoteChoices, set_as_quoted
from commissions.selectors.work import CommissionWork
from studio.errors import StudioError
from studio.models import Piece, Technique
from studio.money import format_money
from studio.selectors.pieces import PieceView, fresh
from studio.viewer import Viewer, count_words


@dataclass(frozen=True, slots=True, kw_only=True)
class Stack:
    """What a price depends on in a stack."""

    layers: int
    caps: int
    passes: int
    """Of all layers, without those fired again."""


def beside_the_quote(commission: Commission, piece: Piece) -> list[str]:
    """Say how a piece's layers differ from the accepted quote, with the price of it.

    Empty where nothing is accepted, for a maquette, and where they are as accepted.
    """
    quote = accepted_quote(commission)
    if quote is None or piece.maquette_of_id is not None:
        return []
    work = CommissionWork.from_json(quote.inputs["work"])
    quoted = Stack(
        layers=work.layer_count,
        caps=work.cap_count,
        passes=work.piece.painted_count * work.passes_per_layer,
    )
    view = fresh(piece)
    made = stack_of(view)
    told = [*_other_kind(work, view), *_no_maquette(commission, work)]
    if (work.width_mm, work.height_mm) != (piece.width_mm, piece.height_mm):
        write = Viewer.of_studio(piece.studio).size
        told.append(
            f"The quote is for {write(work.width_mm, work.height_mm)}; this piece is "
            f"{write(piece.width_mm, piece.height_mm)}."
        )
    if made == quoted:
        return told
    told.append(f"The quote is for {_words(quoted)}; this piece has {_words(made)}.")
    if commission.studio.currency != quote.currency:
        return told
    try:
        more = _more(commission, quote, quoted=quoted, made=made)
    except StudioError as problem:
        return [*told, f"It cannot be priced: {problem}"]
    amount = format_money(abs(more), quote.currency)
    if not more:
        return told
    return [*told, f"That costs {amount} {'more' if more > 0 else 'less'}."]


def _other_kind(work: CommissionWork, view: PieceView) -> Iterator[str]:
    """Say where glass, image or dams are others than in the quote."""
    layers = [one.layer for one in view.layers]
    glasses = {one.glass.pk: one.glass.name for one in layers}
    if set(glasses) - {work.glass_id}:
        names = " and ".join(sorted(glasses.values()))
        yield f"The quote is for {work.glass_name}; this piece is of {names}."
    images = {one.technique for one in layers} - {Technique.CLEAR}
    if images and images != {work.technique}:
        names = " and ".join(sorted(Technique(one).label.lower() for one in images))
        quoted = Technique(work.technique).label.lower()
        yield f"The quote is for {quoted} layers; those of this piece are {names}."
    if view.piece.is_dammed != work.is_dammed:
        yield (
            "The quote is for dams, and this piece has none."
            if work.is_dammed
            else "The quote is for no dams, and this piece has some."
        )


def _no_maquette(commission: Commission, work: CommissionWork) -> Iterator[str]:
    planned = CommissionedPiece.owned.for_studio(commission.studio).filter(
        commission=commission, is_maquette=True, replaced_at=None
    )
    if work.maquette is not None and not planned.exists():
        yield "The quote has a maquette, and none is planned yet."


def stack_of(view: PieceView) -> Stack:
    """Return a piece's stack as it is planned now."""
    layers = [one.layer for one in view.layers]
    clear = sum(layer.technique == Technique.CLEAR for layer in layers)
    return Stack(
        layers=len(layers),
        caps=clear,
        passes=sum(layer.planned_passes for layer in layers),
    )


def _words(stack: Stack) -> str:
    return (
        f"{count_words(stack.layers, 'layer')} and "
        f"{count_words(stack.passes, 'pass', 'passes')}"
    )


def _more(
    commission: Commission, quote: Quote, *, quoted: Stack, made: Stack
) -> Decimal:
    """Return what the stack costs more than the one quoted, at the quote's own rates.

    A quote counts the same passes for each layer. Those beyond a whole number for each
    cost their share of one more pass on every layer.
    """
    choices = QuoteChoices.from_json(quote.inputs["choices"])
    agreed = copy(commission)
    set_as_quoted(agreed, quote)
    painted = max(1, made.layers - made.caps)
    whole, rest = divmod(made.passes, painted)
    now = _total(agreed, choices, made, passes=max(1, whole))
    if rest:
        all_more = _total(agreed, choices, made, passes=whole + 1)
        now += (all_more - now) * rest / painted
    before = _total(
        agreed,
        choices,
        quoted,
        passes=max(1, quoted.passes // max(1, quoted.layers - quoted.caps)),
    )
    return now - before


def _total(
    commission: Commission, choices: QuoteChoices, stack: Stack, *, passes: int
) -> Decimal:
    asked = copy(commission)
    asked.layer_count, asked.cap_count = stack.layers, stack.caps
    asked.passes_per_layer = passes
    return price_work(commission=asked, choices=choices).price.total
