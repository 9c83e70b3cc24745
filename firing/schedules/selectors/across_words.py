"""What an uneven kiln does to a slab, in a maker's words."""

from typing import Any

from firing.schedules.selectors.verdict_numbers import MPA
from studio.units import format_temperature_difference
from studio.viewer import Viewer

# Of less than this nothing is said [Pa, s].
HARDLY_PA, HARDLY_S = 0.02e6, 60.0
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
    if abs(numbers["lead_s"]) > HARDLY_S:
        said.append(
            f"Its edge cools {viewer.duration(abs(numbers['lead_s']))} "
            f"{'ahead of' if numbers['lead_s'] > 0 else 'behind'} its middle: a slower "
            "first cooling helps against that part."
        )
    if numbers["dams_residual_pa"] > HARDLY_PA:
        said.append(
            "Not counted: heat that leaves by the rim, at most "
            f"{numbers['dams_residual_pa'] / MPA:.2f} MPa that stays in the middle and "
            f"{numbers['dams_cooling_pa'] / MPA:.1f} MPa along the rim while it cools. "
            "Insulate dams as well as the shelf."
        )
    return said


def _kiln(numbers: dict[str, Any], viewer: Viewer) -> str:
    low_k, high_k = numbers["edge_k"]
    adds = f"up to {numbers['residual_pa'] / MPA:.2f} MPa"
    if low_k != -high_k:
        return (
            f"Counted: as measured, the kiln is {_range(low_k, high_k, viewer)} at the "
            f"slab's edge than in its middle, which adds {adds}."
        )
    edge = (
        f"a kiln {_degrees(high_k, viewer)} hotter or colder at the slab's edge than in "
        "its middle"
    )
    if numbers["is_counted"]:
        return f"Counted: {edge}, {adds}. This kiln is not measured, and many are less even."
    return f"Not counted: {edge} would add {adds}. This kiln is not measured."


def _range(low_k: float, high_k: float, viewer: Viewer) -> str:
    if low_k >= 0:
        return f"{_degrees(low_k, viewer)} to {_degrees(high_k, viewer)} hotter"
    if high_k <= 0:
        return f"{_degrees(-high_k, viewer)} to {_degrees(-low_k, viewer)} colder"
    return f"{_degrees(-low_k, viewer)} colder to {_degrees(high_k, viewer)} hotter"


def _degrees(kelvin: float, viewer: Viewer) -> str:
    return format_temperature_difference(kelvin, viewer.temperature_unit, decimals=1)
