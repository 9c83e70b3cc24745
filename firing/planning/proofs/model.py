"""CP-SAT: solving, and the rules of the shop as constraints, one function per rule. The
only module that imports OR-Tools; models are built from these rules in `shops`, `freed`
and `lateness`.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from ortools.sat.python.cp_model import CpModel, IntVar


def new_model() -> "CpModel":
    """Return an empty model.

    References
    ----------
    OR-Tools CP-SAT. It is imported when it is first needed: that takes a while.
    """
    from ortools.sat.python import cp_model

    return cp_model.CpModel()


@dataclass(frozen=True, slots=True, kw_only=True)
class SolverLimits:
    """When CP-SAT stops, and how it reasons.

    Attributes
    ----------
    deterministic_time : float
        Its own measure of work; the answer depends on this alone.
    seconds : float
        The outer fence.
    watches_order : bool
        Reason about which firing comes before which in one kiln: worth its time where
        every firing has its kiln and only the order is open.
    """

    deterministic_time: float
    seconds: float
    seed: int = 1
    watches_order: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SolverAnswer:
    """Status in CP-SAT's words, value and bound of the objective (None if unknown)."""

    status: str
    value: float | None
    bound: float | None
    solver: Any


def solve(model: "CpModel", limits: SolverLimits) -> SolverAnswer:
    """Solve a model with one worker; out of time is an answer, not an error.

    Parameters
    ----------
    model : CpModel
        Built by the functions of this module.
    limits : SolverLimits
        Deterministic time and seconds.

    References
    ----------
    OR-Tools CP-SAT, parameters `max_deterministic_time` and `num_workers`.
    """
    from ortools.sat.python import cp_model

    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = limits.seed
    solver.parameters.max_deterministic_time = limits.deterministic_time
    solver.parameters.max_time_in_seconds = limits.seconds
    # Measured: ft10 proved in 0.7 units of deterministic time with these, 21 without;
    # mk05, where firings choose their kiln, in 2.6 without, not in 8 with them.
    solver.parameters.use_dynamic_precedence_in_disjunctive = limits.watches_order
    solver.parameters.use_strong_propagation_in_disjunctive = limits.watches_order
    status = solver.solve(model)
    is_known = status in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    return SolverAnswer(
        status=solver.status_name(status),
        value=solver.objective_value if is_known else None,
        bound=solver.best_objective_bound if is_known else None,
        solver=solver,
    )


# --- rules of any shop ------------------------------------------------------------


def one_thing_at_a_time(model: "CpModel", intervals: Sequence[Any]) -> None:
    """A kiln holds one firing, a person does one thing.

    Parameters
    ----------
    model : CpModel
        Gets the constraint.
    intervals : sequence of IntervalVar
        Optional ones count when they are present.

    References
    ----------
    Disjunctive resource.
    """
    model.add_no_overlap(intervals)


def after_each_other(model: "CpModel", steps: Sequence[tuple[Any, Any]]) -> None:
    """Each step begins when the one before has ended.

    Parameters
    ----------
    model : CpModel
        Gets the constraints.
    steps : sequence of (start, end)
        In their order [slots].

    References
    ----------
    Precedence.
    """
    for (_, end), (start, _) in pairwise(steps):
        model.add(start >= end)


def in_one_of(model: "CpModel", literals: Iterable["IntVar"]) -> None:
    """A firing takes place in exactly one of the kilns and times that could have it.

    Parameters
    ----------
    model : CpModel
        Gets the constraint.
    literals : iterable of BoolVar
        One per place.

    References
    ----------
    Assignment.
    """
    model.add_exactly_one(literals)


def no_more_at_once(model: "CpModel", intervals: Sequence[Any], capacity: int) -> None:
    """Equal kilns as one resource: not more firings at once than there are kilns.

    Parameters
    ----------
    model : CpModel
        Gets the constraint.
    intervals : sequence of IntervalVar
        Optional ones count when they are present.
    capacity : int
        Number of equal kilns.

    References
    ----------
    Cumulative resource; names are given afterwards.
    """
    model.add_cumulative(intervals, [1] * len(intervals), capacity)


def no_fuller_than(
    model: "CpModel", loads: Sequence[tuple["IntVar", int]], most: Any
) -> None:
    """A load holds no more than its firing takes, in number or in area.

    Parameters
    ----------
    model : CpModel
        Gets the constraint.
    loads : sequence of (BoolVar, size)
        What may lie in the firing.
    most : int or linear expression
        0 where the firing does not take place.

    References
    ----------
    Necessary, not sufficient, where sizes are areas.
    """
    model.add(sum(size * literal for literal, size in loads) <= most)


def no_more_than_there_is_time(
    model: "CpModel", loads: Sequence[tuple["IntVar", int]], end: Any
) -> None:
    """What is done in one kiln takes no longer together than until the end.

    Parameters
    ----------
    model : CpModel
        Gets the constraint.
    loads : sequence of (BoolVar, duration)
        What may be done there [slots].
    end : linear expression
        When all is done [slots].

    References
    ----------
    Follows from one thing at a time; it lets the solver's relaxation see the load.
    """
    model.add(sum(duration * literal for literal, duration in loads) <= end)
