"""The generic families of glass, each number with its provenance in words.

Nothing here is measured by this project. A family's name ("90-expansion") says nothing
about its annealing point: glasses of one number are soaked anywhere from 482 to 525 °C.
"""

from collections.abc import Mapping
from types import MappingProxyType

from firing.physics.glass.heat_capacity import HeatCapacity
from firing.physics.glass.properties import (
    Glass,
    GlassProblem,
    normalised,
    reference_temperature_k,
)
from firing.physics.refusals import Cause, Given, per_kelvin

# How sure a number is, in the words that are shown.
READ = "read in an opened source"
MEMORY = "from memory, not looked up again"
DERIVED = "derived here and verified numerically"
ASSUMED = "assumed for this project"
NAMED = "the family's name"


# Carré & Daudeville 1999, Nielsen et al. 2010, Aronen & Karvinen 2018, at 869 K: read
# from public code that quotes their tables, and the same from memory.
SHEAR = normalised(
    (
        (0.05523, 6.658e-5),
        (0.08205, 1.197e-3),
        (0.1215, 1.514e-2),
        (0.2286, 1.672e-1),
        (0.2860, 7.497e-1),
        (0.2265, 3.292),
    )
)
BULK = normalised(
    (
        (0.0222, 5.009e-5),
        (0.0224, 9.945e-4),
        (0.0286, 2.022e-3),
        (0.2137, 1.925e-2),
        (0.3940, 1.199e-1),
        (0.3191, 2.033),
    )
)
BULK_PLATEAU = 0.18
# One public code prints the fourth time as 0.1505, which its neighbours contradict.
STRUCTURAL = normalised(
    (
        (0.05523, 5.965e-4),
        (0.08205, 1.077e-2),
        (0.1215, 1.362e-1),
        (0.2286, 1.505),
        (0.2860, 6.747),
        (0.2265, 29.63),
    )
)
SPECTRUM_SOURCE = (
    "Carré & Daudeville 1999, Nielsen et al. 2010, Aronen & Karvinen 2018: read from "
    "public code that quotes their tables, and the same from memory; weights normalised"
)

SODA_LIME_CONDUCTIVITY = (0.975, 8.58e-4)
SODA_LIME_HEAT = HeatCapacity(below=(893.0, 0.4, -1.8e7), above=(1433.0, 6.5e-3))
HEAT_SOURCE = (
    f"{READ} for all but the 1/T² term, which is {MEMORY} and needed: without it "
    "the value at 300 K would be 1013 J/(kg K)"
)

_COMMON_PROVENANCE = {
    "conductivity_w_mk": f"soda-lime glass, {READ}",
    "heat_capacity": f"soda-lime glass, {HEAT_SOURCE}",
    "nonlinearity_x": ASSUMED,
    "shear_spectrum": SPECTRUM_SOURCE,
    "bulk_spectrum": SPECTRUM_SOURCE,
    "bulk_plateau": SPECTRUM_SOURCE,
    "structural_spectrum": SPECTRUM_SOURCE,
    "reference_temperature_k": (
        f"{DERIVED}: the spectrum is shifted so that the viscosity at the annealing "
        "point is 1e12 Pa s"
    ),
}


def _family(
    *,
    name: str,
    points_c: tuple[float, float | None, float | None, float | None],
    provenance: Mapping[str, str],
    density_kg_m3: float = 2500.0,
    youngs_modulus_pa: float = 70e9,
    poisson_ratio: float = 0.22,
    expansions_per_k: tuple[float, float],
    activation_k: float = 7.0e4,
    conductivity_w_mk: tuple[float, float] = SODA_LIME_CONDUCTIVITY,
    heat_capacity: HeatCapacity = SODA_LIME_HEAT,
    stress_optic_brewster: float = 2.7,
    reference_k: float | None = None,
) -> Glass:
    """Make a family; `points_c` are annealing, strain, softening point and soak."""
    annealing_point_c, strain_point_c, softening_point_c, soak_c = points_c
    if reference_k is None:
        shear_modulus_pa = youngs_modulus_pa / (2 * (1 + poisson_ratio))
        reference_k = reference_temperature_k(
            annealing_point_c, activation_k, shear_modulus_pa, SHEAR
        )
    return Glass(
        name=name,
        density_kg_m3=density_kg_m3,
        youngs_modulus_pa=youngs_modulus_pa,
        poisson_ratio=poisson_ratio,
        expansion_glass_per_k=expansions_per_k[0],
        expansion_liquid_per_k=expansions_per_k[1],
        conductivity_w_mk=conductivity_w_mk,
        heat_capacity=heat_capacity,
        activation_k=activation_k,
        nonlinearity_x=0.5,
        reference_temperature_k=reference_k,
        shear_spectrum=SHEAR,
        bulk_spectrum=BULK,
        bulk_plateau=BULK_PLATEAU,
        structural_spectrum=STRUCTURAL,
        annealing_point_c=annealing_point_c,
        strain_point_c=strain_point_c,
        softening_point_c=softening_point_c,
        soak_c=soak_c,
        stress_optic_brewster=stress_optic_brewster,
        provenance=MappingProxyType({**_COMMON_PROVENANCE, **provenance}),
    )


FLOAT = _family(
    name="float",
    points_c=(546.0, 511.0, 726.0, 544.0),
    expansions_per_k=(9.0e-6, 27e-6),
    stress_optic_brewster=2.65,
    provenance={
        "density_kg_m3": MEMORY,
        "youngs_modulus_pa": f"EN 572, {MEMORY}",
        "poisson_ratio": f"0.22 (EN 572 says 0.2), {MEMORY}",
        "expansion_glass_per_k": f"mean of 20-300 °C, {MEMORY}",
        "expansion_liquid_per_k": f"{ASSUMED}: three times that of the glass",
        "activation_k": ASSUMED,
        "nonlinearity_x": READ,
        "annealing_point_c": f"{MEMORY}; a fitted viscosity gives a little below 552",
        "strain_point_c": MEMORY,
        "softening_point_c": f"{MEMORY}; a fitted viscosity gives 722",
        "soak_c": f"{READ}: 540 to 548, the middle taken",
        "stress_optic_brewster": f"2.6 to 2.7, {MEMORY}",
    },
)

FLOAT_TEMPERING = _family(
    name="float-tempering",
    points_c=(562.0, None, None, None),
    density_kg_m3=2530.0,
    expansions_per_k=(9.0e-6, 32e-6),
    activation_k=7.62e4,
    reference_k=869.0,
    provenance={
        "density_kg_m3": f"tempering literature, {READ}",
        "youngs_modulus_pa": f"tempering literature, {READ}",
        "poisson_ratio": f"tempering literature, {READ}",
        "expansion_glass_per_k": f"tempering literature, {READ} (9.1e-6 also used)",
        "expansion_liquid_per_k": f"tempering literature, {READ} (25.1e-6 also used)",
        "activation_k": f"tempering literature, {READ} (5.5e4 also used)",
        "nonlinearity_x": READ,
        "reference_temperature_k": SPECTRUM_SOURCE,
        "annealing_point_c": f"{DERIVED}: implied by spectrum and activation",
        "stress_optic_brewster": f"tempering literature, {MEMORY}",
    },
)

NINETY = _family(
    name="90-expansion",
    points_c=(516.0, 486.0, 677.0, 482.0),
    expansions_per_k=(9.0e-6, 27e-6),
    provenance={
        "density_kg_m3": ASSUMED,
        "youngs_modulus_pa": ASSUMED,
        "poisson_ratio": ASSUMED,
        "expansion_glass_per_k": f"{NAMED}, a nominal mean",
        "expansion_liquid_per_k": f"{ASSUMED}: three times that of the glass",
        "activation_k": ASSUMED,
        "annealing_point_c": f"516 and 532 are quoted, {MEMORY}; {ASSUMED}: 516",
        "strain_point_c": f"implied by the spectrum; makers quote 493, {MEMORY}",
        "softening_point_c": MEMORY,
        "soak_c": f"for thick work, {READ} (a trade page; 516 in older tables)",
        "stress_optic_brewster": ASSUMED,
    },
)

NINETY_SIX = _family(
    name="96-expansion",
    points_c=(510.0, 476.0, 680.0, 482.0),
    density_kg_m3=2480.0,
    expansions_per_k=(9.6e-6, 28.8e-6),
    provenance={
        "density_kg_m3": ASSUMED,
        "youngs_modulus_pa": ASSUMED,
        "poisson_ratio": ASSUMED,
        "expansion_glass_per_k": f"{NAMED}, a nominal mean",
        "expansion_liquid_per_k": f"{ASSUMED}: three times that of the glass",
        "activation_k": ASSUMED,
        "annealing_point_c": MEMORY,
        "strain_point_c": MEMORY,
        "softening_point_c": MEMORY,
        "soak_c": f"for thick work, {READ} (a trade page; 510 to 515 is also printed): "
        "28 below the annealing point, as the 90 family's is 34 below its own, common "
        "practice, no source",
        "stress_optic_brewster": ASSUMED,
    },
)

BOROSILICATE = _family(
    name="borosilicate-3.3",
    points_c=(560.0, 517.0, 825.0, 562.0),
    density_kg_m3=2230.0,
    youngs_modulus_pa=63.5e9,
    poisson_ratio=0.20,
    expansions_per_k=(3.3e-6, 9.9e-6),
    activation_k=5.1e4,
    conductivity_w_mk=(1.2 - 90 * 8.58e-4, 8.58e-4),
    heat_capacity=HeatCapacity(
        below=(893.0 * 1.021, 0.4 * 1.021, -1.8e7 * 1.021),
        above=(1433.0 * 1.021, 6.5e-3 * 1.021),
    ),
    stress_optic_brewster=4.0,
    provenance={
        "density_kg_m3": READ,
        "youngs_modulus_pa": f"63 to 64 GPa, {READ}",
        "poisson_ratio": READ,
        "expansion_glass_per_k": READ,
        "expansion_liquid_per_k": f"{ASSUMED}: three times that of the glass",
        "conductivity_w_mk": f"1.2 at 90 °C {READ}; its rise is that of soda-lime glass, {ASSUMED}",
        "heat_capacity": f"830 J/(kg K) near room temperature, {MEMORY}; its course is that of soda-lime glass, {ASSUMED}",
        "activation_k": f"{DERIVED} from a fitted viscosity",
        "annealing_point_c": READ,
        "strain_point_c": f"515 to 518, {MEMORY}; a fitted viscosity gives 517",
        "softening_point_c": READ,
        "soak_c": f"560 to 565, {MEMORY}",
        "stress_optic_brewster": READ,
    },
)

FAMILIES: Mapping[str, Glass] = MappingProxyType(
    {
        family.name: family
        for family in (FLOAT, NINETY, NINETY_SIX, BOROSILICATE, FLOAT_TEMPERING)
    }
)


# Annealing points of one family that the trade quotes side by side [°C], from memory.
QUOTED_ANNEALING_C: Mapping[str, tuple[float, ...]] = MappingProxyType(
    {NINETY.name: (516.0, 532.0)}
)


def quoted_above_k(name: str) -> float:
    """Return how far above a family's annealing point another is quoted [K].

    Parameters
    ----------
    name : str
        One of `FAMILIES`.

    References
    ----------
    `QUOTED_ANNEALING_C`.
    """
    own_c = family(name).annealing_point_c
    return max(QUOTED_ANNEALING_C.get(name, (own_c,))) - own_c


def family(name: str) -> Glass:
    """Return a generic family by its name.

    Parameters
    ----------
    name : str
        One of `FAMILIES`.

    Raises
    ------
    GlassProblem
        If there is none of that name; the message lists them.

    References
    ----------
    Each family's own provenance.
    """
    try:
        return FAMILIES[name]
    except KeyError:
        raise GlassProblem(
            Cause.NO_FAMILY, name=name, families=", ".join(FAMILIES)
        ) from None


# A sheet's expansion belongs to another family when that is nearer by more than this
# [1/K], an assumption of this project: sheets of one family differ by one or two.
NEARER_PER_K = 3e-7
FAR_PER_K = 1e-6


def refuse_other_family(name: str, expansion_per_k: float) -> None:
    """Refuse an expansion that contradicts the family a glass is said to be of.

    Parameters
    ----------
    name : str
        The family.
    expansion_per_k : float
        Mean expansion of 20-300 °C on the data sheet [1/K].

    Raises
    ------
    GlassProblem
        If it is far from the family's own, or nearer to another family's.

    References
    ----------
    None: an assumption of this project, see `NEARER_PER_K`.
    """
    own = family(name)
    off = abs(expansion_per_k - own.expansion_glass_per_k)
    others = [
        other
        for other in (FLOAT, NINETY, NINETY_SIX, BOROSILICATE)
        if off - abs(expansion_per_k - other.expansion_glass_per_k) > NEARER_PER_K
    ]
    if not others and off <= FAR_PER_K:
        return
    told: dict[str, Given] = {
        "expansion": per_kelvin(expansion_per_k),
        "family": name,
        "own": per_kelvin(own.expansion_glass_per_k),
    }
    if others:
        raise GlassProblem(Cause.NEARER_FAMILY, nearest=others[0].name, **told)
    raise GlassProblem(Cause.OTHER_FAMILY, **told)
