"""What the controller sheet says, its hash, and whether its PDF exists yet."""

from dataclasses import asdict, dataclass, replace
from datetime import datetime, timedelta
from typing import Any

import segno

from firing.drawings.chart import build_chart
from firing.drawings.chart_input import ChartSize
from firing.drawings.paper_style import drawing_style
from firing.loads.selectors.firings import load_words, title_of
from firing.models import Firing
from firing.readings.selectors.typed_words import action_words
from firing.schedules.selectors.charts import plan_input
from firing.schedules.selectors.stress_words import next_quarter
from firing.schedules.selectors.tables import SHEET_CAUTIONS, programme_rows
from firing.schedules.selectors.typed import planned_parts, typed_in
from studio.documents import PaperKey, words_sha256
from studio.units import TemperatureUnit
from studio.viewer import Viewer

KIND = "controller sheet"
TEMPLATE = "pdf/controller_sheet.html"
RENDER_JOB = "firing.render_controller_sheet"
SIGN_KIND = "door sign"
SIGN_TEMPLATE = "pdf/door_sign.html"
SIGN_JOB = "firing.render_door_sign"
SIGN_LAYOUT = 1
SIGN_CAUTIONS = (
    "Do not open, unplug or switch off.",
    "The kiln is hot outside, too. Keep children and everything that burns away.",
)
# Raise this when the paper's layout changes, so that papers are made again.
LAYOUT = 3
MOST_LARGE_ROWS = 7
MOST_ROWS_WITH_CURVE = 13
PAPER_CHART = ChartSize(width=660, height=165, left=58, right=8, top=12, bottom=26)
DENSE_CHART = replace(PAPER_CHART, height=120)


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetSegment:
    """One segment as typed, and when it ends by the clock."""

    number: int
    label: str
    rate: str
    target: str
    hold: str
    ends: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ControllerSheet:
    """Every text on the sheet, already written out."""

    title: str
    studio_name: str
    kiln: str
    unit: str
    starts: str
    opens: str
    opens_below: str
    segments: tuple[SheetSegment, ...]
    facts: tuple[tuple[str, str], ...]
    note: str
    url: str
    path: str
    cautions: tuple[str, ...]
    size: str
    is_demo: bool

    @property
    def is_dense(self) -> bool:
        """Return whether rows must be small to keep the sheet to one page."""
        return len(self.segments) > MOST_LARGE_ROWS

    @property
    def has_curve(self) -> bool:
        """Return whether there is room for the curve beside what must be typed."""
        return len(self.segments) <= MOST_ROWS_WITH_CURVE

    @property
    def sha256(self) -> str:
        """Return the hash under which the PDF is filed."""
        return words_sha256(asdict(self), layout=LAYOUT)


@dataclass(frozen=True, slots=True, kw_only=True)
class DoorSign:
    """Every text on the sign for a kiln's door."""

    title: str
    kiln: str
    day: str
    clock: str
    below: str
    load: str
    studio_name: str
    url: str
    path: str
    cautions: tuple[str, ...]
    size: str
    is_demo: bool

    @property
    def sha256(self) -> str:
        """Return the hash under which the PDF is filed."""
        return words_sha256(asdict(self), layout=SIGN_LAYOUT)


def door_sign(firing: Firing, *, path: str, origin: str) -> DoorSign:
    """Write the sign: closed until about when, and what is inside."""
    viewer, booking = Viewer.of_studio(firing.studio), firing.booking
    about = next_quarter(booking.opens_at)
    return DoorSign(
        title=title_of(firing),
        kiln=firing.kiln.name,
        day=viewer.day(about),
        clock=viewer.clock(about),
        below=viewer.temperature(booking.opens_below_c),
        load=load_words(firing),
        studio_name=firing.studio.name,
        url=f"{origin}{path}",
        path=path,
        cautions=SIGN_CAUTIONS,
        size=firing.studio.paper_size,
        is_demo=firing.studio.is_demo,
    )


def sign_key(firing: Firing, sign: DoorSign) -> PaperKey:
    """Return the key of a firing's sign with these words."""
    return PaperKey(
        studio=firing.studio, kind=SIGN_KIND, subject_id=firing.pk, sha256=sign.sha256
    )


def sign_context(sign: DoorSign) -> dict[str, Any]:
    """Return what the template of the sign needs."""
    code = segno.make(sign.url, error="m", micro=False)
    return {"paper": sign, "qr": code.svg_inline(border=4, omitsize=True)}


def sheet_viewer(firing: Firing) -> Viewer:
    """Return the studio as a viewer, with the temperatures of the kiln's controller."""
    viewer = Viewer.of_studio(firing.studio)
    unit = TemperatureUnit(firing.kiln.controller_unit)
    return replace(viewer, temperature_unit=unit)


def controller_sheet(firing: Firing, *, path: str, origin: str) -> ControllerSheet:
    """Write the sheet of a firing: what its controller is to do, or does by now.

    `origin` is the program's address, such as ``https://host``; without one the sheet
    has only the path.
    """
    viewer = sheet_viewer(firing)
    booking = firing.booking
    part = planned_parts(firing)[-1]
    starts_at = booking.starts_at + timedelta(seconds=part.starts_s)
    ends = [booking.starts_at + timedelta(seconds=end) for end in part.ends_s]
    about = next_quarter(booking.opens_at)
    return ControllerSheet(
        title=title_of(firing),
        studio_name=firing.studio.name,
        kiln=firing.kiln.name,
        unit=f"°{firing.kiln.controller_unit}",
        starts=f"{viewer.day(starts_at)}, {viewer.clock(starts_at)}",
        opens=f"about {viewer.day(about)}, {viewer.clock(about)}",
        opens_below=viewer.temperature(booking.opens_below_c),
        segments=tuple(
            SheetSegment(
                number=row.number,
                label=row.label.capitalize(),
                rate=row.typed_rate,
                target=row.typed_target,
                hold=row.typed_hold,
                ends=_clock(viewer, ends[row.number - 1]) if ends else "",
            )
            for row in programme_rows(part.programme, firing.kiln, viewer)
        ),
        facts=(
            ("Load", load_words(firing)),
            (
                "Glass",
                f"{firing.schedule.glass}, {viewer.length(firing.schedule.thickness_mm)}",
            ),
            (
                "Schedule",
                f"{firing.schedule.name}, version {firing.schedule.version}: "
                f"{_lower(firing.schedule.get_rule_display())}",
            ),
            *_typed_facts(firing),
            *_offset_facts(firing, viewer),
        ),
        note=""
        if ends
        else "The kiln was changed since this was booked, so no times are given. Compute "
        "the schedule again before you fire.",
        url=f"{origin}{path}" if origin else "",
        path=path,
        cautions=SHEET_CAUTIONS,
        size=firing.studio.paper_size,
        is_demo=firing.studio.is_demo,
    )


def _typed_facts(firing: Firing) -> tuple[tuple[str, str], ...]:
    """Say that the sheet is of a programme typed while the kiln ran, if it is."""
    typed = typed_in(firing)
    if not typed:
        return ()
    words = f"what was typed instead of its rest: {_lower(action_words(typed[-1]))}"
    return (("This sheet", words),)


def _offset_facts(firing: Firing, viewer: Viewer) -> tuple[tuple[str, str], ...]:
    """Say that temperatures are corrected, if they are."""
    off_k = firing.schedule.basis.get("kiln_offset_k")
    if not off_k:
        return ()
    off = viewer.temperature_difference(abs(off_k))
    side = ("hotter", "lower") if off_k > 0 else ("colder", "higher")
    words = f"typed {off} {side[1]}, as the kiln is that much {side[0]} than it shows"
    return (("Temperatures", words),)


def _lower(words: str) -> str:
    return words[:1].lower() + words[1:]


def _clock(viewer: Viewer, at: datetime) -> str:
    local = at.astimezone(viewer.zone)
    return f"{local:%a %-d %b %H:%M}"


def sheet_context(firing: Firing, sheet: ControllerSheet) -> dict[str, Any]:
    """Return what the template of the sheet needs."""
    shown = plan_input(firing, sheet_viewer(firing))
    code = segno.make(sheet.url, error="m", micro=False) if sheet.url else None
    return {
        "paper": sheet,
        "chart": build_chart(
            shown, key="sheet", size=DENSE_CHART if sheet.is_dense else PAPER_CHART
        ),
        "drawing_style": drawing_style(),
        "qr": ""
        if code is None
        else code.svg_inline(border=2, omitsize=True, svgclass="sheet-qr-code"),
    }


def sheet_key(firing: Firing, sheet: ControllerSheet) -> PaperKey:
    """Return the key of a firing's sheet with these words."""
    return PaperKey(
        studio=firing.studio, kind=KIND, subject_id=firing.pk, sha256=sheet.sha256
    )
