"""The only error of reading a log."""

from collections.abc import Sequence

from studio.errors import StudioError

PROBLEMS_SHOWN = 20


class LogProblem(StudioError):
    """A file that was not imported, and why.

    Attributes
    ----------
    problems : list of (int, str)
        Line number and what is wrong there; the first twenty.
    count : int
        How many lines are wrong in all.
    """

    def __init__(self, message: str, problems: Sequence[tuple[int, str]] = ()) -> None:
        super().__init__(message)
        self.problems = list(problems[:PROBLEMS_SHOWN])
        self.count = len(problems)
