"""Options of a quote, of which the client picks one, and the lines they see of each."""

from collections.abc import Collection
from dataclasses import replace
from datetime import date, datetime

from django.db import transaction
from django.utils.text import capfirst

from commissions.models import Quote
from commissions.selectors.prices import price_work
from commissions.selectors.quotes import options_of, view_quote
from commissions.selectors.rates import QuoteChoices
from commissions.selectors.work import CommissionWork
from commissions.services.commissions import locked
from commissions.services.notes import note
from commissions.services.quotes import keep_draft
from studio.errors import Refused
from studio.models import Person
from studio.viewer import Viewer

LETTERS = "ABCD"


@transaction.atomic
def draft_option(
    *,
    quote: Quote,
    name: str,
    width_mm: float,
    height_mm: float,
    layer_count: int,
    has_maquette: bool,
    by: Person | None,
    at: datetime,
    promised_date: date | None = None,
) -> Quote:
    """Price the same work in another size beside a draft, at the same rates.

    The draft becomes option A. A maquette keeps its share of the size and of the layers.
    Without a name, an option is named by what differs from A.

    Raises
    ------
    StudioError
        When the quote is no draft or an addendum, there are four options already, one
        is just the same, or no kiln can take it.
    """
    commission = locked(quote.commission)
    _refuse_sent(quote, at)
    if quote.adds_to_id is not None:
        raise Refused("An addendum has no options: it changes what is accepted.")
    others = options_of(quote)
    if len(others) == len(LETTERS):
        raise Refused(f"A quote has at most {len(LETTERS)} options. Remove one first.")
    asked = CommissionWork.from_json(others[0].inputs["work"])
    work = _resized(asked, width_mm, height_mm, layer_count, has_maquette=has_maquette)
    if any(CommissionWork.from_json(one.inputs["work"]) == work for one in others):
        raise Refused("There is an option just like this. Change its size or layers.")
    first = others[0]
    viewer = Viewer.of_studio(first.studio)
    if not first.option:
        first.option = LETTERS[0]
        first.option_name = _what_differs(asked, work, viewer)
        first.save(update_fields=["option", "option_name"])
    taken = {one.option for one in others}
    made = keep_draft(
        commission,
        priced=price_work(
            commission=commission,
            choices=QuoteChoices.from_json(first.inputs["choices"]),
            work=work,
        ),
        by=by,
        at=at,
        message=first.message,
        promised_date=promised_date,
        valid_until_date=first.valid_until_date,
        beside=first,
        option=next(one for one in LETTERS[1:] if one not in taken),
        option_name=name or _what_differs(work, asked, viewer),
    )
    shown = set(first.lines.filter(is_shown=True).values_list("label", flat=True))
    made.lines.filter(label__in=shown).update(is_shown=True)
    return made


def _what_differs(one: CommissionWork, other: CommissionWork, viewer: Viewer) -> str:
    """Name an option by what it has that the other has not: "9 × 6 in, 12 layers"."""
    size, others_size = (viewer.size(w.width_mm, w.height_mm) for w in (one, other))
    found = []
    if size != others_size:
        found.append(size)
    if one.layer_count != other.layer_count:
        found.append(f"{one.layer_count} layer{'s' if one.layer_count > 1 else ''}")
    if (one.maquette is None) != (other.maquette is None):
        found.append(
            "without a maquette" if one.maquette is None else "with a maquette"
        )
    name = ", ".join(found) or size
    return name[0].upper() + name[1:]


def _resized(
    asked: CommissionWork,
    width_mm: float,
    height_mm: float,
    layer_count: int,
    *,
    has_maquette: bool,
) -> CommissionWork:
    if layer_count <= asked.cap_count:
        raise Refused(
            f"Of {layer_count} layers {asked.cap_count} are clear caps, so none carries "
            "an image. Take more layers."
        )
    other = replace(
        asked,
        width_mm=width_mm,
        height_mm=height_mm,
        layer_count=layer_count,
        maquette_layer_count=0,
        maquette_width_mm=None,
        maquette_height_mm=None,
    )
    if not has_maquette:
        return other
    small = asked.maquette
    share = 0.5 if small is None else small.width_mm / asked.width_mm
    layers = 0.5 if small is None else small.layer_count / asked.layer_count
    return replace(
        other,
        maquette_layer_count=max(asked.cap_count + 1, round(layer_count * layers)),
        maquette_width_mm=width_mm * share,
        maquette_height_mm=height_mm * share,
    )


@transaction.atomic
def remove_option(*, quote: Quote, by: Person | None, at: datetime) -> Quote:
    """Remove an option that was not sent; return the one that is left first.

    Raises
    ------
    Refused
        When it was sent, or is the work as it is asked for.
    """
    commission = locked(quote.commission)
    _refuse_sent(quote, at)
    others = [one for one in options_of(quote) if one.pk != quote.pk]
    if quote.option in {"", LETTERS[0]} or not others:
        raise Refused("This is the work as it is asked for. It stays.")
    name = quote.name
    quote.delete()
    if len(others) == 1:
        others[0].option = others[0].option_name = ""
        others[0].save(update_fields=["option", "option_name"])
    note(commission, by=by, at=at, what=f"Removed {name}, which was not sent")
    return others[0]


@transaction.atomic
def show_lines(*, quote: Quote, numbers: Collection[int], at: datetime) -> None:
    """Let the client see these lines of a draft, one by one; the rest are one line.

    Raises
    ------
    Refused
        When it was sent: what the client has read stays as it is.
    """
    locked(quote.commission)
    _refuse_sent(quote, at)
    quote.lines.update(is_shown=False)
    quote.lines.filter(number__in=numbers).update(is_shown=True)


def _refuse_sent(quote: Quote, at: datetime) -> None:
    if not view_quote(quote, at=at).may_be_sent:
        raise Refused(
            f"{capfirst(quote.name)} was sent or replaced, so it stays as it is. Make "
            "another version."
        )
