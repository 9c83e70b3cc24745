"""The kiln calendar: the ribbon over some days, filtered, with what is late."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from firing.kiln_time.selectors.at_risk import Risk, risks
from firing.kiln_time.selectors.booking_loads import EMPTY, BookingLoad
from firing.kiln_time.selectors.booking_notes import notes_of
from firing.kiln_time.selectors.kiln_time import KilnState, kiln_states
from firing.kiln_time.selectors.moving import movable
from firing.kiln_time.selectors.ribbons import (
    RANGES,
    Marks,
    Range,
    Ribbons,
    Window,
    bookings_shown,
    kiln_ribbons,
    window,
)
from firing.kiln_time.selectors.standing import StandingTime
from firing.models import Booking
from studio.models import Kiln, Person, Piece, Studio
from studio.selectors.people import people_of
from studio.selectors.pictures import looks_of_layers, looks_of_pieces
from studio.selectors.pieces import piece_titles
from studio.viewer import Viewer

MOST_COMING = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class CalendarFilter:
    """What an address asks the calendar for; unknown keys are ignored."""

    first_day: date | None = None
    range: Range = RANGES[0]
    piece: int | None = None
    person: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Calendar:
    """A ribbon with its filters and what is late in its kilns.

    With all kilns, it also has late pieces that nothing is booked for; with one of them
    what is coming there. Notes are by booking, of what is drawn or coming.
    """

    shown: Window
    states: tuple[KilnState, ...]
    coming: tuple[Booking, ...]
    notes: Mapping[int, list[str]]
    ribbons: Ribbons
    risks: tuple[Risk, ...]
    pieces: tuple[Piece, ...]
    people: tuple[Person, ...]
    piece: Piece | None
    person: Person | None
    wanted_count: int | None
    can_move: bool


def calendar(
    kilns: Sequence[Kiln],
    *,
    asked: CalendarFilter,
    viewer: Viewer,
    now: datetime,
    key: str,
    of_studio: bool,
) -> Calendar:
    """Return the kilns' calendar over the requested days."""
    shown = window(viewer, now, asked.first_day, shown=asked.range)
    own = {kiln.pk for kiln in kilns}
    bookings = [b for b in bookings_shown(viewer, shown) if b.kiln_id in own]
    standing = StandingTime(viewer.studio, now, also=bookings)
    states = kiln_states(kilns, viewer=viewer, now=now, standing=standing)
    coming = () if of_studio else tuple(standing.coming_in(own)[:MOST_COMING])
    loads = {b.pk: standing.loads[b.pk] for b in bookings if b.pk in standing.loads}
    people = tuple(people_of(viewer.studio))
    person = next((one for one in people if one.pk == asked.person), None)
    piece = None
    if asked.piece is not None:
        piece = piece_titles(viewer.studio).filter(pk=asked.piece).first()
    wanted = _wanted(bookings, loads, piece, person)
    found = risks(
        viewer,
        now,
        about=None if of_studio else lambda one: one.kiln_id in own,
        standing=standing,
    )
    told = list({b.pk: b for b in (*bookings, *coming)}.values())
    notes = notes_of(told, viewer=viewer, now=now, loads=standing.loads, found=found)
    can_move = viewer.may_book_kilns
    marks = Marks(
        notes=notes,
        flags={pk: risk.flag for risk in found for pk in risk.bookings},
        movable=frozenset(b.pk for b in bookings if can_move and movable(b, now)),
        wanted=wanted,
        names={pk: load.name for pk, load in loads.items() if load.things},
        pictures=_pictures(viewer.studio, loads),
    )
    choices = {one.pk: one for load in loads.values() for one in load.pieces}
    if piece is not None:
        choices[piece.pk] = piece
    return Calendar(
        shown=shown,
        states=tuple(states),
        coming=coming,
        notes=notes,
        ribbons=kiln_ribbons(
            kilns,
            bookings=bookings,
            marks=marks,
            states=states,
            shown=shown,
            viewer=viewer,
            now=now,
            key=key,
        ),
        risks=found,
        pieces=tuple(sorted(choices.values(), key=lambda one: (one.title, one.pk))),
        people=people,
        piece=piece,
        person=person,
        wanted_count=None if wanted is None else len(wanted),
        can_move=bool(marks.movable),
    )


def _pictures(studio: Studio, loads: Mapping[int, BookingLoad]) -> dict[int, list[str]]:
    """Return the addresses of the pictures of what each booking fires, by the bookings."""
    things = [thing for load in loads.values() for thing in load.things]
    of_layers = looks_of_layers(
        studio, [thing.layer_pk for thing in things if thing.layer_pk is not None]
    )
    of_pieces = looks_of_pieces(
        studio, [thing.piece.pk for thing in things if thing.is_stack]
    )
    found: dict[int, list[str]] = {}
    for pk, load in loads.items():
        for thing in load.things:
            address = (
                of_pieces.get(thing.piece.pk)
                if thing.layer_pk is None
                else of_layers.get(thing.layer_pk)
            )
            if address is not None:
                found.setdefault(pk, []).append(address)
    return found


def _wanted(
    bookings: Sequence[Booking],
    loads: Mapping[int, BookingLoad],
    piece: Piece | None,
    person: Person | None,
) -> frozenset[int] | None:
    if piece is None and person is None:
        return None
    return frozenset(
        b.pk
        for b in bookings
        if (piece is None or _holds(loads.get(b.pk, EMPTY), piece))
        and (person is None or _concerns(b, loads.get(b.pk, EMPTY), person))
    )


def _holds(load: BookingLoad, piece: Piece) -> bool:
    return any(one.pk == piece.pk for one in load.pieces)


def _concerns(booking: Booking, load: BookingLoad, person: Person) -> bool:
    """Return whether somebody made what is in it, booked it, or loaded and started it."""
    firing = getattr(booking, "firing", None)
    hands = {booking.booked_by_id}
    if firing is not None:
        hands |= {firing.made_by_id, firing.started_by_id}
    makers = {one.maker_id for one in load.pieces}
    return person.pk in hands | makers
