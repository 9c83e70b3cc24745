"""What is done to a kiln now and then, and when it comes round again."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from firing.models import KilnChange, KilnUpkeep, UpkeepCount
from firing.readings.selectors.hot_hours import Use, uses
from studio.models import Studio
from studio.tenancy import StudioQuerySet
from studio.viewer import Viewer


@dataclass(frozen=True, slots=True, kw_only=True)
class UpkeepRow:
    """Something that comes round, and how far it is."""

    rule: KilnUpkeep
    words: str
    is_due: bool


def upkeep(studio: Studio) -> StudioQuerySet[KilnUpkeep]:
    """Return what comes round in the studio's kilns."""
    return KilnUpkeep.owned.for_studio(studio).select_related("kiln", "studio")


def upkeep_rows(
    studio: Studio,
    rules: Sequence[KilnUpkeep],
    *,
    now: datetime,
    used: Sequence[Use] | None = None,
) -> list[UpkeepRow]:
    """Return how far each rule is, what is due first; `used` where it is known."""
    if not rules:
        return []
    if used is None:
        counted = [one for one in rules if one.counted != UpkeepCount.MONTHS]
        has_hours = any(one.counted == UpkeepCount.HOURS for one in counted)
        used = uses(studio, {one.kiln for one in counted}, has_hours=has_hours)
    by_kiln: dict[int, list[Use]] = defaultdict(list)
    for one in used:
        by_kiln[one.kiln].append(one)
    changes = KilnChange.owned.for_studio(studio).filter(upkeep__in=list(rules))
    done = dict(changes.order_by("changed_on").values_list("upkeep", "changed_on"))
    today = now.astimezone(Viewer.of_studio(studio).zone).date()
    rows = [
        _row(one, done.get(one.pk, one.since), by_kiln[one.kiln_id], today)
        for one in rules
    ]
    return sorted(rows, key=lambda row: not row.is_due)


def _row(rule: KilnUpkeep, since: date, used: Sequence[Use], today: date) -> UpkeepRow:
    later = [one for one in used if one.day > since]
    if rule.counted == UpkeepCount.FIRINGS:
        count = len(later)
    elif rule.counted == UpkeepCount.HOURS:
        count = int(sum(one.hours for one in later))
    else:
        count = _months(since, today)
    return UpkeepRow(
        rule=rule,
        words=f"{count} of {rule.every} {rule.get_counted_display()} "
        f"since {since:%-d %b %Y}",
        is_due=count >= rule.every,
    )


def _months(since: date, today: date) -> int:
    """Return the whole months between two days."""
    months = (today.year - since.year) * 12 + today.month - since.month
    return months - (today.day < since.day)


def upkeep_due(studio: Studio, now: datetime) -> list[UpkeepRow]:
    """Return what is due in the kilns in use."""
    rules = list(upkeep(studio).filter(kiln__is_retired=False))
    return [one for one in upkeep_rows(studio, rules, now=now) if one.is_due]
