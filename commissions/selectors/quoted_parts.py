"""Tells the cutting plan what quotes that wait for an answer would need cut."""

from collections.abc import Iterator

from commissions.models import Quote
from commissions.selectors.work import CommissionWork
from studio.models import Studio
from studio.selectors.cutting import QuotedParts, on_quoted_parts


@on_quoted_parts
def quoted_parts(studio: Studio) -> list[QuotedParts]:
    """Return the layers of the newest sent quote of each commission nobody answered."""
    return list(_parts(studio))


def _parts(studio: Studio) -> Iterator[QuotedParts]:
    waiting = Quote.owned.for_studio(studio).filter(
        sent_at__isnull=False,
        accepted_at=None,
        declined_at=None,
        adds_to=None,
        commission__closed_at=None,
    )
    accepted = Quote.owned.for_studio(studio).filter(accepted_at__isnull=False)
    waiting = waiting.exclude(commission__in=accepted.values("commission"))
    newest: dict[int, Quote] = {}
    for quote in waiting.order_by("commission_id", "version", "pk"):
        newest[quote.commission_id] = quote
    for quote in newest.values():
        work = CommissionWork.from_json(quote.inputs["work"])
        for part in work.parts:
            is_piece = part.name == "piece"
            yield QuotedParts(
                glass_id=work.glass_id,
                title=work.title if is_piece else f"{work.title}, {part.name}",
                width_mm=part.width_mm,
                height_mm=part.height_mm,
                count=part.layer_count,
            )
