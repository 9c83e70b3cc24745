"""Which commissions are done, asked of the database without reading them all."""

from decimal import Decimal

from django.db.models import DecimalField, F, OuterRef, Subquery, Sum, Value
from django.db.models.functions import Coalesce

from commissions.models import Commission, CommissionedPiece, Payment, Quote
from studio.models import Studio
from studio.selectors.pieces import finished_pieces
from studio.tenancy import StudioQuerySet

# SQLite adds decimals as binary fractions, so a difference below the smallest stored
# step of an amount does not count.
HALF_A_STEP = Decimal("0.00005")
MONEY = DecimalField(max_digits=14, decimal_places=4)


def done(studio: Studio) -> StudioQuerySet[Commission]:
    """Return what is finished and paid, and not closed: `CommissionView.is_over`."""
    accepted = (
        Quote.owned.for_studio(studio)
        .filter(commission=OuterRef("pk"), accepted_at__isnull=False)
        .order_by("-version")
    )
    # As `view_money` counts: valid payments in the quote's currency.
    paid = (
        Payment.owned.for_studio(studio)
        .filter(
            commission=OuterRef("pk"),
            taken_back_at__isnull=True,
            currency=OuterRef("currency_accepted"),
        )
        .order_by()
        .values("commission")
        .values_list(Sum("amount"))
    )
    finished = CommissionedPiece.owned.for_studio(studio).filter(
        is_maquette=False, piece__in=finished_pieces(studio).order_by().values("pk")
    )
    found: StudioQuerySet[Commission] = Commission.owned.for_studio(studio)
    return (
        found.filter(closed_at__isnull=True, pk__in=finished.values("commission"))
        .annotate(
            total_accepted=Subquery(accepted.values("to_studio")[:1]),
            currency_accepted=Subquery(accepted.values("currency")[:1]),
            total_paid=Coalesce(Subquery(paid), Value(Decimal(0)), output_field=MONEY),
        )
        .filter(total_paid__gte=F("total_accepted") - Value(HALF_A_STEP))
    )
