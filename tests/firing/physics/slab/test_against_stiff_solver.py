"""The engine against a second, general-purpose solution of the same equations.

`stiff_solver` is written from the equations and shares no code with the engine. Both
must agree to 0.2 % of the largest stress of each case.
"""

from dataclasses import replace

import numpy as np
import pytest

from firing.physics.glass.families import BOROSILICATE, FLOAT, FLOAT_TEMPERING
from firing.physics.kiln.opening import taken_out
from firing.physics.slab.simulation import simulate
from firing.physics.slab.surroundings import (
    BOTH_FACES,
    BOTH_FACES_FILM,
    TOP_ONLY,
    TOP_ONLY_FILM,
    Bending,
    Boundary,
    Face,
)
from tests.firing.physics.compiled_rival import CompiledSlab
from tests.firing.physics.slabs import (
    HOUR_S,
    films,
    firing,
    history,
    row_of,
    table_firing,
)
from tests.firing.physics.stiff_solver import StiffSlab


def power_cut():
    """Lose the power for three hours in the first cooling, and soak again."""
    time_s, kiln_c = history(
        (200.0, 482.0, 4 * HOUR_S),
        (15.0, 460.0, 0),
        (40.0, 340.0, 0),  # three hours without power, the kiln cooling by itself
        (60.0, 482.0, 2 * HOUR_S),
        (15.0, 427.0, 0),
        (27.0, 371.0, 0),
        (90.0, 21.0, 0),
        start_c=700.0,
    )
    return firing(
        time_s,
        kiln_c,
        thickness_m=0.025,
        boundary=TOP_ONLY_FILM,
        window_s=(float(time_s[3]), float(time_s[4])),
    )


def heating():
    time_s, kiln_c = history((60.0, 600.0, 1800), (120.0, 300.0, 0), start_c=20.0)
    return firing(time_s, kiln_c, thickness_m=0.03, glass=FLOAT)


def two_films():
    time_s, kiln_c = history((100.0, 560.0, 3 * HOUR_S), (30.0, 40.0, 0), start_c=650.0)
    boundary = Boundary(
        bottom=Face(film_w_m2k=15.0, emissivity=0.3),
        top=Face(film_w_m2k=5.0, emissivity=0.9),
    )
    return firing(
        time_s, kiln_c, thickness_m=0.04, glass=BOROSILICATE, boundary=boundary
    )


def taken_out_of_the_kiln():
    """Cool a cold, thick slab by its top and take it out into the room."""
    in_kiln = firing(
        [0.0, 4 * HOUR_S],
        [90.0, 45.0],
        thickness_m=0.06,
        boundary=TOP_ONLY_FILM,
        is_relaxing=False,
    )
    out = taken_out(in_kiln)
    return replace(out, window_s=(out.opened_s, float(out.time_s[-1])))


CASES = {
    "published row, 25 mm, both faces": lambda: table_firing(25),
    "published row, 50 mm, top only": lambda: table_firing(50, boundary=TOP_ONLY),
    "published row, 25 mm, top only, flat": lambda: table_firing(
        25, boundary=TOP_ONLY, bending=Bending.FLAT
    ),
    "next row, 27 mm, films": lambda: table_firing(
        27, row=row_of(38), boundary=BOTH_FACES_FILM
    ),
    "power cut": power_cut,
    "tempering": lambda: firing(
        [0, 600],
        [20, 20],
        thickness_m=0.0061,
        glass=FLOAT_TEMPERING,
        boundary=films(222),
        start_c=660,
    ),
    "heating through a cold slab": heating,
    "two films, another glass": two_films,
    "taken out of the kiln": taken_out_of_the_kiln,
}


# From fourteen to sixty seconds of a core each. The short form keeps the power cut, the
# heating and the tempering.
LONG = {
    "next row, 27 mm, films",
    "published row, 25 mm, both faces",
    "published row, 25 mm, top only, flat",
    "published row, 50 mm, top only",
    "two films, another glass",
}


@pytest.mark.slow
@pytest.mark.parametrize(
    "case",
    [pytest.param(c, marks=[pytest.mark.long] if c in LONG else []) for c in CASES],
)
def test_two_solutions_agree(case):
    slab = CASES[case]()
    ours = simulate(slab)
    nodes = 11 if slab.boundary is BOTH_FACES else 13
    theirs = StiffSlab(slab, nodes=nodes).solve(rtol=1e-6)
    pairs = np.array(
        [
            (ours.residual_mid_pa, theirs.residual_mid_pa),
            (ours.residual_top_pa, theirs.residual_top_pa),
            (ours.residual_bottom_pa, theirs.residual_bottom_pa),
            (ours.window.tension_pa, theirs.peak_window_pa),
        ]
    )
    largest = np.max(np.abs(pairs))
    assert pairs[:, 0] == pytest.approx(pairs[:, 1], abs=0.002 * largest)
    assert ours.end_middle_c == pytest.approx(theirs.end_middle_c, abs=0.05)
    if case == "heating through a cold slab":
        assert ours.heating.tension_pa == pytest.approx(
            theirs.peak_heating_pa, rel=0.002
        )


def test_the_benchmarks_rival_solves_the_same_equations():
    ours, theirs = simulate(power_cut()), CompiledSlab(power_cut(), nodes=9).solve()
    assert [
        theirs.residual_mid_pa,
        theirs.residual_top_pa,
        theirs.residual_bottom_pa,
        theirs.peak_window_pa,
        theirs.end_middle_c,
    ] == pytest.approx(
        [
            ours.residual_mid_pa,
            ours.residual_top_pa,
            ours.residual_bottom_pa,
            ours.window.tension_pa,
            ours.end_middle_c,
        ],
        rel=0.005,
    )
