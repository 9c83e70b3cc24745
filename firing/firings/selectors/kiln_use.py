"""What finished firings took of the kilns, shared out among what lay in them.

A load is shared by the area of shelf that each piece's layers or stack took. Other
makers' work, of which no size is known, counts as the mean of what is known beside it.
The shares of one firing add up to the whole.
"""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Count, F, FloatField, Q, Sum
from django.db.models.functions import Coalesce

from firing.models import Firing, LoadItem
from studio.models import LOST, Studio

HOUR_S = 3600


@dataclass(frozen=True, slots=True, kw_only=True)
class KilnUse:
    """What one firing took for one piece.

    Attributes
    ----------
    piece : int or None
        Its key; none for other makers' work.
    kiln_user : int or None
        Whose work in words it is, where that was said.
    hours : float
        From the start until the kiln was unloaded.
    share : float
        Of the shelf, 0 to 1; `lost_share` is what of it has to be done again.
    kwh : float or None
        Of the whole firing; none where it was not worked out.
    """

    firing: int
    kind: str
    kiln: int
    finished_at: datetime
    piece: int | None
    kiln_user: int | None
    hours: float
    share: float
    lost_share: float
    kwh: float | None


def kiln_use(
    studio: Studio,
    pieces: Collection[int] | None = None,
    *,
    since: datetime | None = None,
    until: datetime | None = None,
) -> list[KilnUse]:
    """Return the use of the kilns by pieces, or by everything; two queries.

    Parameters
    ----------
    since, until : datetime or None
        Only firings unloaded in this span; the end is outside it.
    """
    of_piece = "of_pass__sheet__layer__piece"
    items = LoadItem.owned.for_studio(studio).filter(firing__finished_at__isnull=False)
    if pieces is not None:
        with_them = items.filter(Q(piece__in=pieces) | Q(**{f"{of_piece}__in": pieces}))
        items = items.filter(firing__in=with_them.order_by().values("firing"))
    if since is not None:
        items = items.filter(firing__finished_at__gte=since)
    if until is not None:
        items = items.filter(firing__finished_at__lt=until)
    area = Coalesce(
        F("piece__width_mm") * F("piece__height_mm"),
        F(f"{of_piece}__width_mm") * F(f"{of_piece}__height_mm"),
        output_field=FloatField(),
    )
    lost = Q(outcome__in=LOST) | Q(of_pass__outcome__in=LOST)
    rows = (
        items.annotate(whose=Coalesce("piece_id", f"{of_piece}_id"))
        .order_by("firing_id", "whose", "kiln_user_id")
        .values_list("firing_id", "whose", "kiln_user_id")
        .annotate(area=Sum(area), lost=Sum(area, filter=lost), count=Count("pk"))
    )
    # Apart, so that a firing's moments are read once and not with each of its rows.
    firings = {
        pk: row
        for pk, *row in Firing.owned.for_studio(studio)
        .filter(pk__in=items.order_by().values("firing"))
        .order_by("pk")
        .values_list("pk", "kind", "kiln_id", "started_at", "finished_at", "energy_kwh")
    }
    by_firing = defaultdict(list)
    for firing, *shared in rows:
        by_firing[firing].append(shared)
    wanted = None if pieces is None else set(pieces)
    return [
        use
        for firing, load in by_firing.items()
        for use in _shared(firing, firings[firing], load)
        if wanted is None or use.piece in wanted
    ]


def _shared(firing: int, facts: list[Any], load: list[list[Any]]) -> list[KilnUse]:
    kind, kiln, started_at, finished_at, kwh = facts
    known = sum(area or 0 for _, _, area, _, _ in load)
    known_count = sum(count for _, _, area, _, count in load if area)
    mean = known / known_count if known_count else 1.0
    areas = [area or mean * count for _, _, area, _, count in load]
    whole = sum(areas)
    hours = (finished_at - started_at).total_seconds() / HOUR_S
    return [
        KilnUse(
            firing=firing,
            kind=kind,
            kiln=kiln,
            finished_at=finished_at,
            piece=piece,
            kiln_user=kiln_user,
            hours=hours,
            share=own / whole,
            lost_share=(lost or 0) / whole,
            kwh=kwh,
        )
        for (piece, kiln_user, _, lost, _), own in zip(load, areas, strict=True)
    ]
