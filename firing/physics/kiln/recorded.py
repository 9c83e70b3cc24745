"""Readings prepared for computing: checked, corrected, without noise, and few.

`judging.verdict` says what they mean for the glass, `judging.plan_following` whether
they followed a plan.
"""

from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from firing.physics.kiln.broken import ANY_KILN, Pace, perhaps_opened, possible
from firing.physics.kiln.dips import SHORTEST_S
from firing.physics.kiln.offset import check_offset, true_c
from firing.physics.kiln.thinning import thin
from firing.physics.refusals import Cause, celsius
from firing.physics.schedule import Curve, FloatArray, PhysicsProblem
from firing.physics.slab.input import COLDEST_C, HOTTEST_C

# Readings closer together are averaged [s]: no slab answers faster through its film.
BIN_S = 120.0
# A lone reading this far from its neighbours is a fault of the logger, not the kiln
# [K]; five readings over a longer time than this may all be true [s].
SPIKE_K, SPIKE_SIGMAS, SPIKE_WITHIN_S = 20.0, 6.0, 900.0
# The median of three bins removes the remaining noise, if they are this close [s].
MEDIAN_WITHIN_S = 900.0
THIN_K, THIN_SIGMAS, THIN_MOST_K = 0.7, 2.0, 3.0
# Of thousands of readings some are off by so much of the noise that is left.
DOUBT_SIGMAS = 4.0
LONGEST_GAP_S = 1800.0
# More of the readings than this outside the scale are of a wrong unit, not a fault.
MOST_OFF_SCALE = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """A time without readings, too long to count as a straight line.

    Attributes
    ----------
    start_s, end_s : float
        Last reading before it, and first after it [s].
    start_c, end_c : float
        Their temperatures [°C].
    """

    start_s: float
    end_s: float
    start_c: float
    end_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FilteredReadings:
    """A firing's readings, prepared for computing.

    Attributes
    ----------
    curve : Curve
        The kiln, in few points; time starts at 0 with the first reading.
    starts_s : float
        Time of the first reading as given [s].
    readings : int
        How many there were.
    spikes : int
        How many were taken for faults of the logger and left out.
    broken : tuple of Gap
        Times in which the thermocouple read what no kiln can have had, from the last
        possible reading to the next; at the end of the record to its last.
    broken_readings : int
        How many readings those were; they are left out.
    noise_k : float
        Estimated noise of a single reading [K], one standard deviation.
    doubt_k : float
        How far the curve may be off [K]: by noise, whole degrees and left out points.
    gaps : tuple of Gap
        Times without readings; times as in `curve`.
    doubtful : tuple of Gap
        Times in which the kiln may have been opened, or its thermocouple broken, as in
        `broken`; these readings are left out too.
    believed : Curve or None
        The kiln if it was opened; None where nothing is doubtful.
    """

    curve: Curve
    starts_s: float
    readings: int
    spikes: int
    broken: tuple[Gap, ...]
    broken_readings: int
    noise_k: float
    doubt_k: float
    gaps: tuple[Gap, ...]
    doubtful: tuple[Gap, ...]
    believed: Curve | None

    @property
    def lasts_s(self) -> float:
        """Time from the first to the last reading [s]."""
        return float(self.curve.time_s[-1])

    @property
    def last_c(self) -> float:
        """The kiln at the last reading [°C]."""
        return float(self.curve.temperature_c[-1])

    @property
    def hottest_c(self) -> float:
        """The hottest that the kiln was [°C]."""
        return float(self.curve.temperature_c.max())

    @property
    def is_broken_at_the_end(self) -> bool:
        """Whether the last readings were none that a kiln can have had."""
        return bool(self.broken) and self.broken[-1].end_s > self.lasts_s


def clean_readings(
    time_s: FloatArray,
    temperature_c: FloatArray,
    *,
    offset_k: float = 0.0,
    longest_gap_s: float = LONGEST_GAP_S,
    pace: Pace = ANY_KILN,
) -> FilteredReadings:
    """Prepare a firing's readings for computing.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Times that never decrease [s].
    temperature_c : ndarray, shape (n,)
        Readings [°C].
    offset_k : float
        Added to readings [K], -60 to 60: all of it from 400 °C up, none at 20 °C,
        straight between. Positive if the kiln is hotter than it reads.
    longest_gap_s : float
        Longest time without readings that is taken for a straight line [s]; a longer
        one is a gap.
    pace : Pace
        How fast the kiln can change.

    Returns
    -------
    FilteredReadings
        Few points that follow the readings.

    Raises
    ------
    PhysicsProblem
        If there are fewer than two readings, or any is no number, no kiln temperature,
        or out of order.

    Notes
    -----
    Lone spikes go by the median of five, then what no kiln can have had, see `broken`;
    readings within two minutes are averaged; the median of three follows; then points
    are left out within 0.7 K or twice the noise that is left. A fall of the kiln that
    lasts is no spike and stays. A short one that comes back is doubtful: an opened kiln
    and a bad wire look the same in a reading or two.

    References
    ----------
    Own rules, without a source; that a film boundary makes noise of 1 K harmless is a
    converged finding of this model.
    """
    given_s, given_c = _checked(time_s, temperature_c, offset_k, longest_gap_s)
    given_s, given_c, is_dip, spikes = _without_spikes(given_s, given_c)
    is_possible, is_doubtful = _sorted_out(given_s, given_c, is_dip, pace)
    starts_s = float(given_s[is_possible][0])
    given_s = given_s - starts_s
    times = given_s[is_possible]
    kiln_c = true_c(given_c[is_possible], offset_k)
    noise_k = _noise(times, kiln_c)
    curve, within_k, left_k = _thinned(times, kiln_c)
    believed = None
    if is_doubtful.any():
        all_c = true_c(given_c[is_possible | is_doubtful], offset_k)
        believed, *_ = _thinned(given_s[is_possible | is_doubtful], all_c)
    is_broken = ~(is_possible | is_doubtful)
    return FilteredReadings(
        curve=curve,
        starts_s=starts_s,
        readings=int(time_s.size),
        spikes=spikes,
        broken=_left_out(given_s, is_broken, times, kiln_c),
        broken_readings=int(np.count_nonzero(is_broken)),
        noise_k=noise_k,
        doubt_k=within_k + DOUBT_SIGMAS * left_k + _resolution(kiln_c) / 2,
        gaps=_gaps(times, kiln_c, longest_gap_s),
        doubtful=_left_out(given_s, is_doubtful, times, kiln_c),
        believed=believed,
    )


def _thinned(times: FloatArray, kiln_c: FloatArray) -> tuple[Curve, float, float]:
    """Return few points, how far they are from the readings, and the noise left [K]."""
    binned_s, binned_c = _binned(times, kiln_c)
    binned_c = _median_of_three(binned_s, binned_c)
    left_k = _noise(binned_s, binned_c)
    within_k = min(max(THIN_K, THIN_SIGMAS * left_k), THIN_MOST_K)
    return thin(binned_s, binned_c, within_k=within_k), within_k, left_k


def filtered_readings(time_s: FloatArray, temperature_c: FloatArray) -> Curve:
    """Return a firing's readings without lone spikes, averaged over two minutes.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Times that never decrease [s].
    temperature_c : ndarray, shape (n,)
        Readings [°C].

    Returns
    -------
    Curve
        All of them, on the same clock; nothing is thinned and no gap is bridged.

    Raises
    ------
    PhysicsProblem
        As `clean_readings`.

    References
    ----------
    Own rules, without a source.
    """
    times, kiln_c = _checked(time_s, temperature_c, 0.0, LONGEST_GAP_S)
    times, kiln_c, is_dip, _ = _without_spikes(times, kiln_c)
    is_possible, _ = _sorted_out(times, kiln_c, is_dip, ANY_KILN)
    times, kiln_c = times[is_possible], kiln_c[is_possible]
    starts_s = float(times[0])
    binned_s, binned_c = _binned(times - starts_s, kiln_c)
    return Curve(time_s=binned_s + starts_s, temperature_c=binned_c)


def _checked(
    time_s: FloatArray, temperature_c: FloatArray, offset_k: float, longest_gap_s: float
) -> tuple[FloatArray, FloatArray]:
    if time_s.ndim != 1 or time_s.shape != temperature_c.shape:
        raise PhysicsProblem(Cause.READINGS_SHAPE)
    for values, what in ((time_s, "time"), (temperature_c, "temperature")):
        wrong = np.flatnonzero(~np.isfinite(values))
        if wrong.size:
            raise PhysicsProblem(
                Cause.READING_NO_NUMBER, what=what, place=str(wrong[0] + 1)
            )
    back = np.flatnonzero(np.diff(time_s) < 0)
    if back.size:
        raise PhysicsProblem(Cause.READINGS_BACKWARDS, place=str(back[0] + 2))
    if time_s.size < 2 or not time_s[-1] > time_s[0]:
        raise PhysicsProblem(Cause.TOO_FEW_READINGS, count=str(time_s.size))
    wrong = np.flatnonzero((temperature_c < COLDEST_C) | (temperature_c > HOTTEST_C))
    # Some are a broken thermocouple's; most of them mean a wrong unit.
    if wrong.size > max(3, MOST_OFF_SCALE * time_s.size):
        raise PhysicsProblem(
            Cause.READING_OUT_OF_RANGE,
            place=str(wrong[0] + 1),
            given=celsius(float(temperature_c[wrong[0]])),
        )
    check_offset(offset_k)
    if not longest_gap_s > 0:
        raise PhysicsProblem(Cause.LONGEST_GAP)
    return (
        np.asarray(time_s, dtype=np.float64),
        np.asarray(temperature_c, dtype=np.float64),
    )


def _without_spikes(
    times: FloatArray, kiln_c: FloatArray
) -> tuple[FloatArray, FloatArray, np.ndarray, int]:
    """Return the readings without spikes, which of them are short dips, and how many
    spikes there were.

    A dip of minutes may be an opened kiln's, one shorter than that is a spike.
    """
    lone = _spikes(times, kiln_c, _noise(times, kiln_c))
    is_dip = np.zeros_like(lone)
    for first, end in _runs(lone):
        before, after = max(first - 1, 0), min(end, times.size - 1)
        is_low = kiln_c[first:end].max() < min(kiln_c[before], kiln_c[after])
        if is_low and times[after] - times[before] >= SHORTEST_S:
            is_dip[first:end] = True
    kept = ~lone | is_dip
    return times[kept], kiln_c[kept], is_dip[kept], int(np.count_nonzero(~kept))


def _runs(mask: np.ndarray) -> list[tuple[int, int]]:
    """Return where a mask is true: from, and up to."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], mask.astype(int), [0]))))
    return [
        (int(first), int(end))
        for first, end in zip(edges[::2], edges[1::2], strict=True)
    ]


def _sorted_out(
    times: FloatArray, kiln_c: FloatArray, is_dip: np.ndarray, pace: Pace
) -> tuple[np.ndarray, np.ndarray]:
    """Tell which readings are a kiln's, and which are an opened kiln's or nothing."""
    is_possible = (kiln_c >= COLDEST_C) & (kiln_c <= HOTTEST_C)
    is_doubtful = is_possible & is_dip
    on_scale = np.flatnonzero(is_possible & ~is_dip)
    is_possible &= ~is_dip
    if on_scale.size:
        on_s, on_c = times[on_scale], kiln_c[on_scale]
        noise_k = _noise(on_s, on_c)
        is_possible[on_scale] = possible(on_s, on_c, pace, noise_k=noise_k)
        is_doubtful[on_scale] = perhaps_opened(on_s, on_c, pace, noise_k=noise_k)
    if np.count_nonzero(is_possible) < 2 or not np.ptp(times[is_possible]) > 0:
        raise PhysicsProblem(Cause.NO_KILN_READINGS)
    is_doubtful &= ~is_possible
    # What comes before the first reading of a kiln, or after its last, is no dip.
    first, last = np.flatnonzero(is_possible)[[0, -1]]
    is_doubtful[:first] = is_doubtful[last:] = False
    return is_possible, is_doubtful


def _left_out(
    given_s: FloatArray, is_out: np.ndarray, times: FloatArray, kiln_c: FloatArray
) -> tuple[Gap, ...]:
    """Return when readings were left out, between their possible neighbours."""
    found = []
    for first, end in _runs(is_out):
        before = np.searchsorted(times, given_s[first], side="right") - 1
        at_end = end >= given_s.size
        start_c = float(kiln_c[max(before, 0)])
        found.append(
            Gap(
                start_s=float(given_s[max(first - 1, 0)]),
                end_s=float(given_s[-1] if at_end else given_s[end]),
                start_c=start_c,
                end_c=start_c
                if at_end
                else float(np.interp(given_s[end], times, kiln_c)),
            )
        )
    return tuple(found)


def _resolution(kiln_c: FloatArray) -> float:
    """Return the step that the readings are rounded to [K], 0 where there is none."""
    steps = np.abs(np.diff(kiln_c))
    steps = steps[steps > 1e-6]
    if steps.size < 5:
        return 0.0
    step = float(np.quantile(steps, 0.02))
    is_whole = np.abs(steps / step - np.round(steps / step)) < 0.02
    return step if np.mean(is_whole) > 0.95 else 0.0


def _noise(times: FloatArray, kiln_c: FloatArray) -> float:
    """Estimate noise from how readings miss the line between their neighbours [K]."""
    if times.size < 5:
        return 0.0
    span = times[2:] - times[:-2]
    share = np.divide(
        times[1:-1] - times[:-2], span, out=np.full(span.size, 0.5), where=span > 0
    )
    off = kiln_c[1:-1] - (kiln_c[:-2] + share * (kiln_c[2:] - kiln_c[:-2]))
    # The difference to the mean of two has a variance of 1.5; 0.6745 makes a median of
    # absolute values a standard deviation.
    return float(np.median(np.abs(off)) / (0.6745 * np.sqrt(1.5)))


def _spikes(times: FloatArray, kiln_c: FloatArray, noise_k: float) -> np.ndarray:
    lone = np.zeros(times.size, dtype=np.bool_)
    if times.size < 5:
        return lone
    least_k = max(SPIKE_K, SPIKE_SIGMAS * noise_k)
    median = np.median(sliding_window_view(kiln_c, 5), axis=1)
    off = np.abs(kiln_c[2:-2] - median)
    is_close = times[4:] - times[:-4] <= SPIKE_WITHIN_S
    lone[2:-2] = is_close & (off > least_k)
    # Of readings further apart one alone, between two that are higher.
    low_k = np.minimum(kiln_c[:-2], kiln_c[2:]) - kiln_c[1:-1]
    lone[1:-1] |= (times[2:] - times[:-2] <= MEDIAN_WITHIN_S) & (low_k > least_k)
    return lone


def _binned(times: FloatArray, kiln_c: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Average within bins of time; the first and the last reading stay as they are."""
    bins = np.floor(times / BIN_S)
    starts = np.flatnonzero(np.diff(bins, prepend=-1.0))
    counts = np.diff(np.append(starts, times.size))
    binned_s = np.add.reduceat(times, starts) / counts
    binned_c = np.add.reduceat(kiln_c, starts) / counts
    if times[0] < binned_s[0]:
        binned_s = np.insert(binned_s, 0, times[0])
        binned_c = np.insert(binned_c, 0, kiln_c[0])
    if times[-1] > binned_s[-1]:
        binned_s = np.append(binned_s, times[-1])
        binned_c = np.append(binned_c, kiln_c[-1])
    return binned_s, binned_c


def _median_of_three(times: FloatArray, kiln_c: FloatArray) -> FloatArray:
    if times.size < 3:
        return kiln_c
    median = np.median(sliding_window_view(kiln_c, 3), axis=1)
    is_close = times[2:] - times[:-2] <= MEDIAN_WITHIN_S
    # Noise goes; the lowest air of an opened kiln stays.
    is_close &= median - kiln_c[1:-1] <= SPIKE_K
    smooth = kiln_c.copy()
    smooth[1:-1] = np.where(is_close, median, kiln_c[1:-1])
    return smooth


def _gaps(
    times: FloatArray, kiln_c: FloatArray, longest_gap_s: float
) -> tuple[Gap, ...]:
    return tuple(
        Gap(
            start_s=float(times[place]),
            end_s=float(times[place + 1]),
            start_c=float(kiln_c[place]),
            end_c=float(kiln_c[place + 1]),
        )
        for place in np.flatnonzero(np.diff(times) > longest_gap_s)
    )
