"""How late pieces must come when they share people and kilns: a bound from below.

Every piece needs so much of each resource, after it can first be had and before the day
of delivery that is wanted. Whatever set of pieces comes by its days, what it needs
between any two days must be there. That is asked here; when exactly, and in which order,
is not.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, floor
from typing import TYPE_CHECKING

from firing.planning.problem.problem import SLOTS_PER_DAY, SLOTS_PER_WEEK
from firing.planning.problem.problem_tables import Facts, PieceFacts
from firing.planning.proofs.bounds import (
    day_after_fuse,
    day_from_fuse,
    earliest_delivery_alone,
    stages_alone,
    worked_alone,
)
from firing.planning.proofs.model import SolverLimits, new_model, solve

if TYPE_CHECKING:
    from firing.planning.proofs.model import IntVar

# Amounts are counted in hundredths of a slot, so that shares of a shelf are whole.
PARTS = 100
# A piece later than this counts as this late, which keeps the bound below.
MOST_LATE = 120
# Up to this many pieces are in one model; beyond it, each artist's pieces have their
# own.
MOST_TOGETHER = 80


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """What one piece needs of one resource.

    Attributes
    ----------
    amount : int
        Hundredths of slots.
    first_day : int
        No part of it is done before this day.
    day_if_on : tuple of int
        By day of the plan: when the piece comes, at the earliest, if some of this is
        still done on that day. It never falls.
    """

    piece: int
    amount: int
    first_day: int
    day_if_on: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Resource:
    """Who or what is shared; `per_day` in hundredths of slots, and the weekly limit."""

    per_day: tuple[int, ...]
    weekly_limit: int | None
    needs: tuple[Need, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rush:
    """Needs that do not all fit between two days: per piece, amount and delivery day.

    A piece that comes by its day needs its amount there; the sum is at most `most`.
    """

    needs: tuple[tuple[int, int, int], ...]
    most: int


def least_lateness(facts: Facts, limits: SolverLimits) -> int:
    """Return a bound of the weighted days late of any plan that delivers every piece.

    Proof: take such a plan. For days a and b and one resource, each piece that comes by
    a day on which it could not come with this need still open after b has the whole
    need done by b; if it cannot begin before a, wholly between a and b. The needs of
    all these pieces lie there together, so they are at most what the resource has
    between a and b. The plan's days keep every such sum; the least weighted lateness
    of days that keep them (or the solver's own bound of it) is therefore no more than
    the plan's. Sums may be left out, days above a limit counted as the limit, and
    groups of pieces added up, without raising it above the plan.

    Parameters
    ----------
    facts : Facts
        Tables of the problem.
    limits : SolverLimits
        For each group of pieces; its own bound counts when it stops.

    References
    ----------
    Energetic reasoning: intervals of one resource (P. Baptiste, C. Le Pape and
    W. Nuijten 2001, from memory).
    """
    everything = range(len(facts.pieces))
    if len(facts.pieces) <= MOST_TOGETHER:
        groups = [list(everything)]
    else:
        artists = sorted({piece.artist for piece in facts.pieces})
        groups = [
            [n for n in everything if facts.pieces[n].artist == artist]
            for artist in artists
        ]
    alone = [earliest_delivery_alone(facts, piece) for piece in facts.pieces]
    total = 0
    for group in groups:
        rows = [
            (n, alone[n] or 0, piece.due_day, piece.weight)
            for n in group
            if (piece := facts.pieces[n].piece).due_day is not None and piece.weight
        ]
        rushes = [
            rush for resource in resources(facts, group) for rush in rushes_of(resource)
        ]
        total += least_weighted_lateness(
            [(n, max(0, day - due), due, weight) for n, day, due, weight in rows],
            [(rush.needs, rush.most) for rush in rushes],
            most_late=MOST_LATE,
            limits=limits,
        )
    return total


def resources(facts: Facts, group: Sequence[int]) -> list[Resource]:
    """Return what the pieces of a group share: artists, coldworkers, kilns.

    Parameters
    ----------
    facts : Facts
        Tables of the problem.
    group : sequence of int
        Numbers of pieces.

    References
    ----------
    The rules of the plan.
    """
    days = facts.problem.horizon // SLOTS_PER_DAY + 1
    artists: dict[int, list[Need]] = {}
    cold: list[Need] = []
    fuses: list[Need] = []
    firings: list[Need] = []
    for number in group:
        piece = facts.pieces[number]
        stages = stages_alone(facts, piece)
        if stages is None:
            continue
        one = piece.piece

        def needs(
            amount: float,
            ready: int,
            day_from: Callable[[int], int | None],
            number: int = number,
        ) -> Need:
            return Need(
                piece=number,
                amount=floor(amount * PARTS + 1e-6),
                first_day=ready // SLOTS_PER_DAY,
                day_if_on=_days(days, day_from),
            )

        own = artists.setdefault(piece.artist, [])
        labour = sum(p.labour for p in piece.passes)
        if labour:
            own.append(needs(labour, one.release, _PaintedOn(facts, piece)))
        if one.assembly:
            own.append(needs(one.assembly, stages.fired, _AssembledOn(facts, piece)))
        if one.coldwork:
            cold.append(needs(one.coldwork, stages.fused, _FinishedOn(facts, piece)))
        if piece.passes:
            amount = sum(_kiln_slots(facts, piece, p.kind) for p in piece.passes)
            firings.append(needs(amount, one.release, _FiredOn(facts, piece)))
        if one.fuse is not None:
            runs = facts.access.nights(one.fuse.load, one.fuse.run, one.fuse.unload)
            shortest = min((run.end - run.start for run in runs), default=0)
            fuses.append(needs(shortest, stages.assembled, _FusedOn(facts, piece)))
    found = [
        Resource(
            per_day=_free_days(facts, [person], days),
            weekly_limit=facts.people[person].weekly_cap * PARTS,
            needs=tuple(own),
        )
        for person, own in sorted(artists.items())
    ]
    # Together coldworkers have no more than their limits together.
    limits = [facts.people[n].weekly_cap for n in facts.cold_workers]
    found.append(
        Resource(
            per_day=_free_days(facts, facts.cold_workers, days),
            weekly_limit=sum(limits) * PARTS,
            needs=tuple(cold),
        )
    )
    fusing = sorted({kiln for n in group for kiln in facts.pieces[n].fuse_kilns})
    every = list(range(len(facts.kilns)))
    found.append(_kilns(facts, fusing, days, fuses))
    found.append(_kilns(facts, every, days, [*fuses, *firings]))
    return found


def rushes_of(resource: Resource) -> list[Rush]:
    """Return the sums of needs that do not fit, for every first day and last day.

    Parameters
    ----------
    resource : Resource
        With the needs of pieces.

    References
    ----------
    See `least_lateness`.
    """
    found = []
    days = len(resource.per_day)
    for first in sorted({need.first_day for need in resource.needs}):
        inside = [need for need in resource.needs if need.first_day >= first]
        total = sum(need.amount for need in inside)
        most = in_week = 0
        seen = None
        for last in range(first, days - 1):
            if last * SLOTS_PER_DAY % SLOTS_PER_WEEK == 0:
                in_week = 0
            before = in_week
            in_week += resource.per_day[last]
            if resource.weekly_limit is not None:
                in_week = min(in_week, resource.weekly_limit)
            most += in_week - before
            if most >= total:
                break
            # A piece that comes before this day has nothing of it left after `last`.
            rows = tuple(
                (need.piece, need.amount, need.day_if_on[last + 1] - 1)
                for need in inside
            )
            if seen is not None and seen.needs == rows:
                continue
            seen = Rush(needs=rows, most=most)
            found.append(seen)
    return found


def _days(days: int, day_from: Callable[[int], int | None]) -> tuple[int, ...]:
    """Return, per day of the plan, the day of delivery if work goes on on that day."""
    never = days + 2 * MOST_LATE
    found = []
    latest: int | None = 0
    for day in range(days):
        if latest is not None:
            latest = day_from(day * SLOTS_PER_DAY)
        found.append(never if latest is None else latest)
    return tuple(found)


@dataclass(frozen=True, slots=True)
class _PaintedOn:
    facts: Facts
    piece: PieceFacts

    def __call__(self, slot: int) -> int | None:
        done = worked_alone(self.facts, self.piece.artist, slot, 1)
        if done is None:
            return None
        ends = []
        for kind in sorted({p.kind for p in self.piece.passes}):
            one = self.facts.kinds[kind]
            run = self.facts.access.run_from(done, one.load, one.run, one.unload)
            if run is not None:
                ends.append(run.end)
        if not ends:
            return None
        return _FiredOn(self.facts, self.piece)(min(ends) - 1)


@dataclass(frozen=True, slots=True)
class _FiredOn:
    facts: Facts
    piece: PieceFacts

    def __call__(self, slot: int) -> int | None:
        labour = self.piece.piece.assembly
        done = worked_alone(self.facts, self.piece.artist, slot + 1, labour)
        if done is None:
            return None
        return day_from_fuse(self.facts, self.piece, done)


@dataclass(frozen=True, slots=True)
class _AssembledOn:
    facts: Facts
    piece: PieceFacts

    def __call__(self, slot: int) -> int | None:
        done = worked_alone(self.facts, self.piece.artist, slot, 1)
        if done is None:
            return None
        return day_from_fuse(self.facts, self.piece, done)


@dataclass(frozen=True, slots=True)
class _FusedOn:
    facts: Facts
    piece: PieceFacts

    def __call__(self, slot: int) -> int | None:
        return day_after_fuse(self.facts, self.piece, slot + 1)


@dataclass(frozen=True, slots=True)
class _FinishedOn:
    facts: Facts
    piece: PieceFacts

    def __call__(self, slot: int) -> int | None:
        return slot // SLOTS_PER_DAY + self.piece.piece.ship_days


def _kiln_slots(facts: Facts, piece: PieceFacts, kind: int) -> float:
    """Return the least share of a kiln times time that one pass takes up."""
    shares = []
    for kiln in range(len(facts.kilns)):
        if piece.kilns_for[kind] >> kiln & 1:
            shelf = facts.shelves[kiln][kind]
            shares.append(shelf.areas[piece.size] / (shelf.width * shelf.depth))
    runs = facts.nights[kind]
    shortest = min((run.end - run.start for run in runs), default=0)
    return min(shares, default=0.0) * shortest


def _free_days(facts: Facts, people: Sequence[int], days: int) -> tuple[int, ...]:
    free = [0] * days
    for person in people:
        hours = facts.empty_hours[person]
        for start, end in zip(hours.starts, hours.ends, strict=True):
            for slot in range(start, end):
                free[slot // SLOTS_PER_DAY] += PARTS
    return tuple(free)


def _kilns(
    facts: Facts, kilns: Sequence[int], days: int, needs: Sequence[Need]
) -> Resource:
    free = [SLOTS_PER_DAY * len(kilns)] * days
    for kiln in kilns:
        for start, end in facts.closed[kiln]:
            for slot in range(max(start, 0), min(end, days * SLOTS_PER_DAY)):
                free[slot // SLOTS_PER_DAY] -= 1
    return Resource(
        per_day=tuple(PARTS * slots for slots in free),
        weekly_limit=None,
        needs=tuple(needs),
    )


def least_weighted_lateness(
    pieces: Sequence[tuple[int, int, int, int]],
    rushes: Sequence[tuple[Sequence[tuple[int, int, int]], int]],
    *,
    most_late: int,
    limits: SolverLimits,
) -> int:
    """Return a bound of the weighted days late of pieces that compete for time.

    Parameters
    ----------
    pieces : sequence of (piece, days late alone, due day, weight)
        Those that can be late.
    rushes : sequence of (needs, most)
        Needs are (piece, amount, day): the sum of the amounts of the pieces that come
        by their day is at most `most`.
    most_late : int
        Days late count up to this many.
    limits : SolverLimits
        When it stops, its bound counts.

    References
    ----------
    One literal per piece and day late; see `least_lateness` for what it proves.
    """
    model = new_model()
    later: dict[int, list[IntVar]] = {}
    due_of: dict[int, int] = {}
    costs, fixed = [], 0
    for number, alone, due, weight in pieces:
        least = min(alone, most_late)
        # later[n][k]: it comes more than `least + k` days late.
        literals = [model.new_bool_var("") for _ in range(most_late - least)]
        for one, two in pairwise(literals):
            model.add_implication(two, one)
        later[number] = literals
        due_of[number] = due + least
        fixed += weight * least
        costs += [weight * literal for literal in literals]
    for needs, most in rushes:
        terms, total = [], 0
        for number, amount, day in needs:
            if number not in later or day < due_of[number]:
                continue
            at = day - due_of[number]
            if at < len(later[number]):
                terms.append((later[number][at], amount))
                total += amount
        if total > most:
            model.add(sum(amount * one for one, amount in terms) >= total - most)
    model.minimize(sum(costs))
    answer = solve(model, limits)
    if answer.bound is None and answer.status != "OPTIMAL":
        # Stopped before there was any answer; its bound is known all the same.
        bound = float(answer.solver.best_objective_bound)
    else:
        bound = answer.bound or 0.0
    return fixed + max(0, ceil(bound - 1e-6))
