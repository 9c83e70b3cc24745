"""The kilns' week for the wall: its words, their hash, and its order.

It works like `firing.firings.documents`, whose papers are about one firing each.
"""

from dataclasses import asdict, dataclass
from datetime import date, datetime, timedelta
from typing import Any

from firing.drawings.paper_style import drawing_style
from firing.drawings.ribbon import LOW_PLOT_HEIGHT
from firing.kiln_time.selectors.booking_loads import booking_loads
from firing.kiln_time.selectors.ribbons import (
    RANGES,
    Marks,
    bookings_shown,
    kiln_ribbons,
    window,
)
from firing.kiln_time.selectors.week import DAYS, WeekDay, WeekKiln, week_of
from firing.schedules.selectors.fits import kilns
from studio.documents import PaperKey, words_sha256
from studio.models import Studio
from studio.viewer import Viewer

KIND = "week sheet"
TEMPLATE = "pdf/week_sheet.html"
RENDER_JOB = "firing.render_week_sheet"
# Raise this when the paper's layout changes, so that papers are made again.
LAYOUT = 2
CAUTIONS = (
    "A kiln stays hot long after it was switched off; wear gloves and a face shield.",
    "Glass taken out too warm breaks by thermal shock. Wait for the opening temperature.",
    "Dust of kiln wash and fibre holds fine silica: wear a respirator, clean wet.",
    "This sheet is a plan: read the kiln's own display before you open it.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekSheet:
    """Every text on the sheet, already written out."""

    title: str
    studio_name: str
    zone: str
    days: tuple[WeekDay, ...]
    kilns: tuple[WeekKiln, ...]
    cautions: tuple[str, ...]
    size: str
    is_demo: bool

    @property
    def sha256(self) -> str:
        """Return the hash under which the PDF is filed."""
        return words_sha256(asdict(self), layout=LAYOUT)


def week_sheet(studio: Studio, first_day: date, now: datetime) -> WeekSheet:
    """Write the sheet of the week that begins on a Monday."""
    viewer = Viewer.of_studio(studio)
    week = week_of(viewer, first_day, now)
    last = first_day + timedelta(days=DAYS - 1)
    return WeekSheet(
        title=f"The kilns, {first_day:%-d %b} to {last:%-d %b %Y}",
        studio_name=studio.name,
        zone=studio.time_zone,
        days=week.days,
        kilns=week.kilns,
        cautions=CAUTIONS,
        size=studio.paper_size,
        is_demo=studio.is_demo,
    )


def sheet_context(
    studio: Studio, sheet: WeekSheet, first_day: date, now: datetime
) -> dict[str, Any]:
    """Return what the template of the sheet needs: its words above the ribbon."""
    viewer = Viewer.of_studio(studio)
    shown = window(viewer, now, first_day, shown=RANGES[0])
    bookings = bookings_shown(viewer, shown)
    loads = booking_loads(studio, bookings)
    ribbon = kiln_ribbons(
        list(kilns(studio)),
        bookings=bookings,
        marks=Marks(names={pk: one.name for pk, one in loads.items() if one.things}),
        states=(),
        shown=shown,
        viewer=viewer,
        now=now,
        key="week",
        plot_height=LOW_PLOT_HEIGHT,
    ).wide
    return {
        "paper": sheet,
        "ribbon": ribbon,
        "rows": list(zip(sheet.kilns, ribbon.rows, strict=True)),
        "drawing_style": drawing_style(),
    }


def sheet_key(studio: Studio, sheet: WeekSheet, first_day: date) -> PaperKey:
    """Return the key of a week's sheet with these words."""
    return PaperKey(
        studio=studio,
        kind=KIND,
        subject_id=first_day.toordinal(),
        sha256=sheet.sha256,
    )
