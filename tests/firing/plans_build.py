"""Builders of plans for tests: a studio with work for its kilns, and an accepted plan."""

import datetime as dt

from firing.kiln_time.services import bookings
from firing.loads.selectors.planned import planned_firings, standing_plan
from firing.models import Plan, PlannedFiring
from firing.plans.selectors.planning import compute
from firing.plans.services import acceptance, plans
from studio.models import Layer, Piece
from studio.services import layers
from tests import make

UNITS = 20_000
# A Monday, early: nobody is in yet.
MONDAY = dt.datetime(2026, 3, 2, 10, 0, tzinfo=dt.UTC)
DAY = dt.timedelta(days=1)
# As facts were stored before they had kinds and a version.
OLD_FACTS = {
    "booking:3": ["Heron|2026-03-03T10:00:00+00:00|x|fixed|running|", "“Bowls”"],
    "pass:45": ["planned|in the plan", "Layer 1 of Reed bed, pass 1"],
}


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
    acceptance.accept_plan(
        plan=plan, option=plan.options[0]["name"], by=cast.owner, at=at
    )
    return standing_plan(cast.studio)


def planned(cast) -> list[PlannedFiring]:
    """Return the planned firings of the standing plan, by time."""
    return list(planned_firings(cast.studio))


def rented_out(cast, row: dict, *, by=None):
    """Book the time of a firing on record in a plan for somebody else's bowls."""
    return bookings.book_kiln(
        studio=cast.studio,
        kiln=cast.kiln,
        kind="rental",
        title="Bowls",
        starts_at=dt.datetime.fromisoformat(row["starts_at"]),
        ends_at=dt.datetime.fromisoformat(row["ends_at"]),
        by=by,
        at=MONDAY,
    )


def lose_a_layer(cast, piece, *, number=1, at: dt.datetime = MONDAY) -> None:
    """Lose a layer that was burnt: it is made again."""
    layers.make_again(
        layer=Layer.across_studios.get(piece=piece, number=number),
        reason="Cracked on the light table",
        by=cast.owner,
        at=at,
    )


def burnt(cast, piece, *, numbers, at: dt.datetime = MONDAY) -> None:
    """Record layers of a piece as painted and burnt on."""
    for of_pass in make.passes_of(piece):
        if of_pass.sheet.layer.number in numbers:
            layers.record_painted(passes=[of_pass], by=cast.owner, at=at, minutes=60)
            layers.record_outcome(of_pass=of_pass, outcome="fine", by=cast.owner, at=at)


def again(cast, *, at: dt.datetime = MONDAY) -> Plan:
    """Order a re-plan and do it here."""
    plan = plans.ask_for_plan(studio=cast.studio, wish="again", by=cast.owner, at=at)
    made = compute(plan, now=at, watch=lambda _: None, fence=lambda: False, units=UNITS)
    plans.keep_plan(plan=plan, made=made, at=at)
    return plan
