"""The page "How this was computed": equations, numbers, assumptions, sources.

Numbers are read from the engine itself, so the page cannot differ from it.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from firing.physics import limits
from firing.physics.designing import evening_out, programmes, request
from firing.physics.designing.annealing_table import ROWS
from firing.physics.designing.band import BETWEEN_CASES, DEFAULT_UNCERTAINTY
from firing.physics.glass.families import FAMILIES, QUOTED_ANNEALING_C
from firing.physics.glass.properties import Glass, Spectrum
from firing.physics.glass.viscosity import NINETY_JOINS_C
from firing.physics.kiln import curve
from firing.physics.slab.across import DAM_W_M2K
from firing.physics.slab.input import ROOM_K
from firing.physics.slab.surroundings import GLASS_EMISSIVITY, STILL_AIR_W_M2K

DERIVED = "derived, and verified numerically"
MEMORY = "quoted from memory"
OPENED = "a source that was opened"
ASSUMED = "assumed"
PRACTICE = "common practice, no source"

MARKS = (
    (OPENED, "Read for this project, often as an abstract or a page of data."),
    (MEMORY, "Well known to the trade or the science, but not looked up again."),
    (DERIVED, "Worked out here and checked against an independent solution."),
    (ASSUMED, "Chosen here, because nobody has measured it for your glass or kiln."),
    (PRACTICE, "How makers do it; no published source was found."),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Equation:
    """One step of the computation: in words, in symbols, and its source."""

    title: str
    words: str
    symbols: tuple[str, ...]
    source: str


EQUATIONS = (
    Equation(
        title="Heat through the thickness",
        words="Each slice of glass warms by what flows in less what flows out. How well "
        "glass conducts, and how much heat it holds, change with its temperature.",
        symbols=(
            "ρ cp(T) ∂T/∂t = ∂/∂z ( k(T) ∂T/∂z ),  0 < z < d",
            "k = a₀ + a₁ T[°C];  cp = b + c T + e/T² below, f + g T above the "
            "transition (T in K)",
        ),
        source=f"Fourier's law. Conductivity of soda-lime glass: {OPENED}; its heat "
        f"capacity: {OPENED} for all but the 1/T² term, which is {MEMORY}.",
    ),
    Equation(
        title="Heat through the faces",
        words="A face gains or loses heat by radiation and by the air beside it. "
        "Between dams on a shelf only the top does, and the bottom keeps its heat.",
        symbols=(
            "−k ∂T/∂n = h (Ts − Tkiln) + ε σ (Ts⁴ − Tkiln⁴)",
            f"ε = {GLASS_EMISSIVITY:g}, h = {STILL_AIR_W_M2K:g} W/(m² K); an insulated "
            "face: ∂T/∂z = 0",
        ),
        source=f"Stefan and Boltzmann's law; ε and h: {MEMORY}, {ASSUMED}. The band "
        "also holds faces that follow the kiln exactly.",
    ),
    Equation(
        title="How glass stiffens",
        words="Hot glass rearranges at once, cold glass never. In between it lags: it "
        "keeps the arrangement of an earlier, hotter moment, its fictive temperature.",
        symbols=(
            "φ = exp{ (H/R) [ 1/Tref − x/T − (1 − x)/Tf ] }",
            "dTf,i/dt = φ (T − Tf,i)/τi,  Tf = Σ Ci Tf,i,  Σ Ci = 1",
            "1/Tref = 1/Tan + ln( G Σ w t / 10¹² Pa s )/(H/R)",
        ),
        source="Tool, Narayanaswamy and Moynihan's model. Spectra: Carré & Daudeville "
        "1999, Nielsen et al. 2010, Aronen & Karvinen 2018, read from public code that "
        f"quotes their tables, also {MEMORY}. The shift to another annealing "
        f"point: {DERIVED}; annealing point at 10¹² Pa s: ASTM C336, ISO 7884-7, "
        f"{MEMORY}.",
    ),
    Equation(
        title="Stress",
        words="Every slice wants its own size. Being one slab, they must agree, and "
        "what each gives up is stress. Where glass is soft the stress fades; what "
        "is left when it is cold and even, stays for good.",
        symbols=(
            "dεth = αg dT + (αl − αg) dTf",
            "G(ξ) = G Σ wi exp(−ξ/ti),  K(ξ) = K [ k∞ + (1 − k∞) Σ vi exp(−ξ/ui) ],  "
            "ξ = ∫ φ dt",
            "σx = σy = σ(z), σz = 0;  ∫ σ dz = 0,  free to bend ∫ σ (z − d/2) dz = 0",
            "in cold glass: σ = E/(1 − ν) (ε₀ + κ (z − d/2) − εth)",
        ),
        source=f"Viscoelastic plate in one dimension, the exact reduction of the law in "
        f"three: {DERIVED}. That stress relaxes with the fictive temperature's shift "
        "too: the same sources as the spectra.",
    ),
    Equation(
        title="An uneven kiln",
        words="Where the kiln is hotter over the edge of the slab than over its middle, "
        "so is the glass, less what flows along it. Annealed like that and cold, it is "
        "stress, at whatever rate it cooled. The slab is taken as a disc as wide as its "
        "longest side, the kiln as a parabola from the middle, and what comes of it is "
        "added to the top of each band.",
        symbols=(
            "ρ cp ∂T/∂t = k (1/r) ∂/∂r ( r ∂T/∂r ) + U (Tkiln − T)/d,  T the mean "
            "through d",
            "1/U = 1/film + d/(3 k) for one face, each of two faces d/(6 k)",
            "in cold glass: along the rim E α (T̄ − Trim), in the middle E α (T̄ − Tmid)/2; "
            "a parabola of Δ: E α Δ/2 and E α Δ/4",
        ),
        source="A thin disc with temperature symmetrical about its centre: Timoshenko & "
        f"Goodier, Theory of Elasticity, {MEMORY}. Relaxation as above; what glass "
        f"remembers of its cooling adds about a third. Steps and rings: {DERIVED}.",
    ),
    Equation(
        title="A steady ramp, to check by hand",
        words="Thickness counts twice: a slab twice as thick must cool four times as "
        "slowly for the same tension.",
        symbols=(
            "cooled face +M α q d²/(12 κ), middle −M α q d²/(24 κ),  M = E/(1 − ν), "
            "κ = k/(ρ cp)",
            "difference through it: q d²/(8 κ) by both faces, q d²/(2 κ) by one",
        ),
        source=f"Without relaxation and with constant numbers: {DERIVED}.",
    ),
    Equation(
        title="What a polariscope shows",
        words="Light through the edge of the slab is delayed by the stress in it.",
        symbols=("retardation [nm/cm] = 10 C σ[MPa], C in 10⁻¹²/Pa",),
        source=f"Definition of the stress-optic coefficient C; its value: {MEMORY}.",
    ),
    Equation(
        title="The kiln",
        words="A kiln heats as its power allows and cools no faster than it leaks.",
        symbols=("C dT/dt = P u − UA (T − Ta),  0 ≤ u ≤ 1,  C = UA τ",),
        source="One heat capacity with one loss: common practice in engineering, no "
        "source. Power, holding share and cooling time are your kiln's own entries.",
    ),
    Equation(
        title="The fewest hours",
        words="The soak is the longest of three: the table's, until the slab is even "
        "through its thickness, and until it is even across. Then the cooling rates "
        "are raised until the top of a band meets a limit, the table's row is reached, "
        "or the kiln can do no more. Last, all is rounded to what the controller takes, "
        "always to the slower side, and computed again as rounded.",
        symbols=(
            f"even: {evening_out.EVEN_K:g} K left; across, from "
            f"{evening_out.UNEVEN_K:g} K",
        ),
        source=f"Search and rules: {ASSUMED}. Table: a fusing-glass maker's published "
        f"annealing table for thick slabs, rows {MEMORY}, partly confirmed on a trade "
        "page that was opened. Heating up, squeeze and hold: " + PRACTICE + ".",
    ),
)

NOT_COVERED = (
    "Edges nearer than the slab is thick, and corners. Heat through dams is told as a "
    "bound, and counts in no range.",
    "Sheets or enamels that expand differently: only glass of one family is fused here.",
    "Bubbles and inclusions, which make stress two to three times higher beside them.",
    "Uneven thickness: the thickest place is taken for all of it.",
    "Heat that shines through clear glass above about 550 °C; without it soaks come out "
    "rather too long. Colours and enamel layers change it.",
    "The shelf's own heat: it makes one face warmer than the other in a straight line, "
    "which leaves no stress in a slab that may bend, but keeps it hot for longer.",
    "Contact with dams and shelf, and glass that sticks to either.",
    "Scratches, chips and other flaws that decide at which tension glass breaks.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Value:
    """A number of a glass, as written, and its source."""

    name: str
    symbol: str
    value: str
    provenance: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyValues:
    """A generic family with all its numbers."""

    name: str
    values: tuple[Value, ...]


def families() -> tuple[FamilyValues, ...]:
    """Return every generic family with its numbers and their sources."""
    return tuple(
        FamilyValues(name=name, values=tuple(_values(glass)))
        for name, glass in FAMILIES.items()
    )


def _values(glass: Glass) -> Iterator[Value]:
    heat = glass.heat_capacity
    shown = (
        ("density_kg_m3", "Density", "ρ", f"{glass.density_kg_m3:g} kg/m³"),
        (
            "youngs_modulus_pa",
            "Young's modulus",
            "E",
            f"{glass.youngs_modulus_pa / 1e9:g} GPa",
        ),
        ("poisson_ratio", "Poisson's ratio", "ν", f"{glass.poisson_ratio:g}"),
        (
            "expansion_glass_per_k",
            "Expansion of the glass",
            "αg",
            f"{glass.expansion_glass_per_k * 1e6:g} × 10⁻⁶/K",
        ),
        (
            "expansion_liquid_per_k",
            "Expansion of the liquid",
            "αl",
            f"{glass.expansion_liquid_per_k * 1e6:g} × 10⁻⁶/K",
        ),
        (
            "conductivity_w_mk",
            "Conductivity",
            "k",
            f"{glass.conductivity_w_mk[0]:.3g} + {glass.conductivity_w_mk[1]:.3g} T[°C]"
            " W/(m K)",
        ),
        (
            "heat_capacity",
            "Heat capacity",
            "cp",
            f"{heat.below[0]:.4g} + {heat.below[1]:.3g} T − {-heat.below[2]:.3g}/T² "
            f"below, {heat.above[0]:.4g} + {heat.above[1]:.2g} T above, J/(kg K)",
        ),
        ("activation_k", "Activation", "H/R", f"{glass.activation_k:g} K"),
        ("nonlinearity_x", "Nonlinearity", "x", f"{glass.nonlinearity_x:g}"),
        (
            "reference_temperature_k",
            "Where the shift is one",
            "Tref",
            f"{glass.reference_temperature_k - 273.15:.1f} °C",
        ),
        (
            "annealing_point_c",
            "Annealing point",
            "Tan",
            f"{glass.annealing_point_c:g} °C",
        ),
        ("strain_point_c", "Strain point", "", _celsius(glass.strain_point_c)),
        ("softening_point_c", "Softening point", "", _celsius(glass.softening_point_c)),
        ("soak_c", "Usual anneal soak", "", _celsius(glass.soak_c)),
        (
            "stress_optic_brewster",
            "Stress-optic coefficient",
            "C",
            f"{glass.stress_optic_brewster:g} × 10⁻¹²/Pa",
        ),
        (
            "shear_spectrum",
            "Shear: weight / seconds",
            "w / t",
            _spectrum(glass.shear_spectrum),
        ),
        (
            "bulk_spectrum",
            "Bulk: weight / seconds",
            "v / u",
            _spectrum(glass.bulk_spectrum),
        ),
        ("bulk_plateau", "Bulk that stays", "k∞", f"{glass.bulk_plateau:g}"),
        (
            "structural_spectrum",
            "Structure: weight / seconds",
            "C / τ",
            _spectrum(glass.structural_spectrum),
        ),
    )
    for key, name, symbol, value in shown:
        yield Value(
            name=name,
            symbol=symbol,
            value=value,
            provenance=glass.provenance.get(key, "not given"),
        )


def _celsius(value: float | None) -> str:
    return "not given" if value is None else f"{value:g} °C"


def _spectrum(spectrum: Spectrum) -> str:
    return "; ".join(f"{weight:.4g} / {seconds:.4g}" for weight, seconds in spectrum)


def assumptions() -> tuple[tuple[str, str, str], ...]:
    """Return the assumptions: what, how much, and how sure."""
    sure = DEFAULT_UNCERTAINTY
    return (
        (
            "Limit of tension while hot",
            f"{limits.TEMPORARY_PA / 1e6:g} MPa unless you set it",
            f"{ASSUMED}: annealed glass is designed for about 7 MPa of lasting load "
            f"(EN 16612, {MEMORY}); bubbles, chips and enamel halve it or worse",
        ),
        (
            "Limit of tension that stays",
            f"{limits.RESIDUAL_PA / 1e6:g} MPa unless you set it, about 14 nm/cm",
            f"{ASSUMED}; above 20 nm/cm is called a coarse anneal, below 10 a fine one "
            f"(practice of ISO 10110-2, {OPENED})",
        ),
        (
            "Warning",
            f"{limits.WARNING_PA / 1e6:g} MPa unless you set it",
            f"handbook rule of 1000 psi, {MEMORY}",
        ),
        (
            "Annealing point may be off by",
            f"{sure.annealing_point_k:g} °C",
            ASSUMED,
        ),
        *(
            (
                f"Annealing point of {name} glass without its maker's own",
                f"{min(quoted) - sure.annealing_point_k:g} to "
                f"{max(quoted) + sure.annealing_point_k:g} °C, computed at "
                f"{FAMILIES[name].annealing_point_c:g} °C",
                f"{' and '.join(f'{one:g}' for one in quoted)} °C are quoted, {MEMORY}",
            )
            for name, quoted in QUOTED_ANNEALING_C.items()
        ),
        (
            "A kiln is uneven over a slab by",
            f"what you measured, give or take twice its error; else designs leave room "
            f"for {ROOM_K:g} °C either way, and verdicts tell what that would do",
            ASSUMED,
        ),
        (
            "Dams let through",
            f"nothing, or {DAM_W_M2K:g} W/(m² K) as fibre board does, for the bound",
            ASSUMED,
        ),
        (
            "Between the computed cases tension on the way may be higher by",
            f"{BETWEEN_CASES:.0%}",
            DERIVED,
        ),
        (
            "Conductivity may be off by",
            f"{sure.conductivity_share * 100:.0f} %",
            ASSUMED,
        ),
        ("Thermocouple may be off by", f"{sure.thermocouple_k:g} °C", ASSUMED),
        (
            "A loose stack is one slab from",
            f"{NINETY_JOINS_C:g} °C for 90-expansion glass, any other where it is as "
            "soft; before, each sheet carries its own stress, while heat passes through "
            "the whole stack",
            PRACTICE,
        ),
        (
            "The slab",
            "may bend freely; true of slabs thicker than about 20 mm and narrower than "
            "about 0.5 m",
            DERIVED,
        ),
        (
            "Opened at",
            f"the kiln's own opening temperature, {request.OPENING_C:g} °C "
            "unless entered",
            ASSUMED,
        ),
        (
            "Fuse, tack, slump without an entry of the glass",
            f"{programmes.FULL_FUSE_C:.0f}, {programmes.TACK_FUSE_C:.0f}, "
            f"{programmes.SLUMP_C:.0f} °C for 90-expansion glass, any other where it "
            "is as soft",
            PRACTICE,
        ),
        (
            "A kiln of which nothing is known falls at",
            f"{curve.UNKNOWN_KILN_C_PER_H:g} °C/h at most",
            ASSUMED,
        ),
    )


def table_rows() -> tuple[tuple[str, ...], ...]:
    """Return the published table's rows: mm, hours, three rates in °C/h."""
    return tuple(
        (
            f"{row.thickness_m * 1000:g}",
            f"{row.soak_s / 3600:g}",
            *(f"{rate:.3g}" for rate in row.rates_c_per_h),
        )
        for row in ROWS
    )
