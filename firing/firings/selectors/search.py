"""Firings found by what was in them, their kiln, kind, year and last verdict."""

from collections.abc import Mapping
from dataclasses import dataclass

from django.db.models import OuterRef, Subquery
from django.utils.timezone import localtime

from firing.loads.selectors.firings import firings, firings_with
from firing.loads.selectors.names import SHORT_KINDS
from firing.models import Booking, Firing, FiringKind, Judgement
from firing.readings.selectors.warnings import WARNED
from studio.models import Studio
from studio.selectors.kilns import kilns
from studio.selectors.named import typed_words
from studio.tenancy import StudioQuerySet


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One line of a filter."""

    value: str
    label: str
    is_chosen: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Filter:
    """One filter of the list: its field's name, its label, what may be chosen."""

    name: str
    label: str
    choices: tuple[Choice, ...]

    @property
    def chosen(self) -> str:
        """Return the value chosen, empty for every firing."""
        return next((one.value for one in self.choices if one.is_chosen), "")


@dataclass(frozen=True, slots=True, kw_only=True)
class FiringSearch:
    """What was asked for, the filters to show, and the firings found."""

    text: str
    filters: tuple[Filter, ...]
    found: StudioQuerySet[Firing]

    @property
    def is_narrowed(self) -> bool:
        return bool(self.text) or self.is_filtered

    @property
    def is_filtered(self) -> bool:
        return any(one.chosen for one in self.filters)


def search_firings(studio: Studio, asked: Mapping[str, str]) -> FiringSearch:
    """Find firings, newest first; a value that no filter offers narrows nothing."""
    words = typed_words(asked.get("q", ""))
    filters = (
        _filter(
            "kiln",
            "Kiln",
            "All kilns",
            [(str(one.pk), str(one)) for one in kilns(studio)],
            asked,
        ),
        _filter(
            "kind",
            "Kind",
            "All kinds",
            [(str(k), SHORT_KINDS.get(k, str(k.label))) for k in FiringKind],
            asked,
        ),
        _filter(
            "year",
            "Year",
            "All years",
            [(str(year), str(year)) for year in _years(studio)],
            asked,
        ),
        _filter(
            "verdict", "Verdict", "All verdicts", [("problem", "With a warning")], asked
        ),
    )
    kiln, kind, year, verdict = (one.chosen for one in filters)
    # Said of the booking too, its index has them in their order.
    found = firings(studio).filter(booking__studio=studio)
    if kiln:
        found = found.filter(kiln=int(kiln))
    if kind:
        found = found.filter(kind=kind)
    if year:
        found = found.filter(booking__starts_at__year=int(year))
    if verdict:
        last = Judgement.owned.for_studio(studio).filter(firing=OuterRef("pk"))
        found = found.annotate(
            last_verdict=Subquery(
                last.order_by("-made_at", "-pk").values("verdict")[:1]
            )
        ).filter(last_verdict__in=WARNED)
    if words:
        found = found.filter(pk__in=firings_with(studio, words).values("pk"))
    return FiringSearch(text=" ".join(words), filters=filters, found=found)


def _filter(
    name: str,
    label: str,
    every: str,
    offered: list[tuple[str, str]],
    asked: Mapping[str, str],
) -> Filter:
    return Filter(
        name=name,
        label=label,
        choices=tuple(
            Choice(
                value=value,
                label=words,
                is_chosen=bool(value) and value == asked.get(name),
            )
            for value, words in [("", every), *offered]
        ),
    )


def _years(studio: Studio) -> list[int]:
    """Return the years from the first firing to the last, newest first."""
    fired = Booking.owned.for_studio(studio).filter(firing__isnull=False)
    began = fired.order_by("starts_at").values_list("starts_at", flat=True)
    first, last = began.first(), began.last()
    if first is None or last is None:
        return []
    earliest, latest = (localtime(moment).year for moment in (first, last))
    return list(range(latest, earliest - 1, -1))
