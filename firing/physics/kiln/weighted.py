"""The mean of measurements of different accuracy."""

from collections.abc import Sequence

import numpy as np


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
