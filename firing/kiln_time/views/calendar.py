"""The kiln calendar in a page: what the address asks for, and the links onward."""

from collections.abc import Sequence
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from django.urls import reverse
from django.utils.http import urlencode

from firing.kiln_time.selectors.calendar import Calendar, CalendarFilter, calendar
from firing.kiln_time.selectors.ribbons import (
    EARLIEST_DAY,
    LATEST_DAY,
    RANGES,
    range_of,
)
from studio.http import StudioRequest
from studio.viewer import Viewer

if TYPE_CHECKING:
    from studio.models import Kiln

LONGEST_KEY = 18


def calendar_context(
    request: StudioRequest,
    kilns: Sequence["Kiln"],
    *,
    viewer: Viewer,
    now: datetime,
    key: str,
    of_studio: bool = True,
) -> dict[str, Any]:
    """Return what `firing/kiln_time/_ribbon.html` needs, filtered as the address says."""
    found = calendar(
        kilns,
        asked=_asked(request),
        viewer=viewer,
        now=now,
        key=key,
        of_studio=of_studio,
    )
    kept = _kept(request, found)

    def to(**changes: Any) -> str:
        query = urlencode({**kept, **changes})
        return f"{request.path}?{query}" if query else request.path

    first = found.shown.first_day
    has_day = _day(request.GET.get("from", "")) is not None
    return {
        "calendar": found,
        "ribbons": found.ribbons,
        "shown": found.shown,
        "shown_words": found.shown.words(now.astimezone(viewer.zone).date()),
        "previous_url": to(**{"from": found.shown.previous_day}),
        "next_url": to(**{"from": found.shown.next_day}),
        "now_url": to(),
        "ranges": [
            {
                "words": one.words,
                "url": to(show=one.key, **({"from": first} if has_day else {})),
                "is_shown": one == found.shown.range,
            }
            for one in RANGES
        ],
        "kept_day": first if has_day else None,
        "week_url": f"{reverse('firing:week_sheet')}?from={_week(found, now, viewer)}",
        "load_url": reverse("firing:load_new"),
    }


def _week(found: Calendar, now: datetime, viewer: Viewer) -> date:
    """Return a day in the week to print: today, if it is shown."""
    today = now.astimezone(viewer.zone).date()
    shown = found.shown
    return today if shown.starts_at <= now < shown.ends_at else shown.first_day


def _asked(request: StudioRequest) -> CalendarFilter:
    asked = request.GET
    return CalendarFilter(
        first_day=_day(asked.get("from", "")),
        range=range_of(asked.get("show", "")),
        piece=_key(asked.get("piece", "")),
        person=_key(asked.get("person", "")),
    )


def _kept(request: StudioRequest, found: Calendar) -> dict[str, str | int]:
    """Return what every link keeps: the range, and the filters in use."""
    kept: dict[str, str | int] = {}
    if request.GET.get("show") == found.shown.range.key:
        kept["show"] = found.shown.range.key
    if found.piece is not None:
        kept["piece"] = found.piece.pk
    if found.person is not None:
        kept["person"] = found.person.pk
    return kept


def _day(text: str) -> date | None:
    """Return a day from an address; anything else counts as none."""
    try:
        day = date.fromisoformat(text)
    except ValueError:
        return None
    return day if EARLIEST_DAY <= day <= LATEST_DAY else None


def _key(text: str) -> int | None:
    """Return a record's key from an address; anything else counts as none."""
    is_key = text.isascii() and text.isdecimal() and len(text) <= LONGEST_KEY
    return int(text) if is_key else None
