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
from firing.readings.selectors.verdict_inputs import judging_of
from studio.models import PaperSize
from studio.pdf import render_pdf
from tests.papers import needs_pango, paper_faces, paper_sizes, read_pdf

POINTS = {PaperSize.A4: (595, 842), PaperSize.LETTER: (612, 792)}


def controller(studio):
    """Return what lays out the sheet of a firing with more segments than most."""
    firing = max(firings(studio), key=lambda one: one.schedule.segments.count())
    sheet = controller_sheets.controller_sheet(firing, path="/", origin="https://a.test")
    return controller_sheets.TEMPLATE, controller_sheets.sheet_context(firing, sheet)


def verdict(studio):
    judged = ((one, judging_of(one).judgement) for one in firings(studio))
    firing, judgement = next(one for one in judged if one[1] and one[1].trace)
    sheet = verdict_sheet.verdict_sheet(firing, judgement)
    context = verdict_sheet.sheet_context(firing, judgement, sheet)
    return verdict_sheet.TEMPLATE, context


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


@needs_pango
@pytest.mark.parametrize("size", PaperSize)
@pytest.mark.parametrize(
    ("paper", "most_pages"), [(controller, 1), (verdict, 2), (week, 1), (quote, 2)]
)
def test_a_paper_is_on_the_studio_s_size_in_one_face(demo, paper, most_pages, size):
    demo.paper_size = size
    demo.save()
    template, context = paper(demo)
    made = render_pdf(template, context, title="A paper")
    upright = POINTS[size]
    assert paper_sizes(made) == {upright[::-1] if paper is week else upright}
    assert paper_faces(made) == {"Varta"}
    assert 1 <= read_pdf(made)[0] <= most_pages
