# ruff: noqa: E402 (the number of threads is set before numpy is loaded)
"""Times the engine; not a test, run it by hand from the project's folder:

    .venv/bin/python -m tests.firing.physics.benchmark_simulation

Prints each number with what it is compared with. The other solution is `stiff_solver`:
the same equations by scipy's BDF, at the loosest tolerance that still agrees to 0.2 %
with the engine's own converged value.
"""

import os
import resource
import statistics
import subprocess
import sys
import time

# Before numpy is loaded: one core for both.
for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"

import numpy as np

from firing.physics.designing.band import Uncertainty, simulate_band
from firing.physics.slab.input import Accuracy, LooseStack
from firing.physics.slab.simulation import simulate, warm_up
from firing.physics.slab.surroundings import BOTH_FACES, TOP_ONLY, TOP_ONLY_FILM
from tests.firing.physics.slabs import HOUR_S, firing, history
from tests.firing.physics.stiff_solver import StiffSlab

TARGET_MS, TARGET_SPEED_UP, AGREES = 10.0, 50.0, 0.002


def five_day_firing(boundary=BOTH_FACES, **changes):
    """60 mm with the row for 75 mm, from cold to cold: five days."""
    time_s, kiln_c = history(
        (60.0, 640.0, 2 * HOUR_S),
        (150.0, 816.0, 900),
        (200.0, 482.0, 12 * HOUR_S),
        (1.7, 427.0, 0),
        (3.1, 371.0, 0),
        (10.0, 21.0, 0),
        start_c=20.0,
    )
    window_s = (float(time_s[6]), float(time_s[-1]))
    return firing(
        time_s,
        kiln_c,
        thickness_m=0.06,
        boundary=boundary,
        window_s=window_s,
        **changes,
    )


def milliseconds(work, repeats=30):
    times = []
    for _ in range(repeats):
        began = time.perf_counter()
        work()
        times.append((time.perf_counter() - began) * 1000)
    return statistics.median(times), min(times)


def say(what, value, compared):
    print(f"{what:<52} {value:>18}   {compared}")


def start_up():
    words = (
        "import time; a = time.perf_counter();"
        "from firing.physics.slab.simulation import warm_up; warm_up();"
        "print(time.perf_counter() - a)"
    )
    done = subprocess.run(
        [sys.executable, "-c", words], capture_output=True, text=True, check=True
    )
    return float(done.stdout)


def single_firings():
    for name, slab in (
        ("both faces", five_day_firing()),
        ("top only", five_day_firing(TOP_ONLY)),
        ("top only, radiation and air", five_day_firing(TOP_ONLY_FILM)),
        ("top only, loose sheets of 3 mm", five_day_firing(
            TOP_ONLY, stack=LooseStack(sheet_m=0.003, joins_c=670.0))),
    ):  # fmt: skip
        result = simulate(slab)
        exact = simulate(slab, Accuracy(nodes=81, step_factor=0.1))
        middle, best = milliseconds(lambda slab=slab: simulate(slab))
        days = slab.time_s[-1] / 86_400
        say(
            f"{days:.1f} days, {name} [ms]",
            f"{middle:.2f} (best {best:.2f})",
            f"target {TARGET_MS:g} ms; {result.diagnostics.steps} steps",
        )
        off = max(
            abs(result.residual_mid_pa - exact.residual_mid_pa),
            abs(result.residual_top_pa - exact.residual_top_pa),
            abs(result.window.tension_pa - exact.window.tension_pa),
        ) / max(abs(exact.residual_top_pa), exact.window.tension_pa)
        say("  its largest error", f"{off:.2%}", "81 nodes and a tenth of the steps")


def against_scipy():
    slab = five_day_firing()
    exact = simulate(slab, Accuracy(nodes=81, step_factor=0.1))

    def off(other, peak):
        pairs = (
            (other.residual_mid_pa, exact.residual_mid_pa),
            (other.residual_top_pa, exact.residual_top_pa),
            (peak, exact.window.tension_pa),
        )
        return max(abs(a - b) / abs(b) for a, b in pairs)

    ours, _ = milliseconds(lambda: simulate(slab))
    result = simulate(slab)
    say(
        "the engine's error",
        f"{off(result, result.window.tension_pa):.3%}",
        "converged",
    )
    # Node counts and tolerances from coarse to fine: the first that is good enough.
    for nodes, rtol in ((7, 1e-4), (7, 1e-5), (9, 1e-5), (9, 1e-6), (11, 1e-6)):
        began = time.perf_counter()
        other = StiffSlab(slab, nodes=nodes).solve(rtol=rtol, points=100)
        seconds = time.perf_counter() - began
        error = off(other, other.peak_window_pa)
        say(
            f"scipy BDF, {nodes} nodes, rtol {rtol:g} [s]",
            f"{seconds:.2f}",
            f"error {error:.3%} of the converged value",
        )
        if error <= AGREES:
            say(
                "speed-up at 0.2 %",
                f"{seconds * 1000 / ours:.0f} x",
                f"scipy BDF in the same run; target {TARGET_SPEED_UP:g} x",
            )
            return
    print("scipy did not reach 0.2 % at any of these: no speed-up is claimed")


def memory():
    def peak_kb():
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss

    simulate(five_day_firing(), trace_slots=400)
    before = peak_kb()
    slab = five_day_firing()
    repeats = 200
    time_s = np.concatenate(
        [slab.time_s + k * (slab.time_s[-1] + 60) for k in range(repeats)]
    )
    kiln_c = np.tile(slab.kiln_c, repeats)
    long = firing(time_s, kiln_c, thickness_m=0.06)
    result = simulate(long, trace_slots=400)
    say(
        f"more memory for {repeats} times the length [MB]",
        f"{(peak_kb() - before) / 1024:.1f}",
        f"one five-day firing; {result.diagnostics.steps} steps",
    )


def main():
    print(f"{'what':<52} {'measured':>18}   compared with")
    warm_up()
    say("loading the compiled kernel, new process [s]", f"{start_up():.2f}", "cached")
    single_firings()
    middle, _ = milliseconds(
        lambda: simulate(five_day_firing(), Accuracy(nodes=41)), 10
    )
    say("both faces, 41 nodes [ms]", f"{middle:.2f}", "the default above")
    wide = Uncertainty(other_boundary=TOP_ONLY)
    middle, _ = milliseconds(lambda: simulate_band(five_day_firing(), wide), 10)
    say("a band, nine firings [ms]", f"{middle:.1f}", "one firing above")
    readings = np.linspace(0, 122 * HOUR_S, 100_000)
    slab = five_day_firing()
    kiln_c = np.interp(readings, slab.time_s, slab.kiln_c).round(1)
    logged = firing(readings, kiln_c, thickness_m=0.06, boundary=TOP_ONLY_FILM)
    began = time.perf_counter()
    steps = simulate(logged).diagnostics.steps
    say(
        "100,000 readings, not thinned [s]",
        f"{time.perf_counter() - began:.2f}",
        f"{steps} steps; target of judging 2 s",
    )
    memory()
    against_scipy()


if __name__ == "__main__":
    main()
