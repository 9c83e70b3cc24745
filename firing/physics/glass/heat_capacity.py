"""How much heat a kilogram of glass takes, as a function of temperature.

The formula has one branch below the transition, one above it, and a straight blend
between them. `families` has each glass's numbers.
"""

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatCapacity:
    """Specific heat of a glass with T in kelvin.

    Below the blend cp = c0 + c1 T + c2/T²; above it cp = c3 + c4 T; inside it the
    second takes over from the first along a straight line.

    Attributes
    ----------
    below : tuple of three floats
        c0 [J/(kg K)], c1 [J/(kg K²)], c2 [J K/kg].
    above : tuple of two floats
        c3 [J/(kg K)], c4 [J/(kg K²)].
    blend_centre_k, blend_half_width_k : float
        Where the blend lies [K].
    """

    below: tuple[float, float, float]
    above: tuple[float, float]
    blend_centre_k: float = 850.0
    blend_half_width_k: float = 15.0

    @classmethod
    def constant(cls, value_j_kgk: float) -> "HeatCapacity":
        """Return the same specific heat at every temperature [J/(kg K)]."""
        return cls(below=(value_j_kgk, 0.0, 0.0), above=(value_j_kgk, 0.0))

    def at(self, temperature_k: float) -> float:
        """Return the specific heat [J/(kg K)] at a temperature [K].

        Parameters
        ----------
        temperature_k : float
            Temperature, above 0 [K].

        References
        ----------
        The formula is this class's own docstring; `glass` names where numbers come
        from.
        """
        c0, c1, c2 = self.below
        c3, c4 = self.above
        low = c0 + c1 * temperature_k + c2 / temperature_k**2
        high = c3 + c4 * temperature_k
        share = self._share_above(temperature_k)
        return low + share * (high - low)

    def numbers(self) -> tuple[float, ...]:
        """Return what the compiled kernel needs to know about the specific heat.

        Returns
        -------
        tuple of 9 floats
            c0, c1, c2, c3, c4, lower and upper end of the blend [K], and the two
            constants [J/kg] that make the heat content continuous at those ends.

        Notes
        -----
        Heat content h(T) is the integral of cp: c0 T + c1 T²/2 - c2/T below the
        blend; in it the integral of the straight share times the difference of the
        branches is added, less its value at the lower end; above it
        c3 T + c4 T²/2 plus a constant.

        References
        ----------
        Elementary integration.
        """
        c0, c1, c2 = self.below
        c3, c4 = self.above
        low_k = self.blend_centre_k - self.blend_half_width_k
        high_k = self.blend_centre_k + self.blend_half_width_k
        at_low = at_high = 0.0
        if self.blend_half_width_k > 0:
            at_low = self._blended(low_k)
            at_high = self._blended(high_k) - at_low
        below = c0 * high_k + c1 * high_k**2 / 2 - c2 / high_k + at_high
        above = c3 * high_k + c4 * high_k**2 / 2
        return (c0, c1, c2, c3, c4, low_k, high_k, at_low, below - above)

    def _share_above(self, temperature_k: float) -> float:
        if self.blend_half_width_k == 0:
            return 1.0 if temperature_k > self.blend_centre_k else 0.0
        into = temperature_k - self.blend_centre_k + self.blend_half_width_k
        return min(max(into / (2 * self.blend_half_width_k), 0.0), 1.0)

    def _blended(self, t: float) -> float:
        """Integrate share times (above - below), up to a constant [J/kg]."""
        c0, c1, c2 = self.below
        c3, c4 = self.above
        low_k = self.blend_centre_k - self.blend_half_width_k
        constant, slope = c3 - c0, c4 - c1
        return (
            constant * (t**2 / 2 - low_k * t)
            + slope * (t**3 / 3 - low_k * t**2 / 2)
            - c2 * (math.log(t) + low_k / t)
        ) / (2 * self.blend_half_width_k)
