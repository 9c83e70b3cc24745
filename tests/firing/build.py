"""Builders of firings for tests: painted passes, checked stacks, bookings."""

import datetime as dt

from firing.firings.services import firings
from firing.kiln_time.services import bookings
from firing.loads.selectors.known import ReadByHand
from firing.models import Booking, Firing, Schedule
from firing.schedules.services import schedules
from studio.models import Kiln, Pass, Piece, Studio
from studio.services import layers, pieces
from tests import make
from tests.make import NOW

# Said when a test unloads a kiln that its plan would keep closed.
READ_COLD = ReadByHand(shown_c=30.0, is_confirmed=True)

HOUR = dt.timedelta(hours=1)


def painted(piece: Piece, *, by=None, at: dt.datetime = NOW) -> list[Pass]:
    """Paint the first pass of every layer that has one, and return those passes."""
    first = [p for p in make.passes_of(piece) if p.number == 1]
    for of_pass in first:
        layers.record_painted(passes=[of_pass], by=by, at=at, minutes=45)
    return [p for p in make.passes_of(piece) if p.number == 1]


def stacked(
    *, studio: Studio, glass, layer_count: int = 9, title: str = "Reed bed", by=None
) -> Piece:
    """Make a piece whose layers are done and whose stack was checked."""
    piece = make.piece(studio=studio, glass=glass, layers=layer_count, title=title)
    make.paint_and_fire(piece, by=by)
    pieces.check_stack(
        piece=piece,
        layers_counted=layer_count,
        measured_height_mm=layer_count * glass.sheet_thickness_mm,
        is_order_right=True,
        by=by,
        at=NOW,
    )
    return piece


def booking(
    *,
    kiln: Kiln,
    starts_at: dt.datetime = NOW,
    hours: float = 5,
    title: str = "Rental",
    kind: str = "rental",
    at: dt.datetime = NOW,
) -> Booking:
    return bookings.book_kiln(
        studio=kiln.studio,
        kiln=kiln,
        kind=kind,
        title=title,
        starts_at=starts_at,
        ends_at=starts_at + hours * HOUR,
        by=None,
        at=at,
    )


def enamel(
    *, kiln: Kiln, glass, layers: int = 3, starts_at: dt.datetime = NOW, title="Ebb"
) -> Firing:
    """Make up an enamel firing of a new piece's painted layers."""
    piece = make.piece(studio=kiln.studio, glass=glass, layers=layers, title=title)
    return firings.make_up_enamel_firing(
        studio=kiln.studio,
        kiln=kiln,
        passes=painted(piece),
        starts_at=starts_at,
        by=None,
        at=NOW,
    )


def schedule(*, piece: Piece, kiln: Kiln, rule: str = "next row", **more) -> Schedule:
    return schedules.compute_fuse_schedule(
        piece=piece, kiln=kiln, rule=rule, by=None, at=NOW, **more
    )


def fuse(
    *,
    piece: Piece,
    kiln: Kiln,
    starts_at: dt.datetime = NOW,
    rule: str = "next row",
    **more,
) -> Firing:
    return firings.book_fuse(
        piece=piece,
        kiln=kiln,
        schedule=schedule(piece=piece, kiln=kiln, rule=rule, **more),
        starts_at=starts_at,
        by=None,
        at=NOW,
    )
