"""Sets a studio's tasks of work by hand."""

from collections.abc import Sequence
from dataclasses import asdict

from studio.labour import Task
from studio.models import BenchTask, Studio


def set_tasks(*, studio: Studio, tasks: Sequence[Task]) -> None:
    """Set the studio's tasks; earlier plans and quotes keep their own.

    The caller holds a transaction and writes the history.
    """
    BenchTask.owned.for_studio(studio).delete()
    BenchTask.across_studios.bulk_create(
        BenchTask(
            studio=studio,
            number=number,
            **{k: v for k, v in asdict(task).items() if k != "factor"},
        )
        for number, task in enumerate(tasks, start=1)
    )
