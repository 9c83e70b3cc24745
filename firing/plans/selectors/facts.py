"""Reads the facts a plan is computed from; `events` says what changed.

Facts are the studio's rows: what is in the kilns, passes of open pieces, people, hours,
closures, promised dates. Two plans made from equal facts need no further comparison.
"""

from collections.abc import Iterator
from datetime import datetime

from firing.kiln_time.selectors.bookings import bookings
from firing.loads.selectors.firings import running_firings
from firing.models import BookingKind
from firing.plans.selectors.fact_kinds import (
    AnnealFact,
    AwayFact,
    BenchFact,
    BookingFact,
    ClosureFact,
    Fact,
    Facts,
    HoursFact,
    InsideFact,
    KilnFact,
    PassFact,
    PersonFact,
    PieceFact,
    SheetFact,
    UncutFact,
    digest,
)
from firing.plans.selectors.places import NOWHERE, Places
from firing.schedules.selectors.fuse_anneal import hours_rule
from studio.labour import Step
from studio.models import AccessHours, Closure, Kiln, Membership, Studio
from studio.selectors.bench_times import tasks_of
from studio.selectors.due_dates import due_dates
from studio.selectors.people import members
from studio.selectors.pieces import LayerView, PieceView, open_pieces

# What people write about a kiln; nothing is computed from it.
KILN_WORDS = frozenset({"name", "offset_how"})


def plan_facts(studio: Studio, now: datetime) -> Facts:
    """Return the facts of a studio that a plan depends on."""
    return FactsRead(studio, now).facts()


class FactsRead:
    """What a plan depends on but does not write, read once: work, people, hours.

    `facts` adds the rest, as it is at the time of asking.
    """

    def __init__(self, studio: Studio, now: datetime) -> None:
        self.studio, self.now = studio, now
        self.views = list(open_pieces(studio))
        self.dates = due_dates(studio)
        self.still = list(self._still())

    def facts(self) -> Facts:
        """Return the facts with the bookings and plans as they are now."""
        places = Places(self.studio)
        found: list[Fact] = [*self._in_kilns()]
        for view in self.views:
            found.append(self._piece(view))
            for layer in view.layers:
                found += _layer(layer, view, places)
        return {(fact.kind, fact.pk): fact for fact in (*found, *self.still)}

    def _piece(self, view: PieceView) -> PieceFact:
        piece = view.piece
        return PieceFact(
            pk=piece.pk,
            stage=view.stage.value,
            width_mm=piece.width_mm,
            height_mm=piece.height_mm,
            thickness_mm=view.height_mm,
            due_date=self.dates.get(piece.pk),
            maker=piece.maker_id,
            title=piece.title,
        )

    def _in_kilns(self) -> Iterator[Fact]:
        standing = bookings(self.studio).filter(
            ends_at__gt=self.now, cancelled_at__isnull=True
        )
        for booking in standing.select_related("kiln", "firing", "planned_firing"):
            firing = getattr(booking, "firing", None)
            yield BookingFact(
                pk=booking.pk,
                kiln=booking.kiln_id,
                starts_at=booking.starts_at,
                ends_at=booking.ends_at,
                is_provisional=booking.is_provisional,
                is_running=firing is not None and firing.started_at is not None,
                is_planned=getattr(booking, "planned_firing", None) is not None,
                is_maintenance=booking.kind == BookingKind.MAINTENANCE,
                title=booking.title,
                kiln_name=booking.kiln.name,
            )
        for firing in running_firings(self.studio):
            yield InsideFact(
                pk=firing.pk,
                is_late=firing.booking.ends_at < self.now,
                title=firing.booking.title,
                kiln_name=firing.kiln.name,
            )

    def _still(self) -> Iterator[Fact]:
        studio = self.studio
        rows = members(studio).select_related("bench_terms")
        for member in rows.prefetch_related("bench_hours", "days_away"):
            yield from _person(member, self.now)
        for kiln in Kiln.owned.for_studio(studio):
            settings = [
                getattr(kiln, f.attname)
                for f in kiln._meta.concrete_fields
                if f.attname not in KILN_WORDS
            ]
            yield KilnFact(pk=kiln.pk, settings_sha256=digest(settings), name=kiln.name)
        closures = Closure.owned.for_studio(studio).filter(ends_at__gt=self.now)
        for closure in closures.select_related("kiln"):
            yield ClosureFact(
                pk=closure.pk,
                kiln=closure.kiln_id,
                starts_at=closure.starts_at,
                ends_at=closure.ends_at,
                kiln_name=closure.kiln.name if closure.kiln else "",
                reason=closure.reason,
            )
        hours = AccessHours.owned.for_studio(studio).order_by("pk")
        yield HoursFact(
            hours_sha256=digest(list(hours.values_list("weekday", "opens", "closes")))
        )
        tasks = [one.as_json() for one in tasks_of(studio) if one.step != Step.AROUND]
        yield BenchFact(tasks_sha256=digest(tasks))
        yield AnnealFact(rule=hours_rule(studio).value)


def _person(member: Membership, now: datetime) -> Iterator[Fact]:
    """Yield a person's role, hours and skills, and each of their times away."""
    name = str(member.person)
    terms = getattr(member, "bench_terms", None)
    hours = [
        [(one.weekday, one.starts, one.ends) for one in member.bench_hours.all()],
        None
        if terms is None
        else [getattr(terms, one.attname) for one in terms._meta.concrete_fields],
    ]
    yield PersonFact(
        pk=member.person_id,
        role=member.role,
        hours_sha256=digest(hours),
        is_active=member.is_active,
        name=name,
    )
    for away in member.days_away.all():
        if away.ends_date >= now.date():
            yield AwayFact(
                pk=away.pk,
                starts_date=away.starts_date,
                ends_date=away.ends_date,
                name=name,
            )


def _layer(view: LayerView, of: PieceView, places: Places) -> Iterator[Fact]:
    layer, piece = view.layer.pk, of.piece
    for sheet in view.earlier_sheets:
        if sheet.set_aside_at is not None:
            yield SheetFact(
                pk=sheet.pk,
                piece=piece.pk,
                layer=view.number,
                title=piece.title,
                reason=sheet.set_aside_reason,
            )
    if view.sheet is None:
        yield UncutFact(
            pk=layer,
            piece=piece.pk,
            layer=view.number,
            title=piece.title,
            place=places.of_uncut(layer),
        )
        return
    for one in view.passes:
        place = places.of(one, layer=layer, attempt=view.sheet.attempt)
        yield PassFact(
            pk=one.pk,
            piece=piece.pk,
            layer=view.number,
            title=piece.title,
            outcome=one.outcome,
            is_painted=one.painted_at is not None,
            place=NOWHERE if one.outcome else place,
            is_repeat=one.is_repeat,
            number=one.number,
        )
