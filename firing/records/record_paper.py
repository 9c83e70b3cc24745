"""The record of a piece on paper: its words, their hash, its pictures and curves."""

from dataclasses import asdict, dataclass
from typing import Any

import segno

from firing.drawings.chart import FiringChart, build_chart
from firing.drawings.chart_input import ChartSize
from firing.drawings.curve_mark import CurveMark
from firing.drawings.paper_style import drawing_style
from firing.loads.selectors.curve_marks import curve_marks
from firing.readings.selectors.verdict_faults import cuts_of
from firing.records.selectors.record import (
    SEEN_FROM,
    FiringLine,
    RecordWords,
    record_words,
)
from firing.schedules.selectors.charts import judged_input
from studio.documents import PaperKey, words_sha256
from studio.models import PieceRecord
from studio.selectors.pieces import PieceView
from studio.viewer import Viewer

KIND = "piece record"
TEMPLATE = "pdf/piece_record.html"
RENDER_JOB = "firing.render_piece_record"
# Raise this when the paper's layout changes, so that papers are made again.
LAYOUT = 2
CURVE = ChartSize(width=660, height=170, left=58, right=8, top=12, bottom=26)


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordPaper:
    """Every text on the record, and the names of its pictures' files."""

    title: str
    studio_name: str
    finished: str
    facts: tuple[tuple[str, str], ...]
    texts: tuple[tuple[str, str], ...]
    layers: tuple[tuple[int, str, str, str], ...]
    firings: tuple[tuple[str, str, str], ...]
    stress: tuple[tuple[str, str], ...]
    compared: str
    seen: str
    seen_picture: str
    face: str
    url: str
    size: str
    is_demo: bool

    @property
    def sha256(self) -> str:
        """Return the hash under which the PDF is filed."""
        return words_sha256(asdict(self), layout=LAYOUT)


def words_on_paper(
    view: PieceView, record: PieceRecord, *, has_value: bool
) -> RecordWords:
    """Return a record's words in the studio's units, for its paper."""
    viewer = Viewer.of_studio(view.piece.studio)
    return record_words(view, record, viewer=viewer, has_value=has_value)


def record_paper(
    view: PieceView, record: PieceRecord, words: RecordWords, *, url: str
) -> RecordPaper:
    """Write the paper of a record; `url` opens its page, after signing in."""
    piece, studio = view.piece, view.piece.studio
    picture = record.seen_picture
    return RecordPaper(
        title=words.title,
        studio_name=studio.name,
        finished=words.finished,
        facts=words.facts,
        texts=tuple(
            (title, text)
            for title, text in (
                ("Cold work", record.cold_work),
                ("Hanging", record.hanging),
                ("Care", record.care),
            )
            if text
        ),
        layers=tuple(
            (
                one.number,
                one.title,
                one.made,
                _file(one.picture.thumbnail.name) if one.picture else "",
            )
            for one in words.layers
        ),
        firings=tuple((one.title, one.when, one.verdict) for one in words.firings),
        stress=words.stress,
        compared=words.compared,
        seen=record.seen,
        seen_picture=_file(picture.image.name) if picture else "",
        face=_file(piece.face.name) if piece.face else "",
        url=url,
        size=studio.paper_size,
        is_demo=studio.is_demo,
    )


def _file(name: str | None) -> str:
    return f"slowcool:media/{name}"


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnFiring:
    """A firing on the paper: large if the stack was in it, else in miniature."""

    line: FiringLine
    chart: FiringChart | None
    curve: CurveMark | None


def record_context(
    view: PieceView, paper: RecordPaper, words: RecordWords
) -> dict[str, Any]:
    """Return what the template of the record needs."""
    viewer = Viewer.of_studio(view.piece.studio)
    small = [one.view.firing for one in words.firings if not one.is_of_slab]
    marks = curve_marks(view.piece.studio, small)
    drawn = [
        DrawnFiring(
            line=one,
            chart=_chart(one, viewer) if one.is_of_slab else None,
            curve=marks.get(one.view.firing.pk),
        )
        for one in words.firings
    ]
    code = segno.make(paper.url, error="m", micro=False)
    return {
        "paper": paper,
        "large": [one for one in drawn if one.chart],
        "small": [one for one in drawn if one.curve],
        "seen_from": SEEN_FROM,
        "drawing_style": drawing_style(),
        "qr": code.svg_inline(border=4, omitsize=True),
    }


def _chart(one: FiringLine, viewer: Viewer) -> FiringChart:
    firing = one.view.firing
    cuts = cuts_of(one.judgement) if one.judgement else ()
    return build_chart(
        judged_input(firing, viewer, cuts), key=f"firing-{firing.pk}", size=CURVE
    )


def record_key(view: PieceView, paper: RecordPaper) -> PaperKey:
    """Return the key of a piece's record with these words."""
    piece = view.piece
    return PaperKey(
        studio=piece.studio, kind=KIND, subject_id=piece.pk, sha256=paper.sha256
    )
