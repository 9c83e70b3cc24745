"""What a studio measured of its kiln: whether it tells enough, and the mean of it."""

from collections.abc import Sequence

import numpy as np

from firing.physics.refusals import Cause, celsius, kelvin
from firing.physics.schedule import PhysicsProblem


def weighted_mean(
    values: Sequence[float], errors: Sequence[float]
) -> tuple[float, float]:
    """Return the mean of some measurements and one standard deviation of it.

    Parameters
    ----------
    values, errors : sequence of float, at least one
        Each measurement and its own standard deviation, above 0.

    Notes
    -----
    Weights 1/error²; the error is widened by the square root of chi²/(n - 1) where
    they differ by more than their errors say.

    References
    ----------
    Weighted mean, as in any textbook of data analysis (from memory).
    """
    found, weights = np.array(values), np.array(errors) ** -2.0
    mean = float(weights @ found / weights.sum())
    error = float(weights.sum() ** -0.5)
    if found.size > 1:
        chi_squared = float(weights @ (found - mean) ** 2) / (found.size - 1)
        error *= max(1.0, chi_squared**0.5)
    return mean, error


def check_measured(
    at_c: float, error_k: float, *, from_c: float, sure_k: tuple[float, float]
) -> None:
    """Refuse a measurement that tells too little, or is more sure than any.

    Parameters
    ----------
    at_c, error_k : float
        Where it was made [°C], and its standard deviation [K].
    from_c : float
        Colder ones tell too little [°C].
    sure_k : tuple of two floats
        The least and the most that it may be sure to [K].

    Raises
    ------
    PhysicsProblem
        If it is refused.

    References
    ----------
    The bounds are their modules' own.
    """
    if not at_c >= from_c:
        raise PhysicsProblem(
            Cause.COMPARED_TOO_COLD, shown=celsius(at_c), least=celsius(from_c)
        )
    least_k, most_k = sure_k
    if not least_k <= error_k <= most_k:
        raise PhysicsProblem(
            Cause.COMPARISON_ERROR,
            least=kelvin(least_k),
            most=kelvin(most_k),
            error=kelvin(error_k),
        )
