"""Painted passes waiting for the kiln, and which of them one load takes."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from django.db.models import Exists, OuterRef

from firing.loads.selectors.firings import standing_items
from firing.planning.packing.shelf import Flat, Placed, fits_alone, lay_out
from firing.planning.problem import practice
from studio.models import Glass, Kiln, Pass, PieceEventKind, Studio
from studio.selectors.pieces import standing_events
from studio.tenancy import StudioQuerySet
from studio.viewer import Viewer


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidPass:
    """A pass and where its sheet is on the shelf."""

    of_pass: Pass
    placed: Placed


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """A pass that does not go into this load, and why."""

    of_pass: Pass
    reason: str
    is_for_want_of_room: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadPlan:
    """What goes onto one kiln's shelf."""

    kiln: Kiln
    glass: Glass | None
    laid: tuple[LaidPass, ...]
    left_out: tuple[LeftOut, ...]


def waiting_passes(studio: Studio) -> StudioQuerySet[Pass]:
    """Return the painted passes that are in no load, by piece and layer."""
    lost = standing_events().filter(
        piece=OuterRef("sheet__layer__piece"), kind=PieceEventKind.LOST
    )
    in_load = standing_items(studio).filter(of_pass=OuterRef("pk"))
    return (
        Pass.owned.for_studio(studio)
        .filter(
            ~Exists(lost),
            ~Exists(in_load),
            painted_at__isnull=False,
            outcome="",
            sheet__set_aside_at__isnull=True,
            sheet__layer__taken_out_at__isnull=True,
            sheet__layer__piece__stopped_at__isnull=True,
        )
        .select_related("sheet__layer__piece__studio", "sheet__layer__glass")
        .order_by("sheet__layer__piece__title", "sheet__layer__number", "pk")
    )


def share_programme(one: Glass, other: Glass) -> bool:
    """Return whether sheets of two glasses may share one enamel programme."""
    return (
        abs(one.enamel_c - other.enamel_c) < practice.SAME_PROGRAMME_K
        and abs(one.anneal_soak_c - other.anneal_soak_c) < practice.SAME_PROGRAMME_K
    )


def glass_of(of_pass: Pass) -> Glass:
    """Return the glass that a pass is painted on."""
    glass: Glass = of_pass.sheet.layer.glass
    return glass


def flat_of(of_pass: Pass) -> Flat:
    """Return a pass's sheet as it is placed on a shelf."""
    piece = of_pass.sheet.layer.piece
    return Flat(key=of_pass.pk, width_mm=piece.width_mm, depth_mm=piece.height_mm)


def plan_load(
    *, kiln: Kiln, passes: Sequence[Pass], glass: Glass | None, viewer: Viewer
) -> LoadPlan:
    """Place as many of the passes as go together into a kiln.

    `glass` sets the programme; without one, the glass of the first pass does.
    """
    glass = glass or (glass_of(passes[0]) if passes else None)
    left_out, together = [], []
    for of_pass in passes:
        reason = _reason_alone(of_pass, kiln=kiln, glass=glass, viewer=viewer)
        if reason:
            left_out.append(LeftOut(of_pass=of_pass, reason=reason))
        else:
            together.append(of_pass)
    load = lay_out(
        [flat_of(p) for p in together],
        width_mm=kiln.shelf_width_mm,
        depth_mm=kiln.shelf_depth_mm,
        gap_mm=practice.SHEET_GAP_MM,
    )
    places = {placed.key: placed for placed in load.placed}
    left_out += [
        LeftOut(
            of_pass=p,
            reason="No room left on the shelf; it waits for another load.",
            is_for_want_of_room=True,
        )
        for p in together
        if p.pk not in places
    ]
    return LoadPlan(
        kiln=kiln,
        glass=glass,
        laid=tuple(
            LaidPass(of_pass=p, placed=places[p.pk]) for p in together if p.pk in places
        ),
        left_out=tuple(left_out),
    )


def fitting(passes: Sequence[Pass], kiln: Kiln, *, viewer: Viewer) -> list[Pass]:
    """Return as many of the passes as go together into a kiln, in their order."""
    load = plan_load(kiln=kiln, passes=passes, glass=None, viewer=viewer)
    return [one.of_pass for one in load.laid]


def left_out_beside(
    load: LoadPlan, others: Sequence[Pass], *, viewer: Viewer
) -> list[LeftOut]:
    """Return what of a load has no place, and which others would have none beside it.

    Each of the others is tried alone with the load; those of one size are tried once.
    """
    laid = [one.of_pass for one in load.laid]
    found = list(load.left_out)
    tried: dict[tuple[int, float, float], LeftOut | None] = {}
    for one in others:
        flat = flat_of(one)
        like = (glass_of(one).pk, flat.width_mm, flat.depth_mm)
        if like not in tried:
            plan = plan_load(
                kiln=load.kiln, passes=[*laid, one], glass=load.glass, viewer=viewer
            )
            tried[like] = next(iter(plan.left_out), None)
        if (out := tried[like]) is not None:
            found.append(replace(out, of_pass=one))
    return found


def _reason_alone(
    of_pass: Pass, *, kiln: Kiln, glass: Glass | None, viewer: Viewer
) -> str:
    own = glass_of(of_pass)
    if glass is not None and not share_programme(own, glass):
        return (
            f"It is {own.name}, whose enamel is burnt on at "
            f"{viewer.temperature(own.enamel_c)} and annealed at "
            f"{viewer.temperature(own.anneal_soak_c)}, not like {glass.name}. Give it "
            "a firing of its own."
        )
    if own.enamel_c > kiln.max_temperature_c:
        return (
            f"It needs {viewer.temperature(own.enamel_c)} and {kiln} reaches "
            f"{viewer.temperature(kiln.max_temperature_c)}."
        )
    flat = flat_of(of_pass)
    if not fits_alone(flat, width_mm=kiln.shelf_width_mm, depth_mm=kiln.shelf_depth_mm):
        return (
            f"{viewer.size(flat.width_mm, flat.depth_mm)} is larger than the shelf "
            f"({viewer.size(kiln.shelf_width_mm, kiln.shelf_depth_mm)})."
        )
    return ""


def best_kiln(
    *, kilns: Sequence[Kiln], passes: Sequence[Pass], viewer: Viewer
) -> Kiln | None:
    """Return the kiln that takes most of the passes; if equal, the smallest shelf."""
    return max(
        kilns,
        key=lambda kiln: (
            len(fitting(passes, kiln, viewer=viewer)),
            -kiln.shelf_width_mm * kiln.shelf_depth_mm,
            -kiln.pk,
        ),
        default=None,
    )
