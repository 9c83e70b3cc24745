"""Designs ordered from the worker: the state of an order, and its progress."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from firing.models import FiringKind
from firing.physics.limits import Limits
from firing.schedules.selectors.designs import DesignAsked, fingerprint
from studio.jobs import last_with_key
from studio.models import Glass, Job, JobState, Kiln, Studio
from studio.viewer import Viewer

DESIGN_JOB = "firing.design"
SHOWN_FOR = timedelta(days=2)
MOST_SHOWN, MOST_READ = 8, 40
# Orders finished this recently must be found; older ones are deleted.
JUST_COMPUTED = timedelta(minutes=10)
LOST_WORDS = (
    "The worker computed it, but it cannot be found. Whoever runs the server sees to it "
    "that web server and worker are of one version and share the store of designs."
)


class OutOfTime(Exception):
    """A design takes longer than its page can wait."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """The last order for one design, if there was any."""

    job: Job | None

    @property
    def is_open(self) -> bool:
        """Return whether the worker still has to do it."""
        return self.job is not None and not self.job.is_over

    def problem(self, now: datetime) -> str:
        """Say why there is still no design although the worker has finished.

        Empty when it did not fail, and when it was so long ago that the design has been
        deleted since.
        """
        if self.job is None or not self.job.is_over:
            return ""
        if self.job.state == JobState.FAILED:
            return str(self.job.error)
        finished_at = self.job.finished_at
        is_fresh = finished_at is not None and now - finished_at < JUST_COMPUTED
        return LOST_WORDS if is_fresh else ""

    @property
    def progress(self) -> str:
        """Return the worker's progress, in its own words."""
        return "" if self.job is None else str(self.job.progress)


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderRow:
    """An order as a list shows it."""

    title: str
    href: str
    state: str
    kind: str


def job_key(asked: DesignAsked) -> str:
    """Return the key of the orders for one design.

    Raises
    ------
    PhysicsProblem
        When the request is outside the model: then there is nothing to order.
    """
    return f"design {fingerprint(asked)}"


def order_of(studio: Studio, asked: DesignAsked) -> Order:
    """Return where the last order for a design stands.

    Raises
    ------
    PhysicsProblem
        As `job_key`.
    """
    return Order(job=last_with_key(studio, job_key(asked)))


def as_arguments(asked: DesignAsked) -> dict[str, object]:
    """Return the request as plain values, for a job."""
    return {
        "kind": asked.kind,
        "thickness_mm": asked.thickness_mm,
        "glass_id": asked.glass.pk,
        "kiln_id": asked.kiln.pk,
        "is_dammed": asked.is_dammed,
        "limits_pa": [
            asked.limits.temporary_pa,
            asked.limits.residual_pa,
            asked.limits.warning_pa,
        ],
        "is_alone": asked.is_alone,
        "there_mpa": asked.there_mpa,
        "longest_mm": asked.longest_mm,
    }


def from_arguments(studio: Studio, given: dict[str, Any]) -> DesignAsked | None:
    """Return the request; none when its glass or kiln is gone."""
    glass = Glass.owned.for_studio(studio).filter(pk=given["glass_id"]).first()
    kiln = Kiln.owned.for_studio(studio).filter(pk=given["kiln_id"]).first()
    if glass is None or kiln is None:
        return None
    temporary_pa, residual_pa, warning_pa = given["limits_pa"]
    return DesignAsked(
        kind=given["kind"],
        thickness_mm=given["thickness_mm"],
        glass=glass,
        kiln=kiln,
        is_dammed=given["is_dammed"],
        limits=Limits(
            temporary_pa=temporary_pa, residual_pa=residual_pa, warning_pa=warning_pa
        ),
        is_alone=given["is_alone"],
        # Orders from an earlier version have none.
        there_mpa=given.get("there_mpa", 0.0),
        longest_mm=given.get("longest_mm"),
    )


def title_of(asked: DesignAsked, viewer: Viewer) -> str:
    """Return a design's name in a list."""
    return (
        f"{FiringKind(asked.kind).label} of {viewer.length(asked.thickness_mm)} of "
        f"{asked.glass} in {asked.kiln}"
    )


def recent_orders(studio: Studio, now: datetime) -> Sequence[OrderRow]:
    """Return the worker's designs, waiting and recent, newest first.

    A design that was ordered twice is listed once.
    """
    states = {
        JobState.WAITING: ("waits for its turn", "waiting"),
        JobState.RUNNING: ("being computed", "doing"),
        JobState.DONE: ("ready", "done"),
        JobState.FAILED: ("could not be computed", "problem"),
    }
    found = (
        Job.owned.for_studio(studio)
        .filter(name=DESIGN_JOB, created_at__gte=now - SHOWN_FOR)
        .order_by("-created_at", "-pk")
    )
    newest: dict[str, Job] = {}
    for job in found[:MOST_READ]:
        newest.setdefault(job.arguments["href"], job)
    rows = []
    for job in list(newest.values())[:MOST_SHOWN]:
        words, kind = states[JobState(job.state)]
        progress = f", {job.progress}" if job.progress else ""
        rows.append(
            OrderRow(
                title=job.arguments["title"],
                href=job.arguments["href"],
                state=f"{words}{progress}",
                kind=kind,
            )
        )
    return rows
