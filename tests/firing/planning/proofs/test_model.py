"""The way to CP-SAT: what it proves of published shops and batches is their optimum."""

import pytest

from firing.planning.proofs.model import SolverLimits, solve
from tests.firing.planning.instances import (
    EXPECTED,
    HUNDREDTHS,
    batches,
    shop,
)
from tests.firing.planning.shops import build_batch_shop, build_shop

# Their proofs take longer than a test may; `benchmark` prints how far they come.
OPEN = {"jobshop/abz5.txt", "jobshop/ft10.txt", "jobshop/la26.txt"}
SHOPS = [name for name in EXPECTED if "jobshop" in name and name not in OPEN]
# More than two seconds on an idle core.
LONG = {
    "flexible_jobshop/mk03.txt",
    "flexible_jobshop/mk05.txt",
    "jobshop/la19.txt",
    "parallel_batch/COR10-F4-M2-JF5-B3-0.25-0.25-1.txt",
}
# The fence is far away, so that the outcome rests on deterministic time alone.
LIMITS = SolverLimits(deterministic_time=10, seconds=1200)


@pytest.mark.parametrize(
    "name",
    [pytest.param(n, marks=[pytest.mark.long] if n in LONG else []) for n in SHOPS],
)
def test_a_shop_is_proved_optimal(name):
    answer = solve(build_shop(shop(name)), LIMITS)
    assert answer.status == "OPTIMAL"
    assert answer.value == answer.bound == EXPECTED[name]["optimum"]


@pytest.mark.slow
@pytest.mark.parametrize(
    "name",
    [
        pytest.param(n, marks=[pytest.mark.long] if n in LONG else [])
        for n in EXPECTED
        if n.startswith("parallel_batch")
    ],
)
def test_batches_in_equal_kilns_are_proved_optimal(name):
    kilns, size, jobs = batches(name)
    answer = solve(
        build_batch_shop(jobs, kilns=kilns, size=size),
        SolverLimits(deterministic_time=60, seconds=1200),
    )
    assert answer.status == "OPTIMAL"
    assert answer.value / HUNDREDTHS == pytest.approx(
        EXPECTED[name]["optimum"], abs=0.01
    )


def test_out_of_time_is_an_answer():
    answer = solve(
        build_shop(shop("flexible_jobshop/mk05.txt")),
        SolverLimits(deterministic_time=1e-6, seconds=300),
    )
    assert answer.status == "UNKNOWN"
    assert answer.value is None
    assert answer.bound is None
