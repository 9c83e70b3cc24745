"""Builders of plans for tests: a studio with work for its kilns, and a plan taken."""

import datetime as dt

from firing.models import Plan
from firing.selectors.planned import standing_plan
from firing.services import plans
from studio.models import Piece
from tests import make

UNITS = 20_000
# A Monday, early: nobody is in yet.
MONDAY = dt.datetime(2026, 3, 2, 10, 0, tzinfo=dt.UTC)
DAY = dt.timedelta(days=1)


def work(cast, *, titles: tuple[str, ...] = ("Reed bed",), layers: int = 4) -> Piece:
    """Plan pieces that the owner paints; return the first."""
    made = [
        make.piece(
            studio=cast.studio,
            glass=cast.glass,
            layers=layers,
            title=title,
            by=cast.owner,
            at=MONDAY,
        )
        for title in titles
    ]
    Piece.owned.for_studio(cast.studio).update(maker=cast.owner)
    return made[0]


def made(cast, *, at: dt.datetime = MONDAY) -> Plan:
    """Make a plan that waits to be taken."""
    return plans.plan_at_once(studio=cast.studio, by=cast.owner, at=at, units=UNITS)


def accepted(cast, *, at: dt.datetime = MONDAY) -> Plan:
    """Make a plan and take it."""
    plan = made(cast, at=at)
    plans.accept_plan(plan=plan, option=plan.options[0]["name"], by=cast.owner, at=at)
    return standing_plan(cast.studio)
