"""What to type into a running firing's controller now, for one of the options."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from firing.models import Firing, Judgement
from firing.readings.selectors.re_anneals import option_of, programme_of_option
from firing.readings.selectors.verdict_words import OptionWords, words_of
from firing.schedules.selectors.programmes import kiln_run
from firing.schedules.selectors.tables import SegmentRow, programme_rows
from firing.schedules.selectors.verdict_numbers import MPA, numbers_of
from studio.viewer import Viewer

# What was computed from readings older than this may no longer be true.
STALE_S = 1800.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedRow:
    """One segment as typed, and when it ends if started now."""

    row: SegmentRow
    ends: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TypeNow:
    """A sheet of what to type now."""

    option: OptionWords
    chosen: dict[str, Any]
    rows: tuple[TypedRow, ...]
    opens: str
    kiln_was: str
    read_at: str
    is_stale: bool
    limits: str

    @property
    def has_full_rate(self) -> bool:
        """Return whether a row is typed as "full", a word that needs explaining."""
        return any(one.row.typed_rate == "full" for one in self.rows)


def type_now(
    firing: Firing,
    judgement: Judgement,
    action: str,
    *,
    viewer: Viewer,
    now: datetime,
) -> TypeNow | None:
    """Return the sheet for one option; none when the firing is over."""
    if judgement.verdict == Judgement.NOT_JUDGED or firing.finished_at is not None:
        return None
    option = option_of(judgement, action.replace("_", " "))
    if option is None:
        return None
    words = words_of(judgement, viewer=viewer, now=now)
    said = next(one for one in words.options if one.action == option["action"])
    programme = programme_of_option(option, start_c=option["schedule"]["start_c"])
    run = kiln_run(firing.kiln, programme)
    ends = run.segment_ends_s if run else (None,) * len(programme.segments)
    numbers = numbers_of(judgement)
    read_at = firing.booking.starts_at + timedelta(
        seconds=numbers["starts_s"] + numbers["lasts_s"]
    )
    return TypeNow(
        option=said,
        chosen=option,
        rows=tuple(
            TypedRow(
                row=row,
                ends=""
                if end is None
                else _clock(viewer, now + timedelta(seconds=end)),
            )
            for row, end in zip(
                programme_rows(programme, firing.kiln, viewer), ends, strict=True
            )
        ),
        opens=""
        if run is None
        else viewer.moment(now + timedelta(seconds=run.ready_s), now),
        kiln_was=viewer.temperature(numbers["kiln_now_c"]),
        read_at=viewer.moment(read_at, now),
        is_stale=(now - read_at).total_seconds() > STALE_S,
        limits=f"{numbers['limits']['temporary_pa'] / MPA:g} MPa while hot, "
        f"{numbers['limits']['residual_pa'] / MPA:g} MPa of what stays",
    )


def _clock(viewer: Viewer, at: datetime) -> str:
    """Return a weekday and a time, short enough for a phone's table."""
    return f"{at.astimezone(viewer.zone):%a %H:%M}"
