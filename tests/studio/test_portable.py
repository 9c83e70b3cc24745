"""History and papers that arrive from another server point at the new records."""

from collections import defaultdict

import pytest

from firing.firings import documents
from firing.kiln_time import week_sheet
from studio.models import Document, HistoryEntry
from studio.portable import mend_paper, mend_subject

KEYS = defaultdict(dict, {"studio.kiln": {3: 103}, "firing.firing": {7: 107}})


@pytest.mark.parametrize(
    ("subject", "then"),
    [
        ("kiln 3", "kiln 103"),
        ("firing 7", "firing 107"),
        ("kiln 4", ""),  # gone
        ("lighthouse 3", ""),  # nothing here
        ("", ""),
        ("week 2026-03-02", "week 2026-03-02"),  # no key
        ("kiln ³", "kiln ³"),
    ],
)
def test_a_line_of_history_is_about_the_new_record_or_about_none(subject, then):
    entry = HistoryEntry(subject=subject)
    assert mend_subject(entry, KEYS), "no line is left behind"
    assert entry.subject == then


@pytest.mark.parametrize(
    ("kind", "subject_id", "then"),
    [
        (documents.KIND, 7, 107),
        (documents.KIND, 8, None),  # its firing is gone
        (week_sheet.KIND, 20260302, 20260302),  # a day, and no key
        ("postcard", 7, None),  # a paper of which nothing is known
    ],
)
def test_a_paper_comes_along_where_its_subject_does(kind, subject_id, then):
    document = Document(kind=kind, subject_id=subject_id)
    assert mend_paper(document, KEYS) is (then is not None)
    if then is not None:
        assert document.subject_id == then
