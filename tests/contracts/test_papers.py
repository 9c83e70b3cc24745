"""Every paper of the demo, on either size of paper: its pages and its one face."""

import datetime as dt

import pytest
from django.utils import timezone

from commissions import documents as quote_papers
from commissions.selectors.quotes import quotes
from firing.firings import documents as controller_sheets
from firing.kiln_time import week_sheet
from firing.loads.selectors.firings import firings
from firing.readings import verdict_sheet
from studio.models import PaperSize
from studio.pdf import render_pdf
from tests.firing.readings.test_verdicts import judged
from tests.papers import needs_pango, paper_faces, paper_sizes, read_pdf

POINTS = {PaperSize.A4: (595, 842), PaperSize.LETTER: (612, 792)}


def controller(studio):
    """Return what lays out the sheet of a firing with more segments than most."""
    firing = max(firings(studio), key=lambda one: one.schedule.segments.count())
    sheet = controller_sheets.controller_sheet(
        firing, path="/", origin="https://a.test"
    )
    return controller_sheets.TEMPLATE, controller_sheets.sheet_context(firing, sheet)


def week(studio):
    now = timezone.now()
    monday = now.date() - dt.timedelta(days=now.weekday())
    sheet = week_sheet.week_sheet(studio, monday, now)
    return week_sheet.TEMPLATE, week_sheet.sheet_context(studio, sheet, monday, now)


def quote(studio):
    written = next(one for one in quotes(studio) if one.lines.count() > 5)
    context = quote_papers.paper_context(written)
    return quote_papers.TEMPLATE, context | {
        "paper": quote_papers.written_paper(written)
    }


def assert_laid_out(template, context, *, size, is_turned=False, most_pages):
    made = render_pdf(template, context, title="A paper")
    upright = POINTS[size]
    assert paper_sizes(made) == {upright[::-1] if is_turned else upright}
    assert paper_faces(made) == {"Varta"}
    assert 1 <= read_pdf(made)[0] <= most_pages


@needs_pango
@pytest.mark.parametrize("size", PaperSize)
@pytest.mark.parametrize(
    ("paper", "most_pages"), [(controller, 1), (week, 1), (quote, 2)]
)
def test_a_paper_is_on_the_studio_s_size_in_one_face(demo, paper, most_pages, size):
    demo.paper_size = size
    demo.save()
    template, context = paper(demo)
    assert_laid_out(
        template, context, size=size, is_turned=paper is week, most_pages=most_pages
    )


@needs_pango
@pytest.mark.parametrize("size", PaperSize)
def test_a_verdict_is_too(cast, size):
    cast.studio.paper_size = size
    cast.studio.save()
    firing, judgement = judged(cast, cut=True)
    firing = firings(cast.studio).get(pk=firing.pk)
    sheet = verdict_sheet.verdict_sheet(firing, judgement)
    context = verdict_sheet.sheet_context(firing, judgement, sheet)
    assert_laid_out(verdict_sheet.TEMPLATE, context, size=size, most_pages=2)
