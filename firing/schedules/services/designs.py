"""Orders a design from the worker, once for the same inputs while it is open."""

from django.db import transaction

from firing.schedules.selectors.design_orders import (
    DESIGN_JOB,
    as_arguments,
    job_key,
    order_of,
    title_of,
)
from firing.schedules.selectors.designs import DesignAsked, is_ready
from studio import jobs
from studio.models import Studio
from studio.viewer import Viewer


@transaction.atomic
def order_design(*, studio: Studio, asked: DesignAsked, href: str) -> None:
    """Have a design computed in the background, unless it is done or being made.

    `href` is the address to see it at when it is ready.

    Raises
    ------
    PhysicsProblem
        When the request is outside the model.
    """
    order = order_of(studio, asked)
    if order.is_open or is_ready(asked):
        return
    jobs.enqueue(
        studio=studio,
        name=DESIGN_JOB,
        key=job_key(asked),
        title=title_of(asked, Viewer.of_studio(studio)),
        href=href,
        **as_arguments(asked),
    )
