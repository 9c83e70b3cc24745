"""Small studios made by hand, and the published instances kept in `data/`."""

import json
from dataclasses import replace
from functools import cache
from pathlib import Path

from firing.planning.packing.packing import pack
from firing.planning.problem.problem import (
    EnamelKind,
    FixedFiring,
    Fuse,
    PlannedKiln,
    PlannedPass,
    PlannedPerson,
    PlannedPiece,
    Problem,
    Skill,
)
from firing.planning.problem.reading import read_problem
from tests.firing.planning.shops import BatchJob

DATA = Path(__file__).parent / "data"
EXPECTED = json.loads((DATA / "expected.json").read_text())
WEEKS = 8
HORIZON = WEEKS * 336


def document(name):
    return json.loads((DATA / "kiln" / f"{name}.json").read_text())


@cache
def kiln_instance(name):
    return read_problem(document(name))


def shop(name):
    """Jobs of a job-shop or flexible job-shop file."""
    rows = [
        [int(x) for x in line.split()]
        for line in (DATA / name).read_text().splitlines()
        if line.split()
    ]
    count = rows[0][0]
    if name.startswith("jobshop"):
        return [
            [[(row[i], row[i + 1])] for i in range(0, len(row), 2)]
            for row in rows[1 : count + 1]
        ]
    jobs = []
    for row in rows[1 : count + 1]:
        at, job = 1, []
        for _ in range(row[0]):
            places = row[at]
            pairs = row[at + 1 : at + 1 + 2 * places]
            job.append(list(zip(pairs[::2], pairs[1::2], strict=True)))
            at += 1 + 2 * places
        jobs.append(job)
    return jobs


# Weights of batch jobs are counted in these, so that they are whole.
HUNDREDTHS = 100


def batches(name):
    """Machines, batch size and jobs of a batch file."""
    rows = [
        [float(x) for x in line.split()]
        for line in (DATA / name).read_text().splitlines()
        if line.split()
    ]
    machines, per_family, size = (int(x) for x in rows[0])
    durations = rows[1][1:]
    jobs = []
    for at, row in enumerate(rows[2:]):
        arrival, due = int(row[0]), int(row[1])
        assert (arrival, due) == (row[0], row[1])
        family = at // per_family
        jobs.append(
            BatchJob(
                kind=family,
                duration=int(durations[family]),
                arrival=arrival,
                due=due,
                weight=round(HUNDREDTHS * row[2]),
            )
        )
    assert len(jobs) == per_family * int(rows[1][0])
    return machines, size, jobs


def fill_bins(name):
    """Bins that the packer needs when items go in one by one, the largest first."""
    data = json.loads((DATA / name).read_text())
    width, depth = data["bin_width"], data["bin_height"]
    bins = []
    for item in sorted(data["items"], key=lambda item: -item[0] * item[1]):
        for held in bins:
            found = pack(
                [*held, tuple(map(float, item))],
                width_mm=width,
                depth_mm=depth,
                may_turn=False,
                node_limit=200,
                wants_proof=False,
            )
            if found.spots is not None:
                held.append(tuple(map(float, item)))
                break
        else:
            bins.append([tuple(map(float, item))])
    return bins


def days(opens, closes, weekdays=(0, 1, 2, 3, 4, 5)):
    """Windows of a week, repeated."""
    return tuple(
        (week * 336 + day * 48 + opens, week * 336 + day * 48 + closes)
        for week in range(WEEKS)
        for day in weekdays
    )


KIND = EnamelKind(id="burn", temp_f=1100, run=28, load=1, unload=1, gap_mm=15)
KILN = PlannedKiln(
    id="K1",
    width_mm=1000,
    depth_mm=800,
    height_mm=300,
    max_temp_f=1700,
    kwh_per_enamel_firing=30,
    kwh_per_day_fuse=48,
)
PAINTER = PlannedPerson(
    id="A1",
    skills=frozenset({Skill.PAINT, Skill.ASSEMBLE}),
    available=days(18, 32),
    weekly_cap=60,
)
FINISHER = PlannedPerson(
    id="F1",
    skills=frozenset({Skill.COLDWORK}),
    available=days(18, 32),
    weekly_cap=60,
)


def one_pass(labour=2, kind="burn"):
    return PlannedPass(kind=kind, labour=labour)


def piece(name="P1", **changes):
    plain = PlannedPiece(
        id=name,
        artist="A1",
        release=0,
        due_day=10,
        weight=1,
        width_mm=300,
        depth_mm=300,
        height_mm=100,
        fuse=Fuse(temp_f=1490, run=100, load=2, unload=2),
        layers=((one_pass(),), (one_pass(),)),
        layer_height_mm=10,
        assembly=4,
        coldwork=6,
        ship_days=1,
    )
    return replace(plain, **changes)


def studio(*pieces, **changes):
    plain = Problem(
        horizon=HORIZON,
        access=days(16, 36),
        kinds=(KIND,),
        kilns=(KILN,),
        people=(PAINTER, FINISHER),
        fixed=(),
        pieces=pieces or (piece(),),
    )
    return replace(plain, **changes)


def fixed(start, end, kiln="K1", name="X1"):
    return FixedFiring(id=name, kiln=kiln, start=start, end=end)
