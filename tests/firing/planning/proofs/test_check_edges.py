"""Each rule of the checker at its edge: a plan in which everything touches what bounds
it is right, and one slot or millimetre more is found.
"""

from dataclasses import replace

import pytest

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
from firing.planning.problem.solution import (
    EnamelFiring,
    FuseFiring,
    Item,
    Solution,
    Task,
)
from firing.planning.proofs.check import check_plan

PAINT, ASSEMBLE, COLD = Skill.PAINT, Skill.ASSEMBLE, Skill.COLDWORK
KILN = PlannedKiln(
    id="K1",
    width_mm=515,
    depth_mm=300,
    height_mm=100,
    max_temp_f=1490,
    kwh_per_enamel_firing=30,
    kwh_per_day_fuse=40.0001,
    maintenance=((10, 35), (65, 83)),
)
P1 = PlannedPiece(
    id="P1",
    artist="A1",
    release=33,
    due_day=4,
    weight=3,
    width_mm=300,
    depth_mm=200,
    height_mm=100,
    fuse=Fuse(temp_f=1490, run=123, load=2, unload=2),
    layers=(
        (PlannedPass(kind="burn", labour=2), PlannedPass(kind="burn", labour=2)),
        (),
        (PlannedPass(kind="burn", labour=0, not_before=35),),
    ),
    layer_height_mm=100,
    assembly=4,
    coldwork=6,
    ship_days=1,
)
OUT = replace(P1, id="out", weight=100, due_day=0)
READY = replace(
    P1,
    id="ready",
    release=48,
    due_day=None,
    ship_days=2,
    layers=(),
    fuse=None,
    assembly=0,
    coldwork=0,
)
FUSED = replace(READY, id="fused", artist="A2", assembly=2, due_day=5, release=40)
PROBLEM = Problem(
    horizon=258,
    access=tuple((48 * day + 16, 48 * day + 37) for day in range(6)),
    kinds=(
        EnamelKind(id="burn", temp_f=1490, run=27, load=2, unload=1, gap_mm=15),
        EnamelKind(id="long", temp_f=1490, run=28, load=2, unload=1, gap_mm=15),
    ),
    kilns=(KILN, replace(KILN, id="K2", maintenance=())),
    people=(
        PlannedPerson(
            id="A1",
            skills=frozenset({PAINT, ASSEMBLE}),
            available=((33, 35), (65, 83), (113, 131)),
            weekly_cap=10,
            booked=((66, 68),),
        ),
        PlannedPerson(
            id="A2",
            skills=frozenset({ASSEMBLE}),
            available=((40, 41), (48, 49)),
            weekly_cap=2,
        ),
        PlannedPerson(
            id="C1",
            skills=frozenset({COLD}),
            available=((258, 261), (335, 338)),
            weekly_cap=4,
        ),
    ),
    fixed=(
        # Neither is ours, so that they meet is nobody's fault here.
        FixedFiring(id="X1", kiln="K1", start=20, end=30),
        FixedFiring(id="X2", kiln="K1", start=113, end=131),
        FixedFiring(id="X3", kiln="K1", start=258, end=300),
        FixedFiring(id="X4", kiln="elsewhere", start=0, end=300),
    ),
    pieces=(P1, OUT, READY, FUSED),
)
FLAT = Item(piece="P1", layer=0, position=0, x_mm=0, y_mm=0, is_turned=False)
TURNED = Item(piece="P1", layer=2, position=0, x_mm=315, y_mm=0, is_turned=True)
SECOND = replace(FLAT, position=1)


def task(skill, *segments, piece="P1", person="A1", **at):
    return Task(piece=piece, task=skill, person=person, segments=segments, **at)


# The day's last loading; the next one's first unloading; and so on to the client.
FIRST, LAST = (
    EnamelFiring(
        id="E1",
        kiln="K1",
        kind="burn",
        load_start=35,
        unload_start=64,
        items=(FLAT, TURNED),
    ),
    EnamelFiring(
        id="E2",
        kiln="K1",
        kind="burn",
        load_start=83,
        unload_start=112,
        items=(SECOND,),
    ),
)
STACK = FuseFiring(id="S1", kiln="K1", piece="P1", load_start=131, unload_start=256)
WORK = {
    "paint 0": task(PAINT, (33, 35), layer=0, position=0),
    "paint 1": task(PAINT, (65, 66), (82, 83), layer=0, position=1),
    "assemble": task(ASSEMBLE, (113, 115), (129, 131)),
    "coldwork": task(COLD, (258, 261), (335, 338), person="C1"),
    "assemble fused": task(ASSEMBLE, (40, 41), (48, 49), piece="fused", person="A2"),
}
DELIVERY = {"P1": 8, "ready": 2, "fused": 3}
PLAN = Solution(
    firings=(FIRST, LAST),
    fuses=(STACK,),
    work=tuple(WORK.values()),
    delivery=DELIVERY,
    undelivered=("out",),
)


def rules(plan=PLAN, **problem):
    return sorted(f.rule for f in check_plan(replace(PROBLEM, **problem), plan).faults)


def first(**changes):
    return replace(PLAN, firings=(replace(FIRST, **changes), LAST))


def last(**changes):
    return replace(PLAN, firings=(FIRST, replace(LAST, **changes)))


def items(flat=None, turned=None):
    return first(items=(replace(FLAT, **flat or {}), replace(TURNED, **turned or {})))


def stack(**changes):
    return replace(PLAN, fuses=(replace(STACK, **changes),))


def work(name, *segments, **changes):
    if segments:
        changes["segments"] = segments
    return replace(
        PLAN, work=tuple({**WORK, name: replace(WORK[name], **changes)}.values())
    )


def more(**changes):
    return replace(
        PLAN, **{name: (*getattr(PLAN, name), one) for name, one in changes.items()}
    )


def without(name):
    return replace(PLAN, work=tuple(v for k, v in WORK.items() if k != name))


def pieces(**changes):
    return (replace(P1, **changes), *PROBLEM.pieces[1:])


def kilns(**changes):
    return tuple(replace(one, **changes) for one in PROBLEM.kilns)


def people(**changes):
    return (replace(PROBLEM.people[0], **changes), *PROBLEM.people[1:])


def held_from(slot):
    return FixedFiring(id="X", kiln="K1", start=slot, end=300)


def test_what_touches_its_bounds_is_right_and_its_costs_are_counted():
    found = check_plan(PROBLEM, PLAN)
    assert found.faults == ()
    assert found.is_valid
    # P1 is four days late and weighs three; what is out or not promised is not late.
    assert found.undelivered == 1
    assert found.weighted_days_late == 12
    assert found.delivery_days == 8 + 2 + 3
    # 2 x 30, and 40.0001 x 123/48 = 102.50025625, to the millionth.
    assert found.kwh == 162.500256


def test_faults_say_what_and_where():
    (fault,) = check_plan(PROBLEM, replace(PLAN, delivery={**DELIVERY, "P1": 7})).faults
    assert (fault.rule, fault.text) == ("delivery", "P1 comes on day 8, not 7.")


ONE_OFF = {
    # names
    "unknown kind": (first(kind="none"), ["names", "kind", "kind"]),
    "unknown kiln": (first(kiln="none"), ["names"]),
    "piece of no pass": (items({"piece": "none"}), ["names", "once"]),
    "layer after the last": (items({"layer": 3}), ["names", "once"]),
    "layer without passes": (items({"layer": 1}), ["names", "once"]),
    "layer before the first": (items({"layer": -1}), ["names", "once"]),
    "pass after the last": (items({"position": 2}), ["names", "once"]),
    "pass before the first": (items({"position": -1}), ["names", "once"]),
    "fuse of nothing": (stack(piece="none"), ["names", "once"]),
    "fuse nowhere": (stack(kiln="none"), ["names"]),
    "nobody's work": (work("paint 0", person="none"), ["names"]),
    "work on nothing": (
        more(work=task(COLD, (258, 258), piece="none", person="C1")),
        ["names"],
    ),
    "paint of no layer": (work("paint 0", layer=3), ["names", "once"]),
    "paint of no pass": (work("paint 0", position=2), ["names", "once"]),
    "paint of layer -1": (work("paint 0", layer=None), ["names", "once"]),
    "paint of pass -1": (work("paint 0", position=None), ["names", "once"]),
    # once
    "never fired": (last(items=()), ["once"]),
    "fired twice": (
        last(items=(SECOND, replace(TURNED, x_mm=0, y_mm=0))),
        ["gap", "once"],
    ),
    "never painted": (without("paint 1"), ["once"]),
    "never put together": (without("assemble"), ["once"]),
    "never coldworked": (without("coldwork"), ["delivery", "once"]),
    "never fused": (replace(PLAN, fuses=()), ["once"]),
    "fused twice": (
        more(fuses=replace(STACK, id="S2", kiln="K2")),
        ["once"],
    ),
    "put together though it need not be": (
        more(work=task(ASSEMBLE, piece="ready")),
        ["once"],
    ),
    "not said when": (replace(PLAN, delivery={"ready": 2, "fused": 3}), ["once"]),
    # one firing
    "two at once": (
        more(
            firings=replace(LAST, id="E3", load_start=111, unload_start=160, items=())
        ),
        ["access", "one firing", "one firing", "one firing"],
    ),
    "two stacks at once": (
        replace(
            PLAN, fuses=(STACK, replace(STACK, id="S2", load_start=160, piece="ready"))
        ),
        ["once", "one firing"],
    ),
    # access
    "loaded too late to be in": (
        first(load_start=36),
        ["access", "opened early"],
    ),
    "unloaded before somebody is in": (
        last(unload_start=111),
        ["access", "opened early"],
    ),
    "unloaded when somebody leaves": (
        stack(unload_start=276),
        ["access", "horizon", "one firing", "order"],
    ),
    "stack loaded when somebody leaves": (
        stack(load_start=132),
        ["access", "opened early"],
    ),
    # kind
    "another kind": (last(kind="long"), ["kind", "opened early"]),
    # shelf
    "off to the left": (items({"x_mm": -1}), ["off the shelf"]),
    "off to the front": (items({"y_mm": -1}), ["off the shelf"]),
    "off to the right": (items(turned={"x_mm": 316}), ["off the shelf"]),
    "off at the back": (items(turned={"y_mm": 1}), ["off the shelf"]),
    "too near": (items(turned={"x_mm": 314}), ["gap"]),
    # The flat one turned reaches 200 mm to the right, the turned one flat 315 to 615.
    "not turned": (items(turned={"is_turned": False}), ["off the shelf"]),
    # people
    "without the skill": (
        work("coldwork", person="A1"),
        ["available", "available", "skill", "weekly cap"],
    ),
    "not the artist": (
        work("assemble", person="A2"),
        ["artist", "available", "available", "weekly cap"],
    ),
    "before they are there": (
        work("assemble", (112, 114), (129, 131)),
        ["available", "order"],
    ),
    "after they left": (
        work("assemble", (113, 115), (130, 132)),
        ["available", "order"],
    ),
    "a piece that is out in no order": (
        more(work=task(ASSEMBLE, (20, 24), piece="out")),
        ["available", "once", "weekly cap"],
    ),
    "an empty hour": (
        work("assemble", (113, 115), (129, 131), (131, 131)),
        ["available"],
    ),
    "two things at once": (
        work("paint 1", (65, 67), layer=0, position=1),
        ["one thing"],
    ),
    # labour
    "a slot too little": (work("assemble", (113, 115), (130, 131)), ["labour"]),
    "a slot too much in a pass": (
        work("paint 1", (65, 66), (81, 83)),
        ["labour", "weekly cap"],
    ),
    "a slot too much in coldwork": (
        work("coldwork", (258, 261), (334, 338)),
        ["available", "labour", "weekly cap"],
    ),
    "painted in no time": (work("paint 0", segments=()), ["labour"]),
    "put together in no time": (work("assemble", segments=()), ["labour"]),
    "coldworked in no time": (
        work("coldwork", segments=()),
        ["delivery", "labour"],
    ),
    "later hours first": (work("assemble", (129, 131), (113, 115)), ["labour"]),
    # order
    "painted before its release": (
        work("paint 0", (32, 34)),
        ["available", "order"],
    ),
    "loaded before it is painted": (
        first(load_start=34),
        ["one firing", "order", "order"],
    ),
    "painted before it is unloaded": (
        first(unload_start=65),
        ["one firing", "order"],
    ),
    "loaded before it is painted again": (
        last(load_start=82),
        ["one firing", "order"],
    ),
    "put together before it is unloaded": (
        last(unload_start=113),
        ["one firing", "order"],
    ),
    "fused before it is put together": (
        stack(load_start=130),
        ["one firing", "order"],
    ),
    "coldworked before it is unloaded": (
        stack(unload_start=257),
        ["horizon", "one firing", "order"],
    ),
    # delivery
    "said too early": (replace(PLAN, delivery={**DELIVERY, "fused": 2}), ["delivery"]),
    "said too late": (replace(PLAN, delivery={**DELIVERY, "ready": 3}), ["delivery"]),
}


@pytest.mark.parametrize("name", ONE_OFF)
def test_one_off_is_found_and_nothing_else(name):
    plan, expected = ONE_OFF[name]
    assert rules(plan) == sorted(expected)


OF_THE_PROBLEM = {
    "maintenance into a firing": (
        {"kilns": kilns(maintenance=((10, 36),))},
        ["one firing"],
    ),
    "a fixed firing into ours": (
        {"fixed": (FixedFiring(id="X", kiln="K1", start=112, end=113),)},
        ["one firing"],
    ),
    "the horizon ends in the unloading": ({"horizon": 257}, ["horizon"]),
    "an enamel firing that is too hot": (
        {"kinds": (replace(PROBLEM.kinds[0], temp_f=1491),)},
        ["too cold", "too cold"],
    ),
    "a stack that is too hot": (
        {"pieces": pieces(fuse=replace(P1.fuse, temp_f=1491))},
        ["too cold"],
    ),
    "layers that are too high": (
        {"pieces": pieces(layer_height_mm=101)},
        ["too low"] * 3,
    ),
    "a stack that is too high": ({"pieces": pieces(height_mm=101)}, ["too low"]),
    "layers that are barred": (
        {"pieces": pieces(layers_not_in=frozenset({"K1"}))},
        ["barred"] * 3,
    ),
    "a stack that is barred": (
        {"pieces": pieces(stack_not_in=frozenset({"K1"}))},
        ["barred"],
    ),
    "a wider gap": (
        {"kinds": (replace(PROBLEM.kinds[0], gap_mm=15.1),)},
        ["gap"],
    ),
    "a week that is full": ({"people": people(weekly_cap=9)}, ["weekly cap"]),
    "a pass that needs more": (
        {
            "pieces": pieces(
                layers=(
                    (P1.layers[0][0], PlannedPass(kind="burn", labour=3)),
                    *P1.layers[1:],
                )
            )
        },
        ["labour"],
    ),
    "glass that comes back later": (
        {
            "pieces": pieces(
                layers=(P1.layers[0], (), (replace(P1.layers[2][0], not_before=36),))
            )
        },
        ["order"],
    ),
    "a pass that need not be painted": (
        {
            "pieces": pieces(
                layers=(
                    (PlannedPass(kind="burn", labour=0), P1.layers[0][1]),
                    *P1.layers[1:],
                )
            )
        },
        ["labour", "once"],
    ),
    "coldwork that need not be": (
        {"pieces": pieces(coldwork=0)},
        ["labour", "once"],
    ),
    # What a stack without a fuse holds ends when it is opened.
    "a fuse that was": (
        {"pieces": pieces(fuse=None), "fixed": (held_from(256),)},
        ["once"],
    ),
    "a fuse that was, and a kiln that is not free": (
        {"pieces": pieces(fuse=None), "fixed": (held_from(255),)},
        ["once", "one firing"],
    ),
}


@pytest.mark.parametrize("name", OF_THE_PROBLEM)
def test_a_rule_that_is_tighter_is_broken(name):
    changes, expected = OF_THE_PROBLEM[name]
    assert rules(**changes) == sorted(expected)


@pytest.mark.parametrize(("start", "expected"), [(0, []), (-1, ["horizon"])])
def test_time_begins_with_the_first_slot(start, expected):
    early = EnamelFiring(
        id="E0", kiln="K2", kind="burn", load_start=start, unload_start=29, items=()
    )
    access = ((-1, 37), *PROBLEM.access[1:])
    assert rules(more(firings=early), access=access) == expected


def test_everything_that_meets_one_of_ours_is_told():
    long, short = (
        FixedFiring(id="long", kiln="K1", start=100, end=113),
        FixedFiring(id="short", kiln="K1", start=105, end=110),
    )
    assert rules(fixed=(long, short)) == ["one firing"] * 2


@pytest.mark.parametrize(
    ("shelf", "expected"),
    [
        ((200, 300), []),
        ((300, 200), []),
        ((199, 300), ["too small"]),
        ((299, 200), ["too small"]),
    ],
)
def test_a_stack_lies_on_its_shelf_either_way(shelf, expected):
    width, depth = shelf
    other = replace(KILN, id="K2", width_mm=width, depth_mm=depth, maintenance=())
    assert rules(stack(kiln="K2"), kilns=(KILN, other)) == expected


def test_a_stack_of_nothing_is_not_held_against_the_piece_before_it():
    plan = stack(piece="none")
    assert rules(plan, pieces=pieces(height_mm=101)) == ["names", "once"]


@pytest.mark.parametrize(("far", "expected"), [(215, []), (214, ["gap"])])
@pytest.mark.parametrize("is_first_behind", [False, True])
def test_layers_behind_each_other_keep_their_gap(far, expected, is_first_behind):
    near_and_far = ({"y_mm": 0}, {"x_mm": 0, "y_mm": far, "is_turned": False})
    if is_first_behind:
        near_and_far = ({"y_mm": far}, {"x_mm": 0, "y_mm": 0, "is_turned": False})
    assert rules(items(*near_and_far), kilns=kilns(depth_mm=415)) == expected


@pytest.mark.parametrize("at", [{"layer": -1, "position": 0}, {"position": -1}])
def test_a_pass_that_is_none_has_no_kind_either(at):
    plan = last(kind="long", items=(replace(SECOND, **at),))
    assert rules(plan) == ["names", "once", "opened early"]


def test_a_week_that_is_full_without_us_is_not_our_fault():
    assert rules(people=people(booked=((66, 68), (346, 358)))) == []


def test_a_day_said_of_a_piece_that_is_out_is_not_held_against_the_plan():
    assert rules(replace(PLAN, delivery={**DELIVERY, "out": 3})) == []
