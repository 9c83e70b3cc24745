"""The kiln's temperature under a programme, in the few points that a computation needs.

With a kiln's model it is how the kiln follows the programme. Without one it is what the
programme asks for, and "as fast as the kiln can" is an assumed rate.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from firing.physics.kiln.model import KilnModel, follow
from firing.physics.kiln.thinning import thin
from firing.physics.schedule import FloatArray, Programme, planned_curve

# An assumption, for kilns of which nothing is known: about the fastest that a kiln of
# brick falls from its fusing temperature.
UNKNOWN_KILN_C_PER_H = 200.0

STEP_S = 300.0
WITHIN_K = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class KilnCurve:
    """A programme as the kiln runs it.

    Attributes
    ----------
    time_s, temperature_c : ndarray, shape (n,)
        Seconds since the start and kiln temperature [°C], straight between points.
    segment_ends_s : tuple of float
        End of each segment, its hold included [s].
    """

    time_s: FloatArray
    temperature_c: FloatArray
    segment_ends_s: tuple[float, ...]

    @property
    def lasts_s(self) -> float:
        """How long it takes, down to the opening temperature [s]."""
        return float(self.time_s[-1])


def kiln_curve(
    schedule: Programme, kiln: KilnModel | None, *, until_c: float
) -> KilnCurve:
    """Return the kiln's temperature under a programme.

    Parameters
    ----------
    schedule : Programme
        The programme.
    kiln : KilnModel or None
        The kiln; None draws the programme as asked for, with 200 °C/h where it says as
        fast as the kiln can, and as the fastest rate of all.
    until_c : float
        Opening temperature [°C], to which a known kiln cools after the last segment.

    Raises
    ------
    PhysicsProblem
        If the kiln cannot do the programme, as `kiln_model.follow`.

    References
    ----------
    `model`; thinned to 0.3 K, which a film on the glass does not feel.
    """
    if kiln is None:
        return _as_asked(schedule)
    run = follow(schedule, kiln, until_c=until_c, step_s=STEP_S)
    # Ends of segments stay points: results are read there.
    ends = np.unique(np.searchsorted(run.time_s, run.segment_ends_s))
    pieces = [
        0,
        *(int(end) for end in ends if 0 < end < run.time_s.size),
        run.time_s.size - 1,
    ]
    times, temperatures = [run.time_s[:1]], [run.temperature_c[:1]]
    for first, last in pairwise(pieces):
        if last <= first:
            continue
        part = thin(
            run.time_s[first : last + 1],
            run.temperature_c[first : last + 1],
            within_k=WITHIN_K,
        )
        times.append(part.time_s[1:])
        temperatures.append(part.temperature_c[1:])
    return KilnCurve(
        time_s=np.concatenate(times),
        temperature_c=np.concatenate(temperatures),
        segment_ends_s=run.segment_ends_s,
    )


def _as_asked(schedule: Programme) -> KilnCurve:
    fastest = UNKNOWN_KILN_C_PER_H
    curve = planned_curve(schedule, fastest)
    ends, before_c, now_s = [], schedule.start_c, 0.0
    for segment in schedule.segments:
        rate = min(segment.rate_c_per_h or fastest, fastest)
        now_s += abs(segment.target_c - before_c) / rate * 3600 + segment.hold_s
        ends.append(now_s)
        before_c = segment.target_c
    return KilnCurve(
        time_s=curve.time_s,
        temperature_c=curve.temperature_c,
        segment_ends_s=tuple(ends),
    )
