"""The kiln ribbon: kilns as rows, time across, each booking the area under its heat.

Pure geometry in pixels. Datetimes are aware; the caller's `show_when` writes the words
beside things. `components/_kiln_ribbon.html` draws the result.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from itertools import pairwise

import numpy as np

from firing.drawings.curves import FloatArray, cut_to_window, thin_out

Reading = tuple[datetime, float]

# Heights of one row, top to bottom, in pixels.
NAME_HEIGHT = 28.0
LABEL_HEIGHT = 18.0
PLOT_HEIGHT = 104.0
# On paper, and where days are too narrow for outlines and heat is a band.
LOW_PLOT_HEIGHT = 54.0
BAND_HEIGHT = 24.0
ACCESS_GAP = 3.0
ACCESS_HEIGHT = 5.0
ROW_FOOT = 8.0
PLOT_TOP = NAME_HEIGHT + LABEL_HEIGHT
AXIS_HEIGHT = 26.0

LETTER_WIDTH = 6.6
LABEL_GAP = 8.0
FEWEST_LETTERS = 4
SMALLEST_TARGET = 24.0
# As wide as a finger, where the bookings beside it leave so much.
FINGER = 44.0
OPEN_LABEL_WIDTH = 104.0
DAY_LABEL_WIDTH = 44.0
# "Wed 25" where there is room, else "We 25".
LONG_DAY_LABEL_WIDTH = 54.0
# "Sat 7 Mar", with the month; "16 Mar", where only Mondays are marked.
MONTH_LABEL_WIDTH = 62.0
WEEK_LABEL_WIDTH = 52.0
# Days narrower than this are marked by the week.
NARROWEST_DAY = 24.0
# Two pieces of the access strip closer than this are drawn as one.
SMALLEST_GAP = 3.0
FLAG_WIDTH = 16.0
COLDEST_C = 20.0
# A piece's picture inside its outline: side of the square, gap, how many at most.
PICTURE_SIDE = 40.0
PICTURE_GAP = 4.0
MOST_PICTURES = 3
# Columns of a band, and the narrowest one drawn.
BAND_COLUMN = 3.0
NARROWEST_BAND = 4.0
HEAT_LABEL_WIDTH = 46.0
DRAWN_TOP_C = 850.0
HEAT_STEPS = 7
RING_INSET = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RibbonBooking:
    """One booking as the drawing needs it.

    `title` says all ("Full fuse of Low water"), `short` is written in the drawing.
    `planned` and `recorded` are (instant, °C); a span without heat (a rental, work on
    the kiln) has none and `is_span`. `notes` are more sentences for its words, `flag`
    one or two ("late") that are marked in the drawing. One with a `move_url`, where its
    moves are judged, may be dragged. `pictures` are addresses of what is in it. One that
    `is_other` is not what was asked for and is drawn faint.
    """

    title: str
    short: str
    href: str
    starts_at: datetime
    ends_at: datetime
    opens_at: datetime | None = None
    planned: tuple[Reading, ...] = ()
    recorded: tuple[Reading, ...] = ()
    is_provisional: bool = False
    is_span: bool = False
    notes: tuple[str, ...] = ()
    flag: str = ""
    is_other: bool = False
    move_url: str = ""
    pictures: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RibbonKiln:
    """One kiln with what stands in its row; `key` names it to the script."""

    name: str
    key: str = ""
    href: str = ""
    note: str = ""
    bookings: tuple[RibbonBooking, ...] = ()
    access: tuple[tuple[datetime, datetime], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RibbonMark:
    """A temperature written beside the curve; its dot stands at (x, y)."""

    x: float
    y: float
    label: str
    label_x: float
    anchor: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RibbonHeat:
    """A stretch of a band: one step of the scale of temperature."""

    x: float
    width: float
    step: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RibbonPicture:
    """A square picture in a booking's outline, standing on the base line."""

    href: str
    x: float
    y: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RibbonShape:
    """One booking's place and outline in its row."""

    aria_label: str
    words: str
    href: str
    x: float
    width: float
    hit_x: float
    hit_width: float
    area_path: str
    planned_path: str
    recorded_path: str
    label: str
    label_x: float
    open_x: float | None
    open_label: str
    is_provisional: bool
    is_span: bool
    is_other: bool
    flag: str
    flag_x: float
    move_url: str
    starts_s: int
    peak: RibbonMark | None = None
    now: RibbonMark | None = None
    band: tuple[RibbonHeat, ...] = ()
    pictures: tuple[RibbonPicture, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RibbonStrip:
    """A piece of the strip that shows when somebody is in."""

    x: float
    width: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RibbonDay:
    """One midnight, or that of a Monday: a fine line, and its name if there is room."""

    x: float
    label: str
    is_today: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class RibbonRow:
    """One kiln's row; `key` starts the ids of its textures."""

    key: str
    kiln_key: str
    name: str
    href: str
    note: str
    shapes: tuple[RibbonShape, ...]
    access: tuple[RibbonStrip, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ribbon:
    """The whole drawing; every row has the same height and the same time axis.

    `starts_s` is the left edge in seconds of the epoch, `s_per_px` how long a pixel is.
    """

    key: str
    width: float
    starts_s: int
    s_per_px: float
    row_height: float
    axis_height: float
    name_height: float
    hit_height: float
    base_y: float
    plot_top: float
    plot_height: float
    label_y: float
    access_y: float
    access_height: float
    days: tuple[RibbonDay, ...]
    now_x: float | None
    rows: tuple[RibbonRow, ...]
    heat_stops: tuple[tuple[int, str], ...]
    title: str
    picture_side: float = PICTURE_SIDE

    @property
    def has_flags(self) -> bool:
        """Say whether any booking is marked, so that the key explains the mark."""
        return any(shape.flag for row in self.rows for shape in row.shapes)

    @property
    def ring_y(self) -> float:
        """Top of the ring that shows the keyboard's focus, clear of the name."""
        return self.name_height + RING_INSET

    @property
    def ring_height(self) -> float:
        """Height of that ring."""
        return self.hit_height - RING_INSET


@dataclass(frozen=True, slots=True, kw_only=True)
class _Frame:
    """The window in time and how it maps to pixels."""

    starts_at: datetime
    ends_at: datetime
    now: datetime
    width: float
    top_c: float
    plot_height: float
    is_band: bool
    show_when: Callable[[datetime], str]
    show_heat: Callable[[float], str]

    def seconds(self, at: datetime) -> float:
        return (at - self.starts_at).total_seconds()

    @property
    def span_s(self) -> float:
        return self.seconds(self.ends_at)

    @property
    def base_y(self) -> float:
        return PLOT_TOP + self.plot_height

    def x(self, at: datetime) -> float:
        share = self.seconds(at) / self.span_s
        return round(min(max(share, 0.0), 1.0) * self.width, 2)

    def shows(self, starts_at: datetime, ends_at: datetime) -> bool:
        return ends_at > self.starts_at and starts_at < self.ends_at

    def points(self, readings: Sequence[Reading]) -> tuple[FloatArray, FloatArray]:
        """Return x and y of the readings inside the window, thinned to their pixels."""
        ordered = sorted(readings)
        times = np.array([self.seconds(at) for at, _ in ordered], dtype=np.float64)
        heat = np.array([celsius for _, celsius in ordered], dtype=np.float64)
        times, heat = cut_to_window(times, heat, from_s=0.0, to_s=self.span_s)
        long_s = float(times[-1] - times[0]) if times.size else 0.0
        columns = math.ceil(long_s / self.span_s * self.width)
        kept = thin_out(times, heat, columns=max(columns, 1))
        share = (heat[kept] - COLDEST_C) / (self.top_c - COLDEST_C)
        return (
            times[kept] / self.span_s * self.width,
            self.base_y - np.clip(share, 0.0, 1.0) * self.plot_height,
        )


def build_ribbon(
    kilns: Sequence[RibbonKiln],
    *,
    key: str,
    starts_at: datetime,
    ends_at: datetime,
    now: datetime,
    zone: tzinfo,
    show_when: Callable[[datetime], str],
    show_heat: Callable[[float], str],
    day_width: float = 96.0,
    plot_height: float = PLOT_HEIGHT,
) -> Ribbon:
    """Lay the kilns' bookings out over a window of time.

    Parameters
    ----------
    kilns : sequence of RibbonKiln
        Rows, top first.
    key : str
        Unique on the page; starts every id in the drawing.
    starts_at, ends_at, now : datetime
        Aware; the window, and the present.
    zone : tzinfo
        The studio's zone, for where days begin.
    show_when : callable
        Writes an instant ("Fri 14:00").
    show_heat : callable
        Writes a temperature in °C ("1500 °F").
    day_width : float
        Pixels for 24 hours; below 24, heat is drawn as a band instead of an outline.
    plot_height : float
        Pixels from the base line to the hottest point.

    Raises
    ------
    ValueError
        The window is empty or a booking ends before it starts.
    """
    if ends_at <= starts_at:
        raise ValueError("The ribbon's window must end after it starts.")
    # Python subtracts two instants of one zone by the wall clock.
    starts_at, ends_at = starts_at.astimezone(UTC), ends_at.astimezone(UTC)
    hours = (ends_at - starts_at).total_seconds() / 3600
    heats = [
        celsius for kiln in kilns for b in kiln.bookings for _, celsius in b.planned
    ]
    is_band = day_width < NARROWEST_DAY
    frame = _Frame(
        starts_at=starts_at,
        ends_at=ends_at,
        now=now,
        width=round(hours / 24 * day_width, 2),
        top_c=max([DRAWN_TOP_C, *heats]),
        plot_height=BAND_HEIGHT if is_band else plot_height,
        is_band=is_band,
        show_when=show_when,
        show_heat=show_heat,
    )
    base_y = frame.base_y
    return Ribbon(
        key=key,
        width=frame.width,
        starts_s=int(starts_at.timestamp()),
        s_per_px=round(frame.span_s / frame.width, 4),
        row_height=base_y + ACCESS_GAP + ACCESS_HEIGHT + ROW_FOOT,
        axis_height=AXIS_HEIGHT,
        name_height=NAME_HEIGHT,
        hit_height=base_y - NAME_HEIGHT,
        base_y=base_y,
        plot_top=PLOT_TOP,
        plot_height=frame.plot_height,
        label_y=PLOT_TOP - 5,
        access_y=base_y + ACCESS_GAP,
        access_height=ACCESS_HEIGHT,
        days=_days(frame, zone, day_width),
        now_x=frame.x(now) if starts_at <= now <= ends_at else None,
        rows=tuple(
            _row(kiln, frame, key=f"{key}-{number}")
            for number, kiln in enumerate(kilns, start=1)
        ),
        heat_stops=tuple(
            (step, f"{step / (HEAT_STEPS - 1):.4f}") for step in range(HEAT_STEPS)
        ),
        title=f"Kilns from {show_when(starts_at)} to {show_when(ends_at)}",
    )


def _days(frame: _Frame, zone: tzinfo, day_width: float) -> tuple[RibbonDay, ...]:
    """Mark every day, or every Monday where days are narrow."""
    by_week = day_width < NARROWEST_DAY
    unit = timedelta(days=7 if by_week else 1)
    needed = WEEK_LABEL_WIDTH if by_week else DAY_LABEL_WIDTH
    every = max(1, math.ceil(needed / (day_width * unit.days)))
    day: date = frame.starts_at.astimezone(zone).date()
    if by_week:
        day += timedelta(days=-day.weekday() % 7)
    today = frame.now.astimezone(zone).date()
    days: list[RibbonDay] = []
    while True:
        # Midnight is asked of the zone each time: days of 23 and 25 hours exist.
        midnight = datetime.combine(day, time(), tzinfo=zone).astimezone(UTC)
        if midnight >= frame.ends_at:
            return tuple(days)
        if midnight >= frame.starts_at:
            labelled = len(days) % every == 0
            has_month = (day.day == 1 or not days) and (
                day_width * every >= MONTH_LABEL_WIDTH
            )
            shown = "%-d %b" if by_week else "%a %-d %b" if has_month else "%a %-d"
            label = f"{day:{shown}}"
            if not by_week and day_width * every < LONG_DAY_LABEL_WIDTH:
                label = f"{day:%a}"[:2] + f" {day.day}"
            has_room = frame.x(midnight) + needed <= frame.width
            days.append(
                RibbonDay(
                    x=frame.x(midnight),
                    label=label if labelled and has_room else "",
                    is_today=day <= today < day + unit,
                )
            )
        day += unit


def _strips(
    access: Sequence[tuple[datetime, datetime]], frame: _Frame
) -> tuple[RibbonStrip, ...]:
    """Return when somebody is in; pieces less than a hairline apart are joined."""
    joined: list[list[float]] = []
    for opens, closes in sorted(access):
        if not frame.shows(opens, closes):
            continue
        x, end_x = frame.x(opens), frame.x(closes)
        if joined and x - joined[-1][1] < SMALLEST_GAP:
            joined[-1][1] = max(joined[-1][1], end_x)
        else:
            joined.append([x, end_x])
    return tuple(RibbonStrip(x=x, width=round(end - x, 2)) for x, end in joined)


def _row(kiln: RibbonKiln, frame: _Frame, *, key: str) -> RibbonRow:
    shown = sorted(
        (b for b in kiln.bookings if frame.shows(b.starts_at, b.ends_at)),
        key=lambda b: b.starts_at,
    )
    starts = [frame.x(b.starts_at) for b in shown]
    ends = [frame.x(b.ends_at) for b in shown]
    # Between two bookings each has the half that is nearer.
    middles = [(end + x) / 2 for end, x in zip(ends, starts[1:], strict=False)]
    reaches = pairwise([0.0, *middles, frame.width])
    return RibbonRow(
        key=key,
        kiln_key=kiln.key,
        name=kiln.name,
        href=kiln.href,
        note=kiln.note,
        shapes=tuple(
            _shape(kiln, booking, frame, next_x, reach)
            for booking, (_, next_x), reach in zip(
                shown, pairwise([*starts, frame.width]), reaches, strict=False
            )
        ),
        access=_strips(kiln.access, frame),
    )


def _shape(
    kiln: RibbonKiln,
    booking: RibbonBooking,
    frame: _Frame,
    next_x: float,
    reach: tuple[float, float],
) -> RibbonShape:
    if booking.ends_at < booking.starts_at:
        raise ValueError(f"{booking.title}: the booking ends before it starts.")
    x, end_x = frame.x(booking.starts_at), frame.x(booking.ends_at)
    width = round(end_x - x, 2)
    spare = max(FINGER - width, 0) / 2
    left, right = max(x - spare, min(reach[0], x)), min(end_x + spare, reach[1])
    hit_width = max(width, right - left, SMALLEST_TARGET)
    middle = (left + max(right, end_x)) / 2
    hit_x = min(max(middle - hit_width / 2, 0.0), frame.width - hit_width)
    words = _words(booking, frame)

    heated = not booking.is_span and len(booking.planned) > 1
    planned_x, planned_y = frame.points(booking.planned)
    recorded_x, recorded_y = frame.points(booking.recorded)
    # The past is drawn as it happened, the rest as planned.
    ahead = planned_x > (recorded_x[-1] if recorded_x.size else -1.0)
    area_x = np.concatenate((recorded_x, planned_x[ahead]))
    area_y = np.concatenate((recorded_y, planned_y[ahead]))
    draws_lines = heated and not frame.is_band

    open_x = None
    if (
        booking.opens_at is not None
        and frame.starts_at <= booking.opens_at <= frame.ends_at
    ):
        open_x = frame.x(booking.opens_at)
    has_room = open_x is not None and next_x - open_x >= OPEN_LABEL_WIDTH
    # A short booking's words may run into free time, up to the next booking.
    flag_width = FLAG_WIDTH if booking.flag else 0.0
    label_x = x + (6 if booking.is_span else 1)
    room = max(width, next_x - x) - (label_x - x) - LABEL_GAP - flag_width
    letters = int(room // LETTER_WIDTH)
    return RibbonShape(
        aria_label=f"{kiln.name}: {words}",
        words=words,
        href=booking.href,
        x=x,
        width=width,
        hit_x=round(hit_x, 2),
        hit_width=round(hit_width, 2),
        area_path=_area(area_x, area_y, frame.base_y) if draws_lines else "",
        planned_path=_line(planned_x, planned_y) if draws_lines else "",
        recorded_path=_line(recorded_x, recorded_y) if draws_lines else "",
        peak=_peak(booking, frame, next_x) if draws_lines else None,
        now=_now(booking, frame) if draws_lines else None,
        band=_band(area_x, area_y, frame, x) if heated and frame.is_band else (),
        pictures=_pictures(booking, area_x, area_y, frame) if draws_lines else (),
        label=_fit(booking.short, letters),
        label_x=round(label_x + flag_width, 2),
        open_x=open_x,
        open_label=(
            f"open {frame.show_when(booking.opens_at)}"
            if has_room and booking.opens_at
            else ""
        ),
        is_provisional=booking.is_provisional,
        is_span=not heated,
        is_other=booking.is_other,
        flag=booking.flag,
        flag_x=round(min(label_x, frame.width - FLAG_WIDTH), 2),
        move_url=booking.move_url,
        starts_s=int(booking.starts_at.timestamp()),
    )


def _heat(booking: RibbonBooking) -> list[Reading]:
    """Return what was recorded, and from there on what is planned."""
    last = max((at for at, _ in booking.recorded), default=booking.starts_at)
    ahead = [one for one in booking.planned if one[0] > last or not booking.recorded]
    return sorted([*booking.recorded, *ahead])


def _mark(
    at: datetime, celsius: float, frame: _Frame, *, room_right: float
) -> RibbonMark:
    x = frame.x(at)
    share = (celsius - COLDEST_C) / (frame.top_c - COLDEST_C)
    is_right = room_right >= HEAT_LABEL_WIDTH or x < HEAT_LABEL_WIDTH
    return RibbonMark(
        x=x,
        y=round(frame.base_y - min(max(share, 0.0), 1.0) * frame.plot_height, 2),
        label=frame.show_heat(celsius),
        label_x=round(x + (7 if is_right else -7), 2),
        anchor="start" if is_right else "end",
    )


def _peak(booking: RibbonBooking, frame: _Frame, next_x: float) -> RibbonMark | None:
    """Write the hottest point beside it, where it is shown."""
    at, celsius = max(_heat(booking), key=lambda one: one[1])
    if not frame.starts_at <= at <= frame.ends_at:
        return None
    return _mark(at, celsius, frame, room_right=next_x - frame.x(at))


def _now(booking: RibbonBooking, frame: _Frame) -> RibbonMark | None:
    """Write the last temperature recorded in a firing that is going on."""
    if not booking.recorded or not booking.starts_at <= frame.now <= booking.ends_at:
        return None
    if not frame.starts_at <= frame.now <= frame.ends_at:
        return None
    at, celsius = max(booking.recorded)
    hottest, _ = max(_heat(booking), key=lambda one: one[1])
    if abs(frame.x(at) - frame.x(hottest)) < HEAT_LABEL_WIDTH:
        return None
    return _mark(at, celsius, frame, room_right=0.0)


def _band(
    x: FloatArray, y: FloatArray, frame: _Frame, starts_x: float
) -> tuple[RibbonHeat, ...]:
    """Return a band's stretches of equal heat; a short booking is still to be seen."""
    if x.size == 0:
        return ()
    left = float(max(x[0], starts_x))
    right = max(float(x[-1]), left + NARROWEST_BAND)
    edges = np.append(np.arange(left, right, BAND_COLUMN), right)
    found: list[RibbonHeat] = []
    for from_x, to_x in pairwise(edges):
        inside = y[(x >= from_x) & (x <= to_x)]
        # The hottest moment of a column is what it shows.
        top = min([*inside, *np.interp([from_x, to_x], x, y)])
        step = round((frame.base_y - top) / frame.plot_height * (HEAT_STEPS - 1))
        if found and found[-1].step == step:
            from_x = found.pop().x
        found.append(
            RibbonHeat(x=round(from_x, 2), width=round(to_x - from_x, 2), step=step)
        )
    return tuple(found)


def _pictures(
    booking: RibbonBooking, x: FloatArray, y: FloatArray, frame: _Frame
) -> tuple[RibbonPicture, ...]:
    """Stand as many of a booking's pictures as fit under its curve, from the peak on."""
    if x.size < 2:
        return ()
    columns = np.arange(x[0], x[-1] + 1)
    height = frame.base_y - np.interp(columns, x, y)
    tall = height >= PICTURE_SIDE + 2 * PICTURE_GAP
    for count in range(min(len(booking.pictures), MOST_PICTURES), 0, -1):
        wide = int(count * PICTURE_SIDE + (count + 1) * PICTURE_GAP)
        if tall.size < wide:
            continue
        runs = np.convolve(tall, np.ones(wide), mode="valid") >= wide
        if not runs.any():
            continue
        starts = np.flatnonzero(runs)
        past = starts[starts >= int(np.argmax(height))]
        first = float(columns[past[0] if past.size else starts[0]]) + PICTURE_GAP
        return tuple(
            RibbonPicture(
                href=href,
                x=round(first + number * (PICTURE_SIDE + PICTURE_GAP), 2),
                y=frame.base_y - PICTURE_SIDE - PICTURE_GAP,
            )
            for number, href in enumerate(booking.pictures[:count])
        )
    return ()


def _words(booking: RibbonBooking, frame: _Frame) -> str:
    words = (
        f"{booking.title}, {frame.show_when(booking.starts_at)} "
        f"to {frame.show_when(booking.ends_at)}"
    )
    if booking.opens_at is not None:
        words += f", may be opened {frame.show_when(booking.opens_at)}"
    if booking.is_provisional:
        words += ", provisional"
    return ". ".join([words, *(note.rstrip(".") for note in booking.notes)])


def _fit(text: str, letters: int) -> str:
    if letters < FEWEST_LETTERS:
        return ""
    return text if len(text) <= letters else text[: letters - 1].rstrip() + "…"


def _line(x: FloatArray, y: FloatArray) -> str:
    if x.size == 0:
        return ""
    pairs = " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(x, y, strict=True))
    return f"M{pairs}"


def _area(x: FloatArray, y: FloatArray, base_y: float) -> str:
    if x.size == 0:
        return ""
    pairs = " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(x, y, strict=True))
    return f"M{x[0]:.1f},{base_y:.1f} {pairs} {x[-1]:.1f},{base_y:.1f}Z"
