"""A firing's verdict on paper: its words, their hash, and its order.

It works like `firing.firings.documents`; the words are those of the judge's page, in
the studio's own units.
"""

from dataclasses import asdict, dataclass
from typing import Any

from firing.drawings.chart import build_chart
from firing.drawings.chart_input import ChartSize
from firing.drawings.paper_style import drawing_style
from firing.drawings.tension import build_tension_chart
from firing.loads.selectors.firings import load_words, title_of
from firing.models import Firing, Judgement
from firing.readings.selectors.verdict_charts import tension_input
from firing.readings.selectors.verdict_faults import HoldWords, cuts_of
from firing.readings.selectors.verdict_words import CAUTIONS, verdict_line, words_of
from firing.schedules.selectors.charts import judged_input
from studio.documents import PaperKey, words_sha256
from studio.viewer import Viewer

KIND = "verdict"
TEMPLATE = "pdf/verdict_sheet.html"
RENDER_JOB = "firing.render_verdict_sheet"
# Raise this when the paper's layout changes, so that papers are made again.
LAYOUT = 4
PAPER_CHART = ChartSize(width=660, height=190, left=58, right=8, top=12, bottom=26)


@dataclass(frozen=True, slots=True, kw_only=True)
class OptionLine:
    """One option, and its outcome."""

    title: str
    outcome: str
    lasts: str
    is_recommended: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class VerdictSheet:
    """Every text on the sheet, already written out."""

    title: str
    studio_name: str
    verdict: str
    sentence: str
    next_words: str
    options: tuple[OptionLine, ...]
    bands: tuple[tuple[str, str, str], ...]
    holds: tuple[HoldWords, ...]
    faults: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]
    computed: str
    size: str
    is_demo: bool

    @property
    def sha256(self) -> str:
        """Return the hash under which the PDF is filed."""
        return words_sha256(asdict(self), layout=LAYOUT)


def verdict_sheet(firing: Firing, judgement: Judgement) -> VerdictSheet:
    """Write the sheet of a judged firing; times are those of the readings."""
    viewer = Viewer.of_studio(firing.studio)
    # Words such as "tomorrow" mean nothing on paper: for most readers the judge's own
    # moment is long past.
    now = judgement.made_at
    words = words_of(judgement, viewer=viewer, now=now)
    glass, schedule = firing.schedule.glass, firing.schedule
    return VerdictSheet(
        title=title_of(firing),
        studio_name=firing.studio.name,
        verdict=verdict_line(judgement, viewer)[0],
        sentence=words.sentence,
        next_words=words.next_words,
        options=tuple(
            OptionLine(
                title=one.title,
                outcome=one.outcome,
                lasts=one.lasts,
                is_recommended=one.is_recommended,
            )
            for one in words.options
        ),
        bands=tuple((one.name, one.range, one.verdict) for one in words.bands),
        holds=words.holds,
        faults=words.faults,
        facts=(
            ("Kiln", firing.kiln.name),
            ("Load", load_words(firing)),
            ("Glass", f"{glass}, {viewer.length(schedule.thickness_mm)}"),
            ("Schedule", f"{schedule.name}, version {schedule.version}"),
            *words.facts,
        ),
        assumptions=words.assumptions,
        cautions=CAUTIONS,
        computed=f"{viewer.day(now)}, {viewer.clock(now)}",
        size=firing.studio.paper_size,
        is_demo=firing.studio.is_demo,
    )


def sheet_context(
    firing: Firing, judgement: Judgement, sheet: VerdictSheet
) -> dict[str, Any]:
    """Return what the template of the sheet needs."""
    viewer = Viewer.of_studio(firing.studio)
    chart = build_chart(
        judged_input(firing, viewer, cuts_of(judgement)),
        key="verdict",
        size=PAPER_CHART,
    )
    tension = None
    if judgement.trace:
        given = tension_input(firing, judgement, viewer, judgement.made_at)
        tension = build_tension_chart(given, under=chart)
    return {
        "paper": sheet,
        "chart": chart,
        "tension": tension,
        "drawing_style": drawing_style(),
    }


def sheet_key(firing: Firing, sheet: VerdictSheet) -> PaperKey:
    """Return the key of a firing's verdict with these words."""
    return PaperKey(
        studio=firing.studio, kind=KIND, subject_id=firing.pk, sha256=sheet.sha256
    )
