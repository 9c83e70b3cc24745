"""The way to CP-SAT: the only module that imports OR-Tools."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ortools.sat.python.cp_model import CpModel, CpSolver
    from ortools.sat.python.cp_model import IntVar as IntVar


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
    """When CP-SAT stops.

    Attributes
    ----------
    deterministic_time : float
        Its own measure of work; the answer depends on this alone.
    seconds : float
        The outer fence.
    """

    deterministic_time: float
    seconds: float
    seed: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class SolverAnswer:
    """Status in CP-SAT's words, value and bound of the objective (None if unknown)."""

    status: str
    value: float | None
    bound: float | None
    solver: "CpSolver"


def solve(model: "CpModel", limits: SolverLimits) -> SolverAnswer:
    """Solve a model with one worker; out of time is an answer, not an error.

    Parameters
    ----------
    model : CpModel
        From `new_model`.
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
    status = solver.solve(model)
    is_known = status in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    return SolverAnswer(
        status=solver.status_name(status),
        value=solver.objective_value if is_known else None,
        bound=solver.best_objective_bound if is_known else None,
        solver=solver,
    )
