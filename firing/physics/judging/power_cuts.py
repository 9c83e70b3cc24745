"""When a kiln was without power: one event with its beginning and its end.

Arrays only; `plan_following` says how far a kiln may fall by plan.
"""

from dataclasses import dataclass

import numpy as np

from firing.physics.schedule import FloatArray

# What a kiln may be under its plan before it counts as having left it, and what it must
# rise to count as heated again [K], own rules.
LEFT_K, RISEN_K = 1.0, 2.0
# Over how many steps the slope of a fall is taken.
SLOPE_STEPS = 5
# Falls within so many windows, without heat between, are of one cut.
ADJACENT = 6


@dataclass(frozen=True, slots=True)
class CutSpan:
    """Places on the grid: the last on plan, the last of the fall, and back where it was.

    `back` is the last place of the record where the kiln never came back.
    """

    start: int
    end: int
    back: int


def cut_spans(
    kiln_c: FloatArray, allowed_k: FloatArray, is_cut: np.ndarray, doubt_k: float
) -> list[CutSpan]:
    """Return each time without power once.

    Parameters
    ----------
    kiln_c : ndarray, shape (n,)
        The kiln on an even grid [°C].
    allowed_k : ndarray, shape (n - steps,)
        How far the plan falls from each place on within so many steps [K].
    is_cut : ndarray of bool, shape (n - steps,)
        Whether the kiln falls much more than that from there on.
    doubt_k : float
        How far the kiln may be off [K].

    References
    ----------
    Own rules, without a source.
    """
    steps = kiln_c.size - is_cut.size
    found: list[CutSpan] = []
    edges = np.flatnonzero(np.diff(np.concatenate(([0], is_cut.astype(int), [0]))))
    for first, after in zip(edges[::2], edges[1::2], strict=True):
        if found and first <= found[-1].end:
            continue
        start = _last_on_plan(kiln_c, allowed_k, int(first), steps, doubt_k)
        end = _last_falling(kiln_c, allowed_k, int(after), start, doubt_k)
        if found and (
            start <= found[-1].end + steps
            or _falls_on(kiln_c, found[-1], start, ADJACENT * steps, doubt_k)
        ):
            start = found.pop().start
        found.append(CutSpan(start, end, _back(kiln_c, start, end, doubt_k)))
    return found


def fallen_while_heating(kiln_c: FloatArray, least_k: float) -> np.ndarray:
    """Return where a kiln that should only heat is on its way down, however slowly.

    Parameters
    ----------
    kiln_c : ndarray, shape (n,)
        The kiln on its way up [°C].
    least_k : float
        How far it must fall under where it was [K].

    References
    ----------
    Own rules, without a source.
    """
    is_down = np.zeros(kiln_c.size, dtype=np.bool_)
    highest_c = np.maximum.accumulate(kiln_c)
    for place in np.flatnonzero(highest_c - kiln_c > least_k):
        top = int(np.flatnonzero(kiln_c[:place] >= highest_c[place] - LEFT_K)[-1])
        # The fall began within what is left to doubt.
        top = max(top - SLOPE_STEPS, 0)
        lowest = int(np.argmin(kiln_c[top : place + 1])) + top
        is_down[top : lowest + 1] = True
    return is_down


def fallen_and_risen(
    kiln_c: FloatArray, allowed_k: FloatArray, least_k: float, doubt_k: float
) -> np.ndarray:
    """Return where a kiln that should only cool went below its plan, as it rose later.

    Parameters
    ----------
    kiln_c, allowed_k, doubt_k
        As for `cut_spans`.
    least_k : float
        How far it must rise [K].

    References
    ----------
    Own rules, without a source.
    """
    steps = kiln_c.size - allowed_k.size
    is_down = np.zeros(allowed_k.size, dtype=np.bool_)
    fall_k = kiln_c[:-steps] - kiln_c[steps:]
    is_planned = fall_k <= allowed_k + max(LEFT_K, doubt_k)
    for lowest, top in _rises(kiln_c, least_k):
        # What only cools by plan was above this until it fell through it.
        above_c = kiln_c[top] - max(RISEN_K, doubt_k)
        above = np.flatnonzero(kiln_c[: lowest + 1] >= above_c)
        through = int(above[-1]) if above.size else 0
        before = np.flatnonzero(is_planned[: max(through - steps, 0)])
        first = int(before[-1]) + 1 if before.size else 0
        # A programme that began again rises above where the kiln was long before.
        unplanned = np.flatnonzero(~is_planned[first:lowest])
        # What is off long before is another matter, or noise.
        apart = np.flatnonzero(np.diff(unplanned) > steps)
        unplanned = unplanned[int(apart[-1]) + 1 if apart.size else 0 :]
        # If it fell by plan, or as good as that, nobody knows from when it was cut off.
        first = first + int(unplanned[0]) if unplanned.size else max(lowest - steps, 0)
        is_down[first:lowest] = True
    # As fast as it can is by plan, too.
    return is_down & np.isfinite(allowed_k)


def _rises(kiln_c: FloatArray, least_k: float) -> list[tuple[int, int]]:
    """Return each rise of at least so much: its lowest place and its highest."""
    found: list[tuple[int, int]] = []
    lowest = highest = 0
    for place in range(kiln_c.size):
        if kiln_c[place] > kiln_c[highest]:
            highest = place
        is_rise = kiln_c[highest] - kiln_c[lowest] > least_k
        is_over = kiln_c[highest] - kiln_c[place] > least_k
        if is_rise and (is_over or place == kiln_c.size - 1):
            found.append((lowest, highest))
        if kiln_c[place] < kiln_c[lowest] or (is_rise and is_over):
            lowest = highest = place
    return found


def _falls_on(
    kiln_c: FloatArray, last: CutSpan, start: int, most: int, doubt_k: float
) -> bool:
    """Return whether a kiln is not heated between two falls soon after each other."""
    between_c = kiln_c[last.end : start + 1]
    rises_k = between_c - np.minimum.accumulate(between_c)
    return between_c.size <= most and float(rises_k.max()) <= max(RISEN_K, doubt_k)


def _last_on_plan(
    kiln_c: FloatArray, allowed_k: FloatArray, first: int, steps: int, doubt_k: float
) -> int:
    """Return the last place before the fall: a window that holds the fall begins early."""
    window = kiln_c[first : first + steps + 1]
    allowed = float(allowed_k[first]) if np.isfinite(allowed_k[first]) else 0.0
    planned_k = allowed / steps * np.arange(window.size)
    if allowed_k[min(first + steps, allowed_k.size - 1)] < allowed / 2:
        # Fast at first, then slowly or not at all.
        planned_k[1:] = allowed
    # A kiln that still heats is on plan as far as it gets.
    asked_c = np.maximum.accumulate(window) - planned_k
    is_on = window >= asked_c - max(LEFT_K, doubt_k / 2)
    last = int(np.flatnonzero(is_on)[-1])
    # Within the doubt the fall has begun already: go back along it.
    ahead = min(last + SLOPE_STEPS, window.size - 1)
    falls_k = float(window[last] - window[ahead]) / max(ahead - last, 1)
    under_k = float(asked_c[last] - window[last])
    if falls_k > 0:
        last -= min(int(under_k / falls_k), last)
    return first + last


def _last_falling(
    kiln_c: FloatArray, allowed_k: FloatArray, after: int, start: int, doubt_k: float
) -> int:
    """Return where the kiln is heated again, or falls as planned; else the last place."""
    steps = kiln_c.size - allowed_k.size
    lowest, planned = start, None
    for place in range(start, kiln_c.size):
        if kiln_c[place] < kiln_c[lowest]:
            lowest = place
        rises = kiln_c[place] > kiln_c[lowest] + max(RISEN_K, doubt_k)
        if rises and (planned is None or kiln_c[place] > kiln_c[planned]):
            return lowest
        if planned is None and after <= place < allowed_k.size and allowed_k[place] > 0:
            fall_k = kiln_c[place] - kiln_c[place + steps]
            planned = place if fall_k <= allowed_k[place] + doubt_k else None
    return lowest if planned is None else planned


def _back(kiln_c: FloatArray, start: int, end: int, doubt_k: float) -> int:
    """Return where the kiln is back where it fell from, or has stopped to rise."""
    highest = end
    for place in range(end, kiln_c.size):
        if kiln_c[place] > kiln_c[highest]:
            highest = place
        if kiln_c[place] >= kiln_c[start] - LEFT_K:
            return place
        if kiln_c[place] < kiln_c[highest] - max(RISEN_K, doubt_k):
            return highest
    return kiln_c.size - 1
