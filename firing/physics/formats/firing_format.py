"""The file that describes one firing for the engine, and the results as a file.

The format is fixed: one JSON object, version 1. Only the translation of parsed JSON is
here, with the key named in each refusal; the command opens the files.
"""

import math
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from firing.physics.glass.families import NINETY, family
from firing.physics.glass.heat_capacity import HeatCapacity
from firing.physics.glass.properties import (
    Glass,
    Spectrum,
    normalised,
    reference_temperature_k,
)
from firing.physics.refusals import Cause
from firing.physics.schedule import PhysicsProblem
from firing.physics.slab.input import (
    COLDEST_C,
    HOTTEST_C,
    LONGEST_HISTORY_S,
    THICKEST_M,
    THINNEST_M,
    SlabFiring,
)
from firing.physics.slab.result import FiringResult
from firing.physics.slab.surroundings import BOUNDARIES, Bending, Boundary, Face

FORMAT = 1
MOST_POINTS = 2_000_000

FIRING_KEYS = frozenset(
    {
        "format",
        "glass",
        "thickness_m",
        "boundary",
        "bending",
        "start_c",
        "fictive_start_c",
        "kiln_temperature",
        "settle",
        "window_s",
        "relaxation",
    }
)
GLASS_NUMBERS = (
    "density_kg_m3",
    "youngs_modulus_pa",
    "poisson_ratio",
    "expansion_glass_per_k",
    "expansion_liquid_per_k",
    "activation_k",
    "nonlinearity_x",
    "bulk_plateau",
    "annealing_point_c",
    "stress_optic_brewster",
)
# An elastic slab needs none of these.
RELAXATION_NUMBERS = frozenset(
    {
        "expansion_liquid_per_k",
        "activation_k",
        "nonlinearity_x",
        "bulk_plateau",
        "annealing_point_c",
        "stress_optic_brewster",
    }
)
SPECTRA = ("shear_spectrum", "bulk_spectrum", "structural_spectrum")
GLASS_OPTIONAL = ("strain_point_c", "softening_point_c", "soak_c")
GLASS_KEYS = frozenset(
    {
        *GLASS_NUMBERS,
        *SPECTRA,
        *GLASS_OPTIONAL,
        "name",
        "conductivity_w_mk",
        "heat_capacity_j_kgk",
        "reference_temperature_k",
    }
)
FILM_KEYS = (
    "h_bottom_w_m2k",
    "h_top_w_m2k",
    "emissivity_bottom",
    "emissivity_top",
)


class FormatProblem(PhysicsProblem):
    """The file is not what the format says; the message starts with the key."""

    def __init__(self, key: str, message: str) -> None:
        super().__init__(Cause.FORMAT, key=key, message=message)
        self.key = key


def firing_from_mapping(given: object) -> SlabFiring:
    """Read one firing.

    Parameters
    ----------
    given : object
        Parsed JSON: `glass` (a family's name, or an object for `glass_from_mapping`),
        `thickness_m` [m], `boundary` ("both", "top", or films `h_bottom_w_m2k`,
        `h_top_w_m2k` [W/(m² K)], `emissivity_bottom`, `emissivity_top`), `bending`
        ("free" or "flat"), `start_c`, `fictive_start_c` [°C] or null,
        `kiln_temperature` as pairs [s, °C], `settle`, `window_s` [s, s] or null,
        `relaxation` (false for an elastic slab), `format` (1).

    Returns
    -------
    Firing
        Ready for `simulation.simulate`.

    Raises
    ------
    PhysicsProblem
        If a key is missing, unknown or holds what it may not; the message names it.

    References
    ----------
    The project's own format.
    """
    firing = _mapping(given, "the file")
    _known(firing, FIRING_KEYS)
    if firing.get("format", FORMAT) != FORMAT:
        raise FormatProblem("format", f"this program reads format {FORMAT} only.")
    is_relaxing = _flag(firing, "relaxation")
    points = _points(_needed(firing, "kiln_temperature"))
    return SlabFiring(
        glass=_glass(_needed(firing, "glass"), is_relaxing=is_relaxing),
        thickness_m=_number(
            _needed(firing, "thickness_m"), "thickness_m", THINNEST_M, THICKEST_M
        ),
        boundary=_boundary(_needed(firing, "boundary")),
        time_s=points[:, 0].copy(),
        kiln_c=points[:, 1].copy(),
        bending=_bending(firing.get("bending", "free")),
        start_c=_temperature(firing, "start_c"),
        fictive_start_c=_temperature(firing, "fictive_start_c"),
        settle=_flag(firing, "settle"),
        window_s=_window(firing.get("window_s"), points),
        is_relaxing=is_relaxing,
    )


def glass_from_mapping(given: object, *, is_relaxing: bool = True) -> Glass:
    """Read a glass with all its numbers.

    Parameters
    ----------
    given : object
        Parsed JSON with the attributes of `Glass`, `heat_capacity_j_kgk` in place of
        the heat capacity (a number, or {"below": [c0, c1, c2], "above": [c3, c4],
        "blend_k": [centre, half width]}); `strain_point_c`, `softening_point_c`,
        `soak_c`, `name` may be left out, and so may `reference_temperature_k`, which
        then follows from the annealing point.
    is_relaxing : bool
        False: an elastic slab, which needs no data of relaxation.

    Returns
    -------
    Glass
        With weights normalised.

    Raises
    ------
    PhysicsProblem
        If a key is missing, unknown, implausible or contradicts another.

    References
    ----------
    The project's own format.
    """
    glass = _mapping(given, "glass")
    _known(glass, GLASS_KEYS, "glass.")
    numbers = {
        key: _glass_number(glass, key, is_relaxing=is_relaxing) for key in GLASS_NUMBERS
    }
    if not is_relaxing and "expansion_liquid_per_k" not in glass:
        numbers["expansion_liquid_per_k"] = 3 * numbers["expansion_glass_per_k"]
    spectra = {
        key: _glass_spectrum(glass, key, is_relaxing=is_relaxing) for key in SPECTRA
    }
    points = {
        key: None if glass.get(key) is None else _any_number(glass[key], f"glass.{key}")
        for key in GLASS_OPTIONAL
    }
    return Glass(
        name=str(glass.get("name", "the given glass")),
        density_kg_m3=numbers["density_kg_m3"],
        youngs_modulus_pa=numbers["youngs_modulus_pa"],
        poisson_ratio=numbers["poisson_ratio"],
        expansion_glass_per_k=numbers["expansion_glass_per_k"],
        expansion_liquid_per_k=numbers["expansion_liquid_per_k"],
        conductivity_w_mk=_pair(
            _needed(glass, "conductivity_w_mk", "glass."), "glass.conductivity_w_mk"
        ),
        heat_capacity=_heat_capacity(_needed(glass, "heat_capacity_j_kgk", "glass.")),
        activation_k=numbers["activation_k"],
        nonlinearity_x=numbers["nonlinearity_x"],
        reference_temperature_k=_reference_k(
            glass, numbers, spectra, is_relaxing=is_relaxing
        ),
        shear_spectrum=spectra["shear_spectrum"],
        bulk_spectrum=spectra["bulk_spectrum"],
        bulk_plateau=numbers["bulk_plateau"],
        structural_spectrum=spectra["structural_spectrum"],
        annealing_point_c=numbers["annealing_point_c"],
        strain_point_c=points["strain_point_c"],
        softening_point_c=points["softening_point_c"],
        soak_c=points["soak_c"],
        stress_optic_brewster=numbers["stress_optic_brewster"],
        provenance=MappingProxyType(dict.fromkeys(GLASS_KEYS, "given by the user")),
    )


def result_as_mapping(result: FiringResult, *, seconds: float) -> dict[str, Any]:
    """Return the results in the format's words.

    Parameters
    ----------
    result : FiringResult
        From `simulate`.
    seconds : float
        How long the computation took [s]; the caller has the clock.

    Returns
    -------
    dict
        Stress in Pa (tension positive), temperatures in °C, differences in K.

    References
    ----------
    The project's own format.
    """
    return {
        "format": FORMAT,
        "residual_mid_pa": result.residual_mid_pa,
        "residual_top_pa": result.residual_top_pa,
        "residual_bottom_pa": result.residual_bottom_pa,
        "residual_max_tension_pa": result.residual_max_tension_pa,
        "peak_tension_heating_pa": result.heating.tension_pa,
        "peak_tension_cooling_pa": result.cooling.tension_pa,
        "peak_tension_window_pa": result.window.tension_pa,
        "max_temperature_difference_window_k": result.window_difference_k,
        "fictive_mean_c": result.fictive_mean_c,
        "fictive_spread_k": result.fictive_spread_k,
        "glass_end_c": {
            "bottom": result.end_bottom_c,
            "middle": result.end_middle_c,
            "top": result.end_top_c,
        },
        "retardation_nm_cm": result.retardation_nm_cm,
        "steps": result.diagnostics.steps,
        "seconds": seconds,
    }


def _glass(given: object, *, is_relaxing: bool) -> Glass:
    if isinstance(given, str):
        try:
            return family(given)
        except PhysicsProblem as problem:
            raise FormatProblem("glass", str(problem)) from problem
    if not isinstance(given, Mapping):
        raise FormatProblem("glass", "give a family's name or an object.")
    return glass_from_mapping(given, is_relaxing=is_relaxing)


def _glass_number(glass: Mapping[str, Any], key: str, *, is_relaxing: bool) -> float:
    if not is_relaxing and key in RELAXATION_NUMBERS and glass.get(key) is None:
        return float(getattr(NINETY, key))
    if key == "annealing_point_c" and glass.get(key) is None:
        raise FormatProblem(
            f"glass.{key}",
            "is missing. Take it from the maker's data sheet; it cannot be told from "
            "the expansion.",
        )
    return _any_number(_needed(glass, key, "glass."), f"glass.{key}")


def _glass_spectrum(
    glass: Mapping[str, Any], key: str, *, is_relaxing: bool
) -> Spectrum:
    if not is_relaxing and glass.get(key) is None:
        spectrum: Spectrum = getattr(NINETY, key)
        return spectrum
    name = f"glass.{key}"
    rows = _needed(glass, key, "glass.")
    if not isinstance(rows, Sequence) or isinstance(rows, str) or not rows:
        raise FormatProblem(name, "give a list of [weight, seconds].")
    pairs = tuple(_pair(row, f"{name}[{place}]") for place, row in enumerate(rows))
    for place, (weight, seconds) in enumerate(pairs):
        if weight < 0 or not seconds > 0:
            raise FormatProblem(
                f"{name}[{place}]", "a weight is zero or more, a time above zero."
            )
    total = sum(weight for weight, _ in pairs)
    if not 0.98 <= total <= 1.02:
        raise FormatProblem(name, f"the weights add up to {total:g}, not to 1.")
    return normalised(pairs)


def _reference_k(
    glass: Mapping[str, Any],
    numbers: Mapping[str, float],
    spectra: Mapping[str, Spectrum],
    *,
    is_relaxing: bool,
) -> float:
    given = glass.get("reference_temperature_k")
    if given is not None and (is_relaxing or "shear_spectrum" in glass):
        return _any_number(given, "glass.reference_temperature_k")
    for key in ("activation_k", "youngs_modulus_pa"):
        if not numbers[key] > 0:
            raise FormatProblem(f"glass.{key}", "must be above zero.")
    return reference_temperature_k(
        numbers["annealing_point_c"],
        numbers["activation_k"],
        numbers["youngs_modulus_pa"] / (2 * (1 + abs(numbers["poisson_ratio"]))),
        spectra["shear_spectrum"],
    )


def _heat_capacity(given: object) -> HeatCapacity:
    name = "glass.heat_capacity_j_kgk"
    if not isinstance(given, Mapping):
        return HeatCapacity.constant(_number(given, name, 200, 4000))
    _known(given, {"below", "above", "blend_k"}, f"{name}.")
    below = _numbers(_needed(given, "below", f"{name}."), f"{name}.below", 3)
    above = _numbers(_needed(given, "above", f"{name}."), f"{name}.above", 2)
    blend = _numbers(given.get("blend_k", [850, 15]), f"{name}.blend_k", 2)
    if not (300 <= blend[0] <= 2000 and 0 <= blend[1] <= 200):
        raise FormatProblem(
            f"{name}.blend_k", "the centre is 300 to 2000 K, the half width 0 to 200 K."
        )
    return HeatCapacity(
        below=(below[0], below[1], below[2]),
        above=(above[0], above[1]),
        blend_centre_k=blend[0],
        blend_half_width_k=blend[1],
    )


def _boundary(given: object) -> Boundary:
    if isinstance(given, str):
        if given in BOUNDARIES:
            return BOUNDARIES[given]
        raise FormatProblem("boundary", f"“{given}” is neither “both” nor “top”.")
    films = _mapping(given, "boundary")
    _known(films, frozenset(FILM_KEYS), "boundary.")
    limits = (1e5, 1e5, 1.0, 1.0)
    h_bottom, h_top, bottom, top = (
        _number(films.get(key, 0), f"boundary.{key}", 0, limit)
        for key, limit in zip(FILM_KEYS, limits, strict=True)
    )
    try:
        return Boundary(
            bottom=Face(film_w_m2k=h_bottom, emissivity=bottom),
            top=Face(film_w_m2k=h_top, emissivity=top),
        )
    except PhysicsProblem as problem:
        raise FormatProblem("boundary", str(problem)) from problem


def _bending(given: object) -> Bending:
    try:
        return Bending(str(given))
    except ValueError:
        raise FormatProblem("bending", "is “free” or “flat”.") from None


def _points(given: object) -> NDArray[np.float64]:
    key = "kiln_temperature"
    if not isinstance(given, Sequence) or isinstance(given, str) or not given:
        raise FormatProblem(key, "give at least one pair of seconds and °C.")
    if len(given) > MOST_POINTS:
        raise FormatProblem(key, f"has more than {MOST_POINTS} points; thin it out.")
    rows = [_pair(row, f"{key}[{place}]") for place, row in enumerate(given)]
    for place, (time_s, kiln_c) in enumerate(rows):
        if abs(time_s) > LONGEST_HISTORY_S:
            raise FormatProblem(
                f"{key}[{place}]", f"{time_s:g} s is beyond {LONGEST_HISTORY_S:g} s."
            )
        if not COLDEST_C <= kiln_c <= HOTTEST_C:
            raise FormatProblem(
                f"{key}[{place}]",
                f"{kiln_c:g} °C is outside {COLDEST_C:g} to {HOTTEST_C:g} °C.",
            )
        if place and time_s < rows[place - 1][0]:
            raise FormatProblem(
                f"{key}[{place}]",
                f"time goes backwards, from {rows[place - 1][0]:g} to {time_s:g} s.",
            )
    return np.array(rows, dtype=np.float64)


def _window(given: object, points: NDArray[np.float64]) -> tuple[float, float] | None:
    if given is None:
        return None
    start_s, end_s = _pair(given, "window_s")
    if not start_s <= end_s:
        raise FormatProblem("window_s", "it must end after it starts.")
    if start_s > points[-1, 0] or end_s < points[0, 0]:
        raise FormatProblem("window_s", "it lies outside the kiln's history.")
    return start_s, end_s


def _temperature(firing: Mapping[str, Any], key: str) -> float | None:
    given = firing.get(key)
    return None if given is None else _number(given, key, COLDEST_C, HOTTEST_C)


def _flag(firing: Mapping[str, Any], key: str) -> bool:
    given = firing.get(key, True)
    if not isinstance(given, bool):
        raise FormatProblem(key, "is true or false.")
    return given


def _mapping(given: object, key: str) -> Mapping[str, Any]:
    if not isinstance(given, Mapping):
        raise FormatProblem(key, "must hold an object, in curly brackets.")
    return given


def _needed(given: Mapping[str, Any], key: str, path: str = "") -> Any:
    if given.get(key) is None:
        raise FormatProblem(f"{path}{key}", "is missing.")
    return given[key]


def _known(
    given: Mapping[str, Any], keys: frozenset[str] | set[str], path: str = ""
) -> None:
    for key in given:
        if key not in keys:
            raise FormatProblem(
                f"{path}{key}",
                f"is not a key of this format ({', '.join(sorted(keys))}).",
            )


def _number(given: object, key: str, low: float, high: float) -> float:
    value = _any_number(given, key)
    if not low <= value <= high:
        raise FormatProblem(key, f"is {value:g}; it must lie from {low:g} to {high:g}.")
    return value


def _any_number(given: object, key: str) -> float:
    if isinstance(given, bool) or not isinstance(given, int | float):
        raise FormatProblem(key, f"must be a number, not {_shown(given)}.")
    try:
        value = float(given)
    except OverflowError:
        value = math.inf
    if not math.isfinite(value):
        raise FormatProblem(key, f"must be a finite number, not {value}.")
    return value


def _numbers(given: object, key: str, count: int) -> tuple[float, ...]:
    if not isinstance(given, Sequence) or isinstance(given, str) or len(given) != count:
        raise FormatProblem(key, f"must be a list of {count} numbers.")
    return tuple(
        _any_number(value, f"{key}[{place}]") for place, value in enumerate(given)
    )


def _pair(given: object, key: str) -> tuple[float, float]:
    first, second = _numbers(given, key, 2)
    return first, second


def _shown(given: object) -> str:
    return f"“{given}”" if isinstance(given, str) else type(given).__name__
