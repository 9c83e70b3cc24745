"""An invented ribbon and chart for the style guide; no measurements, no studio's data."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from firing.drawings.chart import FiringChart, build_chart
from firing.drawings.chart_input import (
    NARROW,
    WIDE,
    ChartAlarm,
    ChartCurve,
    ChartHold,
    ChartInput,
    ChartScale,
    ChartSize,
)
from firing.drawings.ribbon import (
    Reading,
    Ribbon,
    RibbonBooking,
    RibbonKiln,
    build_ribbon,
)
from firing.drawings.tension import (
    TensionBand,
    TensionChart,
    TensionInput,
    TensionSeries,
    build_tension_chart,
)

ZONE = ZoneInfo("America/New_York")
NOW = datetime(2026, 3, 18, 16, 30, tzinfo=UTC)

# (Hours since the start, °C): invented shapes typical of the trade.
FUSE = (
    (0, 20), (5, 540), (6, 560), (8, 815), (8.4, 815), (10, 482), (16, 482),
    (36, 427), (48, 371), (72, 200), (110, 50),
)  # fmt: skip
ENAMEL = ((0, 20), (3, 540), (4, 593), (4.2, 593), (6, 482), (7, 482), (16, 50))


def show_when(at: datetime) -> str:
    """Write an instant in the sample's zone."""
    return f"{at.astimezone(ZONE):%a %H:%M}"


def _heat(
    starts_at: datetime, shape: tuple[tuple[float, float], ...]
) -> tuple[Reading, ...]:
    return tuple((starts_at + timedelta(hours=h), float(c)) for h, c in shape)


def _booking(
    title: str,
    starts_at: datetime,
    shape: tuple[tuple[float, float], ...],
    *,
    provisional: bool = False,
) -> RibbonBooking:
    planned = _heat(starts_at, shape)
    wobble = tuple(
        (at + timedelta(minutes=20), celsius * 0.985)
        for at, celsius in _dense(planned)
        if at <= NOW
    )
    return RibbonBooking(
        title=title,
        short=title,
        href=f"#{title.replace(' ', '-')}",
        starts_at=starts_at,
        ends_at=planned[-1][0] + timedelta(hours=1),
        opens_at=planned[-1][0],
        planned=planned,
        recorded=wobble,
        is_provisional=provisional,
    )


def _dense(planned: tuple[Reading, ...]) -> list[Reading]:
    first = planned[0][0]
    hours = [(at - first).total_seconds() / 3600 for at, _ in planned]
    heats = [celsius for _, celsius in planned]
    return [
        (first + timedelta(hours=float(h)), float(np.interp(h, hours, heats)))
        for h in np.arange(0, hours[-1], 0.5)
    ]


def sample_ribbon(key: str) -> Ribbon:
    """Return four kilns over two weeks."""
    monday = datetime(2026, 3, 16, 4, tzinfo=UTC)

    def at(day: int, hour: int) -> datetime:
        return monday + timedelta(days=day, hours=hour)

    access = tuple((at(day, 9), at(day, 18)) for day in range(14) if day % 7 < 6)
    return build_ribbon(
        [
            RibbonKiln(
                name="Big bell",
                href="#big-bell",
                note="closed until Fri 23:00",
                access=access,
                bookings=(
                    _booking("Full fuse of Low water, evening", at(0, 9), FUSE),
                    _booking("Full fuse of Spit", at(6, 9), FUSE, provisional=True),
                ),
            ),
            RibbonKiln(
                name="Long shelf",
                href="#long-shelf",
                note="free until tomorrow 17:00",
                access=access,
                bookings=(
                    _booking("Enamel, 8 layers", at(1, 17), ENAMEL),
                    _booking("Enamel, 5 layers", at(3, 17), ENAMEL),
                    RibbonBooking(
                        title="Rented to another maker",
                        short="Rented to another maker",
                        href="#rental",
                        starts_at=at(5, 8),
                        ends_at=at(7, 20),
                        is_span=True,
                    ),
                ),
            ),
            RibbonKiln(
                name="Front loader",
                href="#front-loader",
                note="free",
                access=access,
                bookings=(
                    _booking("Test of greens", at(1, 9), ENAMEL),
                    _booking("Enamel, 3 layers", at(4, 9), ENAMEL, provisional=True),
                ),
            ),
            RibbonKiln(
                name="Old top hat",
                note="elements being changed",
                access=access,
                bookings=(
                    RibbonBooking(
                        title="Elements changed",
                        short="Elements changed",
                        href="#work",
                        starts_at=at(1, 8),
                        ends_at=at(4, 18),
                        is_span=True,
                    ),
                ),
            ),
        ],
        key=key,
        starts_at=at(0, 0),
        ends_at=at(14, 0),
        now=NOW,
        zone=ZONE,
        show_when=show_when,
        show_heat=lambda celsius: f"{celsius:.0f} °C",
    )


def sample_chart(key: str, size: ChartSize = WIDE) -> FiringChart:
    """Return a fuse in its third day, with a gap and an alarm."""
    hours, heats = (
        np.array(side, dtype=np.float64) for side in zip(*FUSE, strict=True)
    )
    seconds = np.arange(0, 51.5 * 3600, 30.0)
    seconds = seconds[(seconds < 40 * 3600) | (seconds > 43 * 3600)]
    noise = np.random.default_rng(7).normal(0, 1.5, seconds.size)
    recorded = np.interp(seconds / 3600 - 0.2, hours, heats) + noise
    return build_chart(
        ChartInput(
            title="Full fuse of Low water, evening: planned and recorded",
            starts_at=datetime(2026, 3, 16, 13, tzinfo=UTC),
            zone=ZONE,
            scale=ChartScale(
                to_viewer=lambda c: c * 9 / 5 + 32,
                from_viewer=lambda f: (f - 32) * 5 / 9,
                text=lambda c: f"{c * 9 / 5 + 32:.0f} °F",
            ),
            show_when=show_when,
            planned=ChartCurve(time_s=hours * 3600, temperature_c=heats),
            recorded=ChartCurve(time_s=seconds, temperature_c=recorded),
            holds=(
                ChartHold(
                    from_s=8 * 3600,
                    to_s=8.4 * 3600,
                    temperature_c=815,
                    words="Fuse, 25 min",
                ),
                ChartHold(
                    from_s=10 * 3600,
                    to_s=16 * 3600,
                    temperature_c=482,
                    words="Anneal soak, 6 h",
                ),
            ),
            alarms=(
                ChartAlarm(
                    at_s=40 * 3600, words="No readings for 3 h", temperature_c=415
                ),
            ),
            anneal_range_c=(371, 482),
            now=NOW,
        ),
        key=key,
        size=size,
    )


def sample_tension(under: FiringChart) -> TensionChart:
    """Return an invented tension under the sample chart: two waves, one over the limit."""
    hours = np.array([0, 2, 5, 6, 8, 10, 11, 16, 18, 36, 48, 51], dtype=np.float64)
    mpa = np.array([0, 1.8, 3.4, 0.4, 0, 0.1, 0.3, 0.1, 0.8, 0.9, 1.3, 0.9])
    return build_tension_chart(
        TensionInput(
            title="Full fuse of Low water, evening: computed tension",
            starts_at=datetime(2026, 3, 16, 13, tzinfo=UTC),
            show_when=show_when,
            series=(
                TensionSeries(
                    name="in the middle of the band",
                    time_s=hours * 3600,
                    tension_pa=mpa * 1e6,
                    band=TensionBand(
                        time_s=hours * 3600,
                        low_pa=mpa * 0.7e6,
                        high_pa=mpa * 1.25e6,
                    ),
                ),
                TensionSeries(
                    name="the table's next row",
                    time_s=hours * 3600,
                    tension_pa=mpa * 0.6e6,
                ),
            ),
        ),
        under=under,
    )


def sample_context(key: str) -> dict[str, object]:
    """Return the style guide's firing drawings; ids start with `key`."""
    wide = sample_chart(f"{key}-chart")
    narrow = sample_chart(f"{key}-narrow", NARROW)
    return {
        "ribbon": sample_ribbon(f"{key}-ribbon"),
        "chart": wide,
        "narrow": narrow,
        "tension": sample_tension(wide),
        "tension_narrow": sample_tension(narrow),
    }
