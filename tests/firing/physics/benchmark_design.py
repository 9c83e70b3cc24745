"""Times designing and judging; not a test, run it by hand from the project's folder:

    .venv/bin/python -m tests.firing.physics.benchmark_design

Prints each number with what it is compared with in the same run: a design with the
bands that it computed, one after the other; judging with the same computation over the
readings as they are, neither averaged nor thinned.
"""

# ruff: noqa: E402 (the number of threads is set before numpy is loaded)
import os
import statistics
import time
from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

# Before numpy is loaded: one core for everything.
for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"

import numpy as np

from firing.controller_log import read_log
from firing.physics.designing.band import simulate_band
from firing.physics.designing.design import FINE, design
from firing.physics.designing.request import DesignRequest
from firing.physics.glass.families import NINETY
from firing.physics.judging.verdict import ACCURACY, JudgeRequest, judge
from firing.physics.judging.what_next import what_next
from firing.physics.slab.input import LooseStack, SlabFiring
from firing.physics.slab.simulation import simulate
from firing.physics.slab.surroundings import BOTH_FACES_FILM, TOP_ONLY_FILM
from firing.physics.slab.warm import warm_up

DESIGN_S, NEIGHBOUR_S, JUDGE_S = 3.0, 1.0, 2.0
READINGS = 100_000
STACK = LooseStack(sheet_m=0.003, joins_c=670.0)


def seconds(work, repeats=5):
    """Return median and best time of some runs, and the last result."""
    taken, result = [], None
    for _ in range(repeats):
        began = time.perf_counter()
        result = work()
        taken.append(time.perf_counter() - began)
    return statistics.median(taken), min(taken), result


def line(what, value_s, best_s, target_s, compared):
    met = "met" if value_s <= target_s else "MISSED"
    print(
        f"{what}: {value_s:.2f} s, best {best_s:.2f} s (target {target_s:g} s, {met}); "
        f"{compared}"
    )


def design_at_sixty():
    for words, boundary in (("top", TOP_ONLY_FILM), ("both", BOTH_FACES_FILM)):
        request = DesignRequest(glass=NINETY, thickness_m=0.06, boundary=boundary)
        taken_s, best_s, found = seconds(lambda request=request: design(request))
        firing = SlabFiring(
            glass=NINETY,
            thickness_m=0.06,
            boundary=boundary,
            time_s=found.proposed.curve.time_s,
            kiln_c=found.proposed.curve.temperature_c,
            stack=STACK,
        )
        uncertainty = found.request.uncertainty
        band_s, _, band = seconds(
            lambda firing=firing, doubt=uncertainty: simulate_band(firing, doubt, FINE)
        )
        line(
            f"Design of 60 mm with its band, {words}",
            taken_s,
            best_s,
            DESIGN_S,
            f"one band of its schedule ({len(band.cases)} firings) takes "
            f"{band_s * 1000:.0f} ms, and the search computed {found.bands_computed} "
            f"coarser ones: {taken_s / band_s:.1f} times one band",
        )
        near = replace(request, thickness_m=0.061)
        near_s, best_s, _ = seconds(lambda near=near: design(near))
        line(
            f"Its neighbour of 61 mm, {words}",
            near_s,
            best_s,
            NEIGHBOUR_S,
            f"computed anew, nothing kept from 60 mm: {near_s / taken_s:.2f} times it",
        )
        free_s, best_s, free = seconds(
            lambda request=request: design(replace(request, floor=None)), 2
        )
        line(
            f"60 mm by the limits alone, {words}",
            free_s,
            best_s,
            DESIGN_S,
            f"{free.proposed.kiln_s / 3600:.1f} kiln hours against "
            f"{found.proposed.kiln_s / 3600:.1f} with the table as floor",
        )


def every_thickness():
    slowest = (0.0, 0)
    for mm in range(12, 151, 6):
        request = DesignRequest(glass=NINETY, thickness_m=mm / 1000)
        taken_s, _, found = seconds(lambda request=request: design(request), 1)
        assert found.proposed.is_within
        slowest = max(slowest, (taken_s, mm))
    line(
        "Slowest design of 12 to 150 mm in steps of 6",
        slowest[0],
        slowest[0],
        DESIGN_S,
        f"at {slowest[1]} mm; all of them stay within the limits",
    )


def judge_many():
    found = design(DesignRequest(glass=NINETY, thickness_m=0.06)).proposed
    time_s = np.linspace(0, found.kiln_s, READINGS)
    noise = np.random.default_rng(1).uniform(-1, 1, READINGS)
    kiln_c = np.interp(time_s, found.curve.time_s, found.curve.temperature_c) + noise
    rows = (f"{at:.1f},{value:.1f}" for at, value in zip(time_s, kiln_c, strict=True))
    data = "\n".join(["elapsed_s,temperature_c", *rows]).encode()

    def read():
        start = datetime(2026, 1, 1, tzinfo=UTC)
        return read_log(data, started_at=start, zone=ZoneInfo("UTC")).readings

    def whole():
        readings = read()
        return judge(
            JudgeRequest(
                time_s=readings.time_s,
                temperature_c=readings.temperature_c,
                glass=NINETY,
                thickness_m=0.06,
                planned=found.schedule,
                stack=STACK,
            )
        )

    import_s, _, readings = seconds(read)
    taken_s, best_s, judged = seconds(whole)
    raw = replace(judged.firing, time_s=readings.time_s, kiln_c=readings.temperature_c)
    raw_s, _, result = seconds(lambda: simulate(raw, ACCURACY), 1)
    off = abs(
        result.residual_max_tension_pa / judged.band.middle.residual_max_tension_pa - 1
    )
    line(
        f"Judging {READINGS} readings with import",
        taken_s,
        best_s,
        JUDGE_S,
        f"import alone {import_s:.2f} s; {judged.record.curve.time_s.size} points were "
        f"kept. One firing over all readings takes {raw_s:.2f} s, a band of them about "
        f"{raw_s * len(judged.band.cases):.1f} s; its residual differs by {off:.2%}",
    )
    both_s, best_s, options = seconds(lambda: what_next(whole()))
    line(
        f"Judging {READINGS} readings with import, and what can be done next",
        both_s,
        best_s,
        JUDGE_S,
        f"{len(options)} options, each with its band, against {taken_s:.2f} s without",
    )


if __name__ == "__main__":
    began_at = time.perf_counter()
    warm_up()
    print(f"Engine loaded or compiled in {time.perf_counter() - began_at:.2f} s")
    design_at_sixty()
    every_thickness()
    judge_many()
