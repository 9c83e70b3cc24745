"""Answers with a design at once if it is quick, else has the worker compute it.

Only a POST to the same address orders it: looking at a page orders nothing. The page
then shows the progress and takes in the result. Its address holds the whole request, so
people can leave it and find it again.
"""

import time
from collections.abc import Callable
from typing import TypeVar

from django.conf import settings
from django.utils import timezone

from firing.schedules.selectors.design_orders import Order, OutOfTime, order_of
from firing.schedules.selectors.designs import DesignAsked, is_ready
from firing.schedules.selectors.stress import Told
from firing.schedules.services.designs import order_design
from studio.http import StudioRequest

LONG_WORDS = "This one takes longer: heat and stress are being computed."
ASK_WORDS = "This one takes longer. Heat and stress are computed in the background."

# What only one visit needs of an address.
ONE_VISIT = ("last_h", "part", "only")

Found = TypeVar("Found")
Job = dict[str, str]


def within_the_budget() -> Told:
    """Return what ends a design that takes longer than a page may.

    Raises
    ------
    OutOfTime
        By what is returned, once the time is over.
    """
    ends = time.monotonic() + settings.DESIGN_BUDGET_SECONDS

    def told(_: int) -> None:
        if time.monotonic() > ends:
            raise OutOfTime

    return told


def in_time(
    request: StudioRequest, asked: DesignAsked, compute: Callable[[Told], Found]
) -> tuple[Found | None, Job | None]:
    """Return what `compute` finds within the budget, else how its order stands.

    Raises
    ------
    StudioError
        As `compute`.
    """
    href = address_of(request)
    if request.method == "POST":
        order_design(studio=request.studio, asked=asked, href=href)
    if not is_ready(asked):
        order = order_of(request.studio, asked)
        if order.is_open:
            return None, _making(order, href)
        problem = order.problem(timezone.now())
        if problem:
            return None, _failed(problem, href)
    try:
        return compute(within_the_budget()), None
    except OutOfTime:
        return None, {"state": "none", "text": ASK_WORDS, "url": href}


def address_of(request: StudioRequest) -> str:
    """Return the address of a request, without what only one visit needs."""
    kept = request.GET.copy()
    for name in ONE_VISIT:
        kept.pop(name, None)
    return f"{request.path}?{kept.urlencode()}"


def _making(order: Order, href: str) -> Job:
    text = f"{LONG_WORDS} {order.progress}." if order.progress else LONG_WORDS
    return {"state": "making", "text": text, "url": href}


def _failed(problem: str, href: str) -> Job:
    return {
        "state": "failed",
        "text": f"It could not be computed. {problem}",
        "url": href,
    }
