"""What an uneven kiln does to a slab, in a maker's words."""

from typing import Any

from firing.schedules.selectors.verdict_numbers import MPA
from studio.units import format_temperature_difference
from studio.viewer import Viewer

# Less than this nobody sees, and nothing is said of it [Pa].
HARDLY_PA = 0.02e6
NOT_COUNTED = (
    "An uneven kiln is not counted: it takes the slab's longest side to tell what one "
    "does."
)


def across_words(
    numbers: dict[str, Any] | None, viewer: Viewer, *, widest_mm: float | None = None
) -> list[str]:
    """Say what the kiln's unevenness adds, whether it is counted, and what helps.

    `numbers` are those of `across_numbers`; `widest_mm` is how long a slab may be where
    this one is too wide for its kiln.
    """
    if numbers is None:
        return [NOT_COUNTED]
    said = [_kiln(numbers, viewer)]
    if widest_mm is not None:
        said.append(
            "No schedule makes up for that. Make the kiln more even"
            + (
                f", or the slab at most {viewer.length(widest_mm)} long."
                if widest_mm
                else "."
            )
        )
    if numbers["dams_residual_pa"] > HARDLY_PA:
        said.append(
            "Heat that leaves by the rim may add up to "
            f"{numbers['dams_residual_pa'] / MPA:.2f} MPa that stays in the middle, and "
            f"{numbers['dams_cooling_pa'] / MPA:.1f} MPa along the rim while it cools. "
            "Neither is counted: insulate the dams as well as the shelf."
        )
    return said


def _kiln(numbers: dict[str, Any], viewer: Viewer) -> str:
    low_k, high_k = numbers["edge_k"]
    adds = f"{numbers['residual_pa'] / MPA:.2f} MPa"
    length = viewer.length(numbers["longest_mm"])
    if low_k == -high_k:
        edge = f"{_degrees(high_k, viewer)} hotter or colder"
        if numbers["is_counted"]:
            return (
                f"There is room for a kiln that is {edge} at the edge of these {length} "
                f"than in the middle: that adds up to {adds}. Nobody has measured this "
                "kiln, and many are less even."
            )
        return (
            f"Not counted: a kiln {edge} at the edge of these {length} than in the "
            f"middle adds up to {adds}. Nobody has measured this kiln."
        )
    return (
        f"As measured, the kiln is {_range(low_k, high_k, viewer)} at the edge of these "
        f"{length} than in the middle. That adds up to {adds}, which is counted."
    )


def _range(low_k: float, high_k: float, viewer: Viewer) -> str:
    if low_k >= 0:
        return f"{_degrees(low_k, viewer)} to {_degrees(high_k, viewer)} hotter"
    if high_k <= 0:
        return f"{_degrees(-high_k, viewer)} to {_degrees(-low_k, viewer)} colder"
    return f"{_degrees(-low_k, viewer)} colder to {_degrees(high_k, viewer)} hotter"


def _degrees(kelvin: float, viewer: Viewer) -> str:
    return format_temperature_difference(kelvin, viewer.temperature_unit, decimals=1)
