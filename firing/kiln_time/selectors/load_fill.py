"""How full the shelf of an enamel load is, and how many waiting layers still fit."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache

from firing.kiln_time.selectors.booking_loads import BookingLoad, LoadThing, is_started
from firing.loads.selectors.loads import glass_of, share_programme, waiting_passes
from firing.models import Booking
from firing.planning.packing.shelf import Flat, lay_out
from firing.planning.problem import practice
from studio.models import Kiln, Pass
from studio.viewer import Viewer

# Packing is tried with this many waiting sheets; no studio shelf takes more.
MOST_TRIED = 40
# Each is a few numbers.
FITS_KEPT = 4096


@dataclass(frozen=True, slots=True, kw_only=True)
class Fill:
    """How much of a shelf's area is used, and how many more layers fit."""

    share: float
    more: int
    waiting: int

    @property
    def words(self) -> str:
        """Say it in one sentence."""
        used = f"{round(self.share * 100)} % of the shelf is used"
        if not self.waiting:
            return used
        if not self.more:
            return f"{used}; none of the waiting layers would fit as well"
        of_them = "layer" if self.waiting == 1 else "layers"
        would = f"{self.more} more of the {self.waiting} waiting {of_them} would fit"
        return f"{used}; {would}"


def fill_of(kiln: Kiln, load: BookingLoad, waiting: Sequence[Pass]) -> Fill:
    """Return how full a load leaves a kiln's shelf, and how many waiting layers fit.

    Only layers whose glass may share the load's programme count as waiting.
    """
    things = [thing for thing in load.things if not thing.is_stack]
    inside = {thing.pass_pk for thing in things}
    together = [
        one
        for one in waiting
        if one.pk not in inside
        and all(share_programme(glass_of(one), thing.glass) for thing in things)
        and glass_of(one).enamel_c <= kiln.max_temperature_c
    ][:MOST_TRIED]
    area = kiln.shelf_width_mm * kiln.shelf_depth_mm
    used = sum(thing.piece.width_mm * thing.piece.height_mm for thing in things)
    return Fill(
        share=used / area, more=_more(kiln, things, together), waiting=len(together)
    )


def _more(kiln: Kiln, things: Sequence[LoadThing], waiting: Sequence[Pass]) -> int:
    """Count how many waiting sheets can be added while everything inside stays."""
    sides = tuple((one.piece.width_mm, one.piece.height_mm) for one in things)
    added = 0
    refused: set[tuple[float, float]] = set()
    for one in waiting:
        piece = one.sheet.layer.piece
        size = (piece.width_mm, piece.height_mm)
        if size in refused:
            continue
        tried = (*sides, size)
        if not _all_fit(tried, kiln.shelf_width_mm, kiln.shelf_depth_mm):
            refused.add(size)
            continue
        sides = tried
        added += 1
    return added


@lru_cache(maxsize=FITS_KEPT)
def _all_fit(
    sides: tuple[tuple[float, float], ...], width_mm: float, depth_mm: float
) -> bool:
    """Say whether sheets go onto a shelf together: searched for once, asked often."""
    flats = [
        Flat(key=n, width_mm=width, depth_mm=depth)
        for n, (width, depth) in enumerate(sides)
    ]
    load = lay_out(
        flats, width_mm=width_mm, depth_mm=depth_mm, gap_mm=practice.SHEET_GAP_MM
    )
    return not load.left_out


def fill_words(
    bookings: Sequence[Booking],
    loads: Mapping[int, BookingLoad],
    viewer: Viewer,
    now: datetime,
) -> dict[int, str]:
    """Say how full the shelf of each enamel load is that is still to be started."""
    open_loads = [
        b
        for b in bookings
        if b.pk in loads
        and loads[b.pk].is_enamel
        and loads[b.pk].things
        and not is_started(b)
        and b.ends_at > now
    ]
    if not open_loads:
        return {}
    waiting = list(waiting_passes(viewer.studio))
    return {b.pk: fill_of(b.kiln, loads[b.pk], waiting).words for b in open_loads}
