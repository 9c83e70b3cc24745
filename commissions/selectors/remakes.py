"""What a remake of a lost piece takes, beside what the quote priced for that risk."""

from dataclasses import dataclass, replace
from decimal import Decimal

from commissions.models import Commission, CommissionedPiece, Quote
from commissions.pricing import DIRECT, Section
from commissions.selectors.prices import price_work
from commissions.selectors.rates import QuoteChoices, set_as_quoted
from studio.errors import StudioError
from studio.models import Studio, Technique
from studio.money import format_money, plain_number
from studio.selectors.pieces import PieceView
from studio.tenancy import StudioQuerySet
from studio.viewer import count_words

# What making it costs the studio: the lines before risk, mark-up, gallery and tax.
COSTS = frozenset({*DIRECT, Section.OVERHEAD})


@dataclass(frozen=True, slots=True, kw_only=True)
class RemakePrice:
    """What a remake costs the studio, and what was priced for the risk of it."""

    currency: str
    cost: Decimal | None
    priced: Decimal
    percent: Decimal

    @property
    def words(self) -> list[str]:
        """Say both, and what is left to carry."""
        priced = format_money(self.priced, self.currency)
        risk = (
            f"{priced} was priced for this risk ({plain_number(self.percent)} %)"
            if self.priced
            else "nothing was priced for this risk"
        )
        if self.cost is None:
            return [risk]
        told = [f"costs about {format_money(self.cost, self.currency)}", risk]
        if self.cost > self.priced:
            left = format_money(self.cost - self.priced, self.currency)
            told.append(f"{left} is the studio's to carry")
        return told


def commissioned(studio: Studio) -> StudioQuerySet[CommissionedPiece]:
    """Return the pieces of the studio's commissions, those replaced as well."""
    return CommissionedPiece.owned.for_studio(studio).select_related(
        "commission__studio", "commission__client", "commission__glass", "piece__studio"
    )


def remake_words(row: CommissionedPiece, view: PieceView) -> list[str]:
    """Say what is to be made again and what it costs, against the accepted quote."""
    images = sum(one.layer.technique != Technique.CLEAR for one in view.layers)
    told = [f"{count_words(images, 'layer')} to paint again"]
    price = None if row.is_maquette else remake_price(row.commission)
    return told + (price.words if price is not None else [])


def remake_price(commission: Commission) -> RemakePrice | None:
    """Return the cost of making the piece once more, at the accepted quote's rates.

    Glass, materials and kilns are priced as they are today, so there is no cost where
    the studio's currency is another by now, or no kiln can take it any more.
    """
    quotes = Quote.owned.for_studio(commission.studio)
    quote: Quote | None = quotes.filter(
        commission=commission, accepted_at__isnull=False
    ).first()
    if quote is None:
        return None
    choices = QuoteChoices.from_json(quote.inputs["choices"])
    return RemakePrice(
        currency=quote.currency,
        cost=_cost(commission, quote, choices),
        priced=sum(
            (one.amount for one in quote.lines.all() if one.section == Section.REMAKE),
            Decimal(0),
        ),
        percent=choices.remake_percent,
    )


def _cost(
    commission: Commission, quote: Quote, choices: QuoteChoices
) -> Decimal | None:
    if commission.studio.currency != quote.currency:
        return None
    alone = Commission.owned.for_studio(commission.studio).get(pk=commission.pk)
    set_as_quoted(alone, quote)
    alone.maquette_layer_count = 0
    try:
        # What is done once for a commission is not done again: client, design, delivery.
        tasks = tuple(task for task in choices.tasks if not task.is_once)
        price = price_work(
            commission=alone, choices=replace(choices, tasks=tasks)
        ).price
    except StudioError:
        return None
    return sum((x.amount for x in price.lines if x.section in COSTS), Decimal(0))


def words_to_client(row: CommissionedPiece) -> str:
    """Return words to start from; the maker writes what is sent."""
    again = (
        "We have started to make it again."
        if row.replaced_at is not None
        else "We would like to talk with you about how to go on."
    )
    return (
        f"Dear {row.commission.client}, we are sorry: “{row.commission.title}” was lost "
        f"in the making. {again}"
    )
