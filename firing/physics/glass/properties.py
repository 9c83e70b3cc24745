"""What the model needs to know about a glass, and which data it refuses.

`glass_from_data_sheet` makes a studio's own glass; the generic families are in
`families`, and `firing_format` reads a whole set of numbers.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise
from types import MappingProxyType

from firing.physics.glass.heat_capacity import HeatCapacity
from firing.physics.refusals import (
    Cause,
    Quantity,
    Unit,
    celsius,
    kelvin,
    number,
    seconds,
)
from firing.physics.schedule import PhysicsProblem

KELVIN = 273.15
VISCOSITY_AT_ANNEALING_PA_S = 1e12

Spectrum = tuple[tuple[float, float], ...]


class GlassProblem(PhysicsProblem):
    """Data of a glass are missing, implausible, or contradict each other."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Glass:
    """One glass, as the model sees it.

    Attributes
    ----------
    name : str
        What the studio calls it.
    density_kg_m3 : float
        Density rho [kg/m³], 1800 to 6500.
    youngs_modulus_pa : float
        Young's modulus E [Pa], 30e9 to 120e9.
    poisson_ratio : float
        nu, 0.1 to 0.35.
    expansion_glass_per_k, expansion_liquid_per_k : float
        Linear expansion of the glass and of the equilibrium liquid [1/K].
    conductivity_w_mk : tuple of two floats
        a0 [W/(m K)], a1 [W/(m K²)]: k = a0 + a1 T[°C].
    heat_capacity : HeatCapacity
        cp(T).
    activation_k : float
        H/R of the shift [K].
    nonlinearity_x : float
        x of the shift, 0 to 1: how much of it the temperature has, the rest the
        fictive temperature.
    reference_temperature_k : float
        Where the shift is one [K].
    shear_spectrum, bulk_spectrum, structural_spectrum : tuple of (weight, seconds)
        Relaxation at the reference temperature; weights add up to one.
    bulk_plateau : float
        Share of the bulk modulus that never relaxes, above 0 to 1.
    annealing_point_c : float
        Where the viscosity is 1e12 Pa s [°C].
    strain_point_c, softening_point_c, soak_c : float or None
        Where it is 10^13.5 and 10^6.6 Pa s, and the usual anneal soak [°C].
    stress_optic_brewster : float
        C [1e-12/Pa].
    provenance : mapping of str to str
        Where each of these numbers comes from, in words.
    """

    name: str
    density_kg_m3: float
    youngs_modulus_pa: float
    poisson_ratio: float
    expansion_glass_per_k: float
    expansion_liquid_per_k: float
    conductivity_w_mk: tuple[float, float]
    heat_capacity: HeatCapacity
    activation_k: float
    nonlinearity_x: float
    reference_temperature_k: float
    shear_spectrum: Spectrum
    bulk_spectrum: Spectrum
    bulk_plateau: float
    structural_spectrum: Spectrum
    annealing_point_c: float
    strain_point_c: float | None
    softening_point_c: float | None
    soak_c: float | None
    stress_optic_brewster: float
    provenance: Mapping[str, str] = field(default_factory=dict, compare=False)

    def __post_init__(self) -> None:
        check_glass(self)

    @property
    def plane_modulus_pa(self) -> float:
        """M = E/(1 - nu), stress per equal strain in both directions [Pa]."""
        return self.youngs_modulus_pa / (1 - self.poisson_ratio)

    @property
    def shear_modulus_pa(self) -> float:
        """G = E/(2 (1 + nu)) [Pa]."""
        return self.youngs_modulus_pa / (2 * (1 + self.poisson_ratio))

    @property
    def bulk_modulus_pa(self) -> float:
        """K = E/(3 (1 - 2 nu)) [Pa]."""
        return self.youngs_modulus_pa / (3 * (1 - 2 * self.poisson_ratio))

    @property
    def coldest_fictive_c(self) -> float:
        """The fictive temperature of a well annealed cold piece [°C], an assumption.

        It lies 20 to 40 K below the annealing point and matters only until the piece
        is heated through.
        """
        return self.annealing_point_c - 30.0

    def conductivity_at(self, temperature_c: float) -> float:
        """Return k = a0 + a1 T [W/(m K)] at a temperature [°C].

        References
        ----------
        The glass's own provenance.
        """
        return self.conductivity_w_mk[0] + self.conductivity_w_mk[1] * temperature_c

    def diffusivity_m2_s(self, temperature_c: float) -> float:
        """Return kappa = k/(rho cp) [m²/s] at a temperature [°C].

        References
        ----------
        Definition.
        """
        heat = self.density_kg_m3 * self.heat_capacity.at(temperature_c + KELVIN)
        return self.conductivity_at(temperature_c) / heat


def soak_of(glass: Glass) -> float:
    """Return the anneal soak of a glass [°C]; it is never guessed.

    Parameters
    ----------
    glass : Glass
        The glass.

    Raises
    ------
    GlassProblem
        If its data have none.

    References
    ----------
    The glass's own provenance.
    """
    if glass.soak_c is None:
        raise GlassProblem(Cause.NO_SOAK, glass=glass.name)
    return glass.soak_c


def reference_temperature_k(
    annealing_point_c: float,
    activation_k: float,
    shear_modulus_pa: float,
    shear_spectrum: Spectrum,
) -> float:
    """Return where the spectrum holds so that the annealing point is where it is said.

    Parameters
    ----------
    annealing_point_c : float
        Where the viscosity is 1e12 Pa s [°C].
    activation_k : float
        H/R [K].
    shear_modulus_pa : float
        G [Pa].
    shear_spectrum : tuple of (weight, seconds)
        Shear relaxation at the reference temperature.

    Returns
    -------
    float
        T_ref [K], from 1/T_ref = 1/T_an + ln(G sum(w t)/1e12)/(H/R).

    Raises
    ------
    GlassProblem
        If the numbers put it nowhere.

    References
    ----------
    Derived: the equilibrium viscosity of the model is G sum(w t)/phi; the annealing
    point is where it is 1e12 Pa s (ASTM C336, ISO 7884-7; from memory).
    """
    viscosity = shear_modulus_pa * _mean_time_s(shear_spectrum)
    inverse = (
        1 / (annealing_point_c + KELVIN)
        + math.log(viscosity / VISCOSITY_AT_ANNEALING_PA_S) / activation_k
    )
    if not inverse > 0:
        raise GlassProblem(Cause.SPECTRUM_TOO_SLOW)
    return 1 / inverse


def implied_annealing_point_c(glass: Glass) -> float:
    """Return where the model's own equilibrium viscosity is 1e12 Pa s [°C].

    Parameters
    ----------
    glass : Glass
        The glass.

    References
    ----------
    The inverse of `reference_temperature_k`.
    """
    viscosity = glass.shear_modulus_pa * _mean_time_s(glass.shear_spectrum)
    inverse = (
        1 / glass.reference_temperature_k
        - math.log(viscosity / VISCOSITY_AT_ANNEALING_PA_S) / glass.activation_k
    )
    return 1 / inverse - KELVIN if inverse > 0 else math.inf


def normalised(spectrum: Spectrum) -> Spectrum:
    """Return the spectrum with weights that add up to one.

    Parameters
    ----------
    spectrum : tuple of (weight, seconds)
        As published: the known set adds up to 0.99988.

    References
    ----------
    Convention.
    """
    total = sum(weight for weight, _ in spectrum)
    return tuple((weight / total, time_s) for weight, time_s in spectrum)


def _mean_time_s(spectrum: Spectrum) -> float:
    return sum(weight * time_s for weight, time_s in spectrum)


def check_glass(glass: Glass) -> None:
    """Refuse a glass whose data are implausible or contradict each other.

    Parameters
    ----------
    glass : Glass
        The glass.

    Raises
    ------
    GlassProblem
        With the number and the reason.

    References
    ----------
    The ranges are wide: any silicate glass worked in a kiln lies inside (from memory).
    """
    for key, low, high, unit in _RANGES:
        _check_range(glass, key, getattr(glass, key), low, high, unit)
    for term, value in enumerate(glass.conductivity_w_mk):
        _check_range(glass, f"conductivity_w_mk[{term}]", value, -0.01, 20, Unit.ONE)
    for temperature_c in (0.0, 500.0, 1000.0):
        _check_range(
            glass,
            f"conductivity_w_mk (at {temperature_c:g} °C)",
            glass.conductivity_at(temperature_c),
            0.1,
            20,
            Unit.CONDUCTIVITY,
        )
        _check_range(
            glass,
            f"heat_capacity_j_kgk (at {temperature_c:g} °C)",
            glass.heat_capacity.at(temperature_c + KELVIN),
            200,
            4000,
            Unit.SPECIFIC_HEAT,
        )
    _check_spectra(glass)
    _check_order(glass)


_RANGES = (
    ("density_kg_m3", 1800.0, 6500.0, Unit.DENSITY),
    ("youngs_modulus_pa", 30e9, 120e9, Unit.PASCAL),
    ("poisson_ratio", 0.1, 0.35, Unit.ONE),
    ("expansion_glass_per_k", 1e-7, 2e-5, Unit.PER_KELVIN),
    ("expansion_liquid_per_k", 1e-7, 1e-4, Unit.PER_KELVIN),
    ("activation_k", 1e4, 2e5, Unit.KELVIN),
    ("nonlinearity_x", 0.0, 1.0, Unit.ONE),
    ("reference_temperature_k", 500.0, 1500.0, Unit.KELVIN),
    ("bulk_plateau", 1e-6, 1.0, Unit.ONE),
    ("annealing_point_c", 300.0, 1200.0, Unit.CELSIUS),
    ("stress_optic_brewster", 0.1, 10.0, Unit.BREWSTER),
)
# Between the annealing point that is stated and the one the spectrum implies; the
# set of the tempering literature is 16 K off the annealing point of float glass.
ANNEALING_CONTRADICTION_K = 120.0
SOAK_BELOW_K, SOAK_ABOVE_K = 100.0, 30.0


def _check_range(
    glass: Glass, key: str, value: float, low: float, high: float, unit: Unit
) -> None:
    if not low <= value <= high:  # Also refuses what is not a number.
        raise GlassProblem(
            Cause.GLASS_OUT_OF_RANGE,
            key=key,
            glass=glass.name,
            value=Quantity(value, unit),
            low=Quantity(low, unit),
            high=Quantity(high, unit),
        )


def _check_spectra(glass: Glass) -> None:
    for key in ("shear_spectrum", "bulk_spectrum", "structural_spectrum"):
        spectrum: Spectrum = getattr(glass, key)
        if not 1 <= len(spectrum) <= 20:
            raise GlassProblem(Cause.SPECTRUM_LENGTH, key=key, glass=glass.name)
        for weight, time_s in spectrum:
            if not (0 <= weight <= 1 and 1e-12 <= time_s <= 1e12):
                raise GlassProblem(
                    Cause.SPECTRUM_TERM,
                    key=key,
                    glass=glass.name,
                    weight=number(weight),
                    time=seconds(time_s),
                )
        if not math.isclose(sum(weight for weight, _ in spectrum), 1, rel_tol=1e-9):
            raise GlassProblem(Cause.SPECTRUM_SUM, key=key, glass=glass.name)


def _check_order(glass: Glass) -> None:
    if glass.expansion_liquid_per_k < glass.expansion_glass_per_k:
        raise GlassProblem(Cause.LIQUID_BELOW_GLASS, glass=glass.name)
    points = (
        ("strain_point_c", glass.strain_point_c),
        ("annealing_point_c", glass.annealing_point_c),
        ("softening_point_c", glass.softening_point_c),
    )
    known = [(key, value) for key, value in points if value is not None]
    for (cooler, low), (hotter, high) in pairwise(known):
        if not low < high:
            raise GlassProblem(
                Cause.POINTS_OUT_OF_ORDER,
                glass=glass.name,
                cooler=cooler,
                low=celsius(low),
                hotter=hotter,
                high=celsius(high),
            )
    if (
        glass.soak_c is not None
        and not -SOAK_BELOW_K
        <= (glass.soak_c - glass.annealing_point_c)
        <= SOAK_ABOVE_K
    ):
        raise GlassProblem(
            Cause.SOAK_FAR_OFF,
            glass=glass.name,
            soak=celsius(glass.soak_c),
            annealing_point=celsius(glass.annealing_point_c),
            below=kelvin(SOAK_BELOW_K),
            above=kelvin(SOAK_ABOVE_K),
        )
    implied_c = implied_annealing_point_c(glass)
    if not abs(implied_c - glass.annealing_point_c) <= ANNEALING_CONTRADICTION_K:
        raise GlassProblem(
            Cause.ANNEALING_CONTRADICTION,
            glass=glass.name,
            annealing_point=celsius(glass.annealing_point_c),
            implied=celsius(round(implied_c, 0)),
        )


def glass_from_data_sheet(
    like: Glass,
    *,
    name: str,
    annealing_point_c: float | None,
    soak_c: float,
    strain_point_c: float | None = None,
    softening_point_c: float | None = None,
    expansion_glass_per_k: float | None = None,
    density_kg_m3: float | None = None,
    youngs_modulus_pa: float | None = None,
    stress_optic_brewster: float | None = None,
) -> Glass:
    """Make a studio's own glass from a maker's data sheet and the nearest family.

    Annealing point and soak cannot be told from the expansion, so neither may be left
    out unsaid. What the sheet leaves out is the family's, and its provenance says so.

    Parameters
    ----------
    like : Glass
        The family whose spectra, conductivity and heat capacity serve.
    name : str
        What the studio calls it.
    annealing_point_c : float or None
        From the sheet [°C]; None says that it is not known, and takes the family's.
    soak_c, strain_point_c, softening_point_c : float
        From the sheet [°C].
    expansion_glass_per_k : float or None
        Mean expansion of 20-300 °C [1/K]; the liquid's keeps the family's ratio.
    density_kg_m3, youngs_modulus_pa, stress_optic_brewster : float or None
        From the sheet [kg/m³, Pa, 1e-12/Pa].

    Raises
    ------
    GlassProblem
        If the numbers are implausible or contradict each other.

    References
    ----------
    The data sheet; `reference_temperature_k` for the shift of the spectrum.
    """
    point_c = _or_else(annealing_point_c, like.annealing_point_c)
    if not 300 <= point_c <= 1200:
        raise GlassProblem(Cause.NO_KILN_GLASS, annealing_point=celsius(point_c))
    expansion = _or_else(expansion_glass_per_k, like.expansion_glass_per_k)
    ratio = like.expansion_liquid_per_k / like.expansion_glass_per_k
    modulus = _or_else(youngs_modulus_pa, like.youngs_modulus_pa)
    on_the_sheet = {
        "annealing_point_c": annealing_point_c,
        "soak_c": soak_c,
        "strain_point_c": strain_point_c,
        "softening_point_c": softening_point_c,
        "expansion_glass_per_k": expansion_glass_per_k,
        "density_kg_m3": density_kg_m3,
        "youngs_modulus_pa": youngs_modulus_pa,
        "stress_optic_brewster": stress_optic_brewster,
    }
    provenance = {
        key: f"as {like.name}: {said}" for key, said in like.provenance.items()
    }
    for key, value in on_the_sheet.items():
        if value is not None:
            provenance[key] = "the maker's data sheet"
    provenance["reference_temperature_k"] = (
        "derived: the viscosity at the annealing point is 1e12 Pa s"
    )
    return replace(
        like,
        name=name,
        annealing_point_c=point_c,
        soak_c=soak_c,
        strain_point_c=strain_point_c,
        softening_point_c=_or_moved(softening_point_c, like, point_c),
        expansion_glass_per_k=expansion,
        expansion_liquid_per_k=expansion * ratio,
        density_kg_m3=_or_else(density_kg_m3, like.density_kg_m3),
        youngs_modulus_pa=modulus,
        stress_optic_brewster=_or_else(
            stress_optic_brewster, like.stress_optic_brewster
        ),
        reference_temperature_k=reference_temperature_k(
            point_c,
            like.activation_k,
            modulus / (2 * (1 + like.poisson_ratio)),
            like.shear_spectrum,
        ),
        provenance=MappingProxyType(provenance),
    )


def _or_else(given: float | None, otherwise: float) -> float:
    return otherwise if given is None else given


def _or_moved(
    softening_point_c: float | None, like: Glass, annealing_point_c: float
) -> float | None:
    """Return the sheet's softening point, or the family's as far above annealing."""
    if softening_point_c is not None or like.softening_point_c is None:
        return softening_point_c
    return like.softening_point_c + annealing_point_c - like.annealing_point_c


def with_conductivity(glass: Glass, factor: float) -> Glass:
    """Return the same glass with that many times its conductivity.

    Parameters
    ----------
    glass : Glass
        The glass.
    factor : float
        At every temperature the same, above 0.

    References
    ----------
    None: a product.
    """
    a0, a1 = glass.conductivity_w_mk
    return replace(glass, conductivity_w_mk=(a0 * factor, a1 * factor))


def with_annealing_point(glass: Glass, annealing_point_c: float) -> Glass:
    """Return the same glass with another annealing point, spectrum shifted along.

    Parameters
    ----------
    glass : Glass
        The glass.
    annealing_point_c : float
        The other annealing point [°C]. Strain and softening point move with it, the
        soak does not: it is what one sets the controller to.

    Raises
    ------
    GlassProblem
        If the numbers then contradict each other.

    References
    ----------
    `reference_temperature_k`; moved from the point the spectrum implies, so that the
    same annealing point gives the same glass.
    """
    moved_k = annealing_point_c - glass.annealing_point_c
    stays = implied_annealing_point_c(glass)
    return replace(
        glass,
        annealing_point_c=annealing_point_c,
        strain_point_c=_moved(glass.strain_point_c, moved_k),
        softening_point_c=_moved(glass.softening_point_c, moved_k),
        reference_temperature_k=reference_temperature_k(
            stays + moved_k,
            glass.activation_k,
            glass.shear_modulus_pa,
            glass.shear_spectrum,
        ),
    )


def _moved(point_c: float | None, by_k: float) -> float | None:
    return None if point_c is None else point_c + by_k
