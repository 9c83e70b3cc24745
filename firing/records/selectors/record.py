"""A piece's record in words: what a collector, an insurer or a restorer asks for."""

from dataclasses import dataclass

from firing.loads.selectors.firings import FiringView, firings_of_piece, view_firings
from firing.models import Judgement
from firing.readings.selectors.verdict_inputs import judging_of
from firing.readings.selectors.verdict_words import verdict_line
from firing.schedules.selectors.stress_words import nanometres
from firing.schedules.selectors.verdict_numbers import numbers_of
from studio.models import Picture, PieceEventKind, PieceRecord
from studio.selectors.pictures import depth_pictures_of
from studio.selectors.piece_record import final_size_words
from studio.selectors.pieces import LayerView, PieceView
from studio.viewer import Viewer, count_words

SEEN_FROM = (
    "Seen through the edges. What polarisers show there depends on the shape of the "
    "piece and on how its edges are ground: it tells a badly annealed piece from a "
    "good one, and is no certificate."
)
# Common practice, no source.
USUAL_CARE = (
    "Dust with a soft, dry cloth. Wash with lukewarm water and a little mild soap, "
    "without scouring. Keep it from sudden heat or cold: glass cracks when one part is "
    "much warmer than another."
)

UNSURE = "No readings were judged, so nothing is computed to hold it against."


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerLine:
    """A layer of the finished stack, from the back, and its newest picture."""

    number: int
    title: str
    made: str
    picture: Picture | None


@dataclass(frozen=True, slots=True, kw_only=True)
class FiringLine:
    """A firing of the piece or of its layers; `verdict` is empty unless it was judged."""

    view: FiringView
    judgement: Judgement | None
    title: str
    when: str
    verdict: str = ""
    kind: str = ""
    """The shape of the verdict's mark."""

    @property
    def is_of_slab(self) -> bool:
        """Return whether the stack was in it: then its curve is shown large."""
        return any(item.piece_id for item in self.view.items)


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordWords:
    """Everything on the record but pictures and curves."""

    title: str
    finished: str
    facts: tuple[tuple[str, str], ...]
    layers: tuple[LayerLine, ...]
    firings: tuple[FiringLine, ...]
    stress: tuple[tuple[str, str], ...]
    compared: str


def record_words(
    view: PieceView, record: PieceRecord, *, viewer: Viewer, has_value: bool
) -> RecordWords:
    """Write a piece's record in a reader's units."""
    piece = view.piece
    ends = [one.at for one in view.events if one.kind == PieceEventKind.FINISHED]
    last = max((one.at for one in view.events), default=piece.created_at)
    found = view_firings(
        firings_of_piece(piece).filter(finished_at__isnull=False),
        viewer=viewer,
        now=last,
    )
    lines = tuple(_firing(one, viewer) for one in reversed(found))
    stress, compared = _stress(lines, record)
    return RecordWords(
        title=piece.title,
        finished=viewer.day(ends[-1]) if ends else "",
        facts=tuple(_facts(view, record, viewer, has_value=has_value)),
        layers=_layers(view, viewer),
        firings=lines,
        stress=stress,
        compared=compared,
    )


def _facts(
    view: PieceView, record: PieceRecord, viewer: Viewer, *, has_value: bool
) -> list[tuple[str, str]]:
    piece = view.piece
    is_measured = record.width_mm or record.height_mm or record.thickness_mm
    size = final_size_words(view, record, viewer)
    computed = f"{viewer.weight(view.weight_kg)} computed"
    if record.weight_kg is not None:
        computed = f"{viewer.weight(record.weight_kg)} weighed, {computed}"
    names = dict.fromkeys(
        material.name
        for layer in view.layers
        for one in layer.passes
        for material in one.materials.all()
    )
    facts = [
        ("Maker", str(piece.maker or piece.studio.name)),
        ("Size", size if is_measured else f"{size}, as planned"),
        ("Weight", computed),
        (
            "Stack",
            f"{count_words(len(view.layers), 'layer')} of {piece.glass.name}, "
            f"fused {'in' if piece.is_dammed else 'without'} a dam",
        ),
        ("Painted and printed with", ", ".join(names)),
        ("Edition", record.edition),
    ]
    if has_value and record.value is not None:
        facts.append(("Value", viewer.money(record.value)))
    return [(word, text) for word, text in facts if text]


def _layers(view: PieceView, viewer: Viewer) -> tuple[LayerLine, ...]:
    pictures = {one.layer_id: one for one in depth_pictures_of(view.piece)}
    return tuple(
        LayerLine(
            number=one.number,
            title=one.layer.title or one.layer.get_technique_display(),
            made=_made(one, viewer),
            picture=pictures.get(one.layer.pk),
        )
        for one in view.layers
    )


def _made(one: LayerView, viewer: Viewer) -> str:
    days = [viewer.day(own.fired_at) for own in one.passes if own.fired_at]
    if not days:
        return ""
    passes = count_words(len(days), "pass", "passes")
    return f"{passes}, burnt on {', '.join(dict.fromkeys(days))}"


def _firing(view: FiringView, viewer: Viewer) -> FiringLine:
    firing, judgement, verdict, kind = view.firing, None, "", ""
    if any(item.piece_id for item in view.items):
        judgement = judging_of(firing).judgement
    if judgement is not None:
        verdict, kind = verdict_line(judgement, viewer)
    starts = firing.started_at or view.booking.starts_at
    ends = firing.finished_at or view.booking.ends_at
    return FiringLine(
        view=view,
        judgement=judgement,
        title=f"{firing.get_kind_display()}, {firing.kiln.name}",
        when=f"{viewer.day(starts)} to {viewer.day(ends)}",
        verdict=verdict,
        kind=kind,
    )


def _stress(
    lines: tuple[FiringLine, ...], record: PieceRecord
) -> tuple[tuple[tuple[str, str], ...], str]:
    """Return what is computed and what was seen, and how they compare."""
    found = []
    # An earlier one tells nothing: the last has annealed the glass anew.
    last = next((one for one in reversed(lines) if one.is_of_slab), None)
    judgement = last.judgement if last else None
    band = numbers_of(judgement).get("retardation_nm_cm") if judgement else None
    if band is not None:
        computed = nanometres(band["low"], band["high"])
        found.append(("Computed from the last firing's readings", computed))
    seen = record.seen_nm_cm
    if seen is not None:
        found.append(("Seen between crossed polarisers", f"{round(seen, 1):g} nm/cm"))
    return tuple(found), _compared(seen, band)


def _compared(seen: float | None, band: dict[str, float] | None) -> str:
    if seen is None:
        return ""
    if band is None:
        return UNSURE
    if seen > band["high"]:
        return (
            "More than computed. Look again in another place; if it stays, the piece "
            "was not annealed as its readings say. Do not cut or drill it."
        )
    if seen < band["low"]:
        return "Less than computed, so on the safe side."
    return "As computed."
