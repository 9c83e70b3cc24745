"""What finished firings took of the kilns, shared out among what lay in them.

A load is shared by the area of shelf that each piece's layers or stack took. Other
makers' work, of which no size is known, counts as the mean of what is known beside it.
The shares of one firing add up to the whole.
"""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Count, F, FloatField, Q, Sum
from django.db.models.functions import Coalesce

from firing.models import LoadItem
from studio.models import Outcome, Studio

LOST = (Outcome.REDO, Outcome.CRACKED)
HOUR_S = 3600


@dataclass(frozen=True, slots=True, kw_only=True)
class KilnUse:
    """What one firing took for one piece.

    Attributes
    ----------
    piece : int or None
        Its key; none for other makers' work.
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
    """Return the use of the kilns by pieces, or by everything; one query.

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
        .order_by("firing_id", "whose")
        .values_list(
            "firing_id",
            "firing__kind",
            "firing__kiln_id",
            "firing__started_at",
            "firing__finished_at",
            "firing__energy_kwh",
            "whose",
        )
        .annotate(area=Sum(area), lost=Sum(area, filter=lost), count=Count("pk"))
    )
    by_firing = defaultdict(list)
    for row in rows:
        by_firing[row[0]].append(row)
    wanted = None if pieces is None else set(pieces)
    return [
        use
        for load in by_firing.values()
        for use in _shared(load)
        if wanted is None or use.piece in wanted
    ]


def _shared(load: list[tuple]) -> list[KilnUse]:  # type: ignore[type-arg]
    known = sum(row[7] or 0 for row in load)
    known_count = sum(row[9] for row in load if row[7])
    mean = known / known_count if known_count else 1.0
    areas = [row[7] or mean * row[9] for row in load]
    whole = sum(areas)
    return [
        KilnUse(
            firing=firing,
            kind=kind,
            kiln=kiln,
            finished_at=finished_at,
            piece=whose,
            hours=(finished_at - started_at).total_seconds() / HOUR_S,
            share=area / whole,
            lost_share=(lost or 0) / whole,
            kwh=kwh,
        )
        for (
            firing,
            kind,
            kiln,
            started_at,
            finished_at,
            kwh,
            whose,
            _,
            lost,
            _,
        ), area in zip(load, areas, strict=True)
    ]
