"""Which prices a studio holds in its currency, and what keeps a currency of its own.

Higher apps register theirs here when they start. A price of nothing is no price: it is
the same in every currency.
"""

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Model, Q

from studio.ledger import TELLS_COST
from studio.models import (
    CurrencyChange,
    Glass,
    Kiln,
    Material,
    PieceRecord,
    StockMove,
    Studio,
)
from studio.tenancy import StudioOwned
from studio.viewer import count_words


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceHolder:
    """A kind of record with prices in the studio's currency, and what they are called."""

    model: type[StudioOwned]
    fields: tuple[str, ...]
    one: str
    many: str
    usual: Callable[[Studio], StudioOwned] | None = None
    """Makes the record whose prices count, unsaved, where a studio has none."""
    only: Q | None = None
    """Which records' prices somebody told; others follow from them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldPrice:
    """One price of one record."""

    record: StudioOwned
    field: str

    @property
    def amount(self) -> Decimal:
        """Return the price."""
        return Decimal(getattr(self.record, self.field))

    @property
    def key(self) -> tuple[str, int, str]:
        """Return which price of which record it is."""
        return self.record._meta.label_lower, self.record.pk, self.field


KeptProvider = Callable[[Studio], list[str]]

_holders: list[PriceHolder] = []
_kept: list[KeptProvider] = []


def hold_prices(
    model: type[StudioOwned],
    *fields: str,
    one: str,
    many: str,
    usual: Callable[[Studio], StudioOwned] | None = None,
    only: Q | None = None,
) -> PriceHolder:
    """Register the prices of a kind of record."""
    holder = PriceHolder(
        model=model, fields=fields, one=one, many=many, usual=usual, only=only
    )
    _holders.append(holder)
    return holder


def keeps_currency(provider: KeptProvider) -> KeptProvider:
    """Register what to say of records that keep the currency they were made in."""
    _kept.append(provider)
    return provider


def price_fields(model: type[Model]) -> list[str]:
    """Return the fields of a model that are prices in the studio's currency."""
    return [name for one in _holders if one.model is model for name in one.fields]


def prices_held(studio: Studio) -> list[HeldPrice]:
    """Return every price that is held in the studio's currency."""
    return [held for holder in _holders for held in _prices(holder, studio)]


def prices_words(studio: Studio) -> list[str]:
    """Count the prices by what they are for."""
    counted = [(one, len(_prices(one, studio))) for one in _holders]
    return [count_words(n, one.one, one.many) for one, n in counted if n]


def kept_words(studio: Studio) -> list[str]:
    """Say what keeps its own currency when the studio's is changed."""
    return [told for provider in _kept for told in provider(studio)]


def last_currency_change(studio: Studio) -> CurrencyChange | None:
    """Return the newest change of currency that was not taken back."""
    changes = CurrencyChange.owned.for_studio(studio).filter(taken_back_at=None)
    found: CurrencyChange | None = changes.order_by("-made_at", "-pk").first()
    return found


def _prices(holder: PriceHolder, studio: Studio) -> list[HeldPrice]:
    found = holder.model.owned.for_studio(studio)
    if holder.only is not None:
        found = found.filter(holder.only)
    rows = list(found.order_by("pk"))
    if not rows and holder.usual is not None:
        rows = [holder.usual(studio)]
    return [
        HeldPrice(record=row, field=field)
        for row in rows
        for field in holder.fields
        if getattr(row, field)
    ]


hold_prices(Glass, "cost_per_m2", one="price of glass", many="prices of glass")
hold_prices(
    Material, "cost_per_unit", one="price of a material", many="prices of materials"
)
hold_prices(
    StockMove,
    "unit_cost",
    one="cost of a delivery",
    many="costs of deliveries",
    only=Q(kind__in=TELLS_COST),
)
hold_prices(
    Kiln,
    "hourly_rate",
    "member_rate",
    "guest_rate",
    one="price of a kiln hour",
    many="prices of kiln hours",
)
hold_prices(PieceRecord, "value", one="value of a piece", many="values of pieces")
