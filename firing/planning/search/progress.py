"""What the search tells whoever watches it: the best plan so far and its bounds.

Reports come after a number of work units and never by the clock, so that watching does
not change the plan.
"""

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """The state of a search.

    Attributes
    ----------
    undelivered, weighted_days_late, kwh
        Of the best plan so far; kWh of all its firings.
    least_days_late, least_kwh
        Lower bounds: no plan is better than these.
    tries : int
        Attempts made so far.
    share : float
        Part of the work units that is done, from 0 to 1. A search that has nothing
        left to gain ends before 1.
    """

    undelivered: int
    weighted_days_late: int
    kwh: float
    least_days_late: int
    least_kwh: float
    tries: int
    share: float

    @property
    def is_proved_best(self) -> bool:
        """Say whether the first two aims and the energy meet their bounds."""
        return (
            self.undelivered == 0
            and self.weighted_days_late <= self.least_days_late
            and self.kwh <= self.least_kwh + 1e-6
        )


Report = Callable[[Progress], None]


def nobody(progress: Progress) -> None:
    """Watch nothing.

    Parameters
    ----------
    progress : Progress
        Where the search stands.

    References
    ----------
    Stands in where nobody watches.
    """
