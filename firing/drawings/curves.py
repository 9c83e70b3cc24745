"""Temperature curves prepared for drawing: cut to a window, thinned, broken at gaps.

Pure arrays in, pure arrays out; the drawing decides where they go.
"""

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]


def clean_readings(
    time_s: FloatArray, temperature_c: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return finite readings in order of time.

    Parameters
    ----------
    time_s, temperature_c : array, shape (n,)
        Seconds since some start, °C.

    Raises
    ------
    ValueError
        The arrays differ in length.
    """
    times = np.asarray(time_s, dtype=np.float64)
    temperatures = np.asarray(temperature_c, dtype=np.float64)
    if times.shape != temperatures.shape or times.ndim != 1:
        raise ValueError("Times and temperatures must be two lists of equal length.")
    usable = np.isfinite(times) & np.isfinite(temperatures)
    times, temperatures = times[usable], temperatures[usable]
    order = np.argsort(times, kind="stable")
    return times[order], temperatures[order]


def cut_to_window(
    time_s: FloatArray, temperature_c: FloatArray, *, from_s: float, to_s: float
) -> tuple[FloatArray, FloatArray]:
    """Return the curve between two times, with interpolated points at both cuts.

    A curve that begins or ends inside the window keeps its own ends; one wholly
    outside comes back empty. Times must be in order.
    """
    if time_s.size == 0 or time_s[-1] < from_s or time_s[0] > to_s:
        return np.empty(0), np.empty(0)
    inside = (time_s > from_s) & (time_s < to_s)
    times, temperatures = time_s[inside], temperature_c[inside]
    if time_s[0] <= from_s:
        at_start = np.interp(from_s, time_s, temperature_c)
        times = np.concatenate(([from_s], times))
        temperatures = np.concatenate(([at_start], temperatures))
    if time_s[-1] >= to_s:
        at_end = np.interp(to_s, time_s, temperature_c)
        times = np.concatenate((times, [to_s]))
        temperatures = np.concatenate((temperatures, [at_end]))
    return times, temperatures


def thin_out(
    time_s: FloatArray, temperature_c: FloatArray, *, columns: int
) -> IntArray:
    """Choose which readings to draw: the lowest and highest of each pixel column.

    Parameters
    ----------
    time_s, temperature_c : array, shape (n,)
        In order of time.
    columns : int
        Pixel columns of the drawing, at least 1.

    Returns
    -------
    array of int
        Positions in order, at most `2 * columns`; the first, the last, the lowest
        and the highest reading are always among them.
    """
    if columns < 1:
        raise ValueError("A drawing needs at least one column.")
    count = time_s.size
    if count <= 2 * columns:
        return np.arange(count)
    # The two ends take a place each, so one column fewer keeps to the promised number.
    columns = max(columns - 1, 1)
    span = float(time_s[-1] - time_s[0])
    if span <= 0:
        column = np.zeros(count, dtype=np.intp)
    else:
        scaled = (time_s - time_s[0]) / span * columns
        column = np.minimum(scaled.astype(np.intp), columns - 1)
    starts = np.flatnonzero(np.diff(column, prepend=-1))
    ends = np.append(starts[1:], count)
    kept = [0, count - 1]
    for start, end in zip(starts, ends, strict=True):
        part = temperature_c[start:end]
        kept.append(int(start + np.argmin(part)))
        kept.append(int(start + np.argmax(part)))
    return np.unique(np.asarray(kept, dtype=np.intp))


def find_gaps(time_s: FloatArray, *, longer_than_s: float) -> IntArray:
    """Return the positions after which no reading came for longer than allowed."""
    return np.flatnonzero(np.diff(time_s) > longer_than_s)
