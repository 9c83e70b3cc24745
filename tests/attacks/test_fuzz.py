"""Every address, as everybody, with forms filled in as nobody should: nothing breaks.

More requests: see `tests.attacks.fuzz`.
"""

import pytest

from studio.models import Studio
from studio.selectors import pieces
from tests.attacks.fuzz import Fuzz, Report
from tests.attacks.fuzz_pages import read_page
from tests.patience import in_form

SEED = 20
PAGE = """
<a href="/stock/#top">Stock</a> <a href="https://example.org/">Away</a>
<form method="post" action="/pieces/7/edit/" id="edit">
  <input name="title" value="Heron"><input type="hidden" name="kept" value="1">
  <input type="checkbox" name="sides" value="a" checked>
  <input type="checkbox" name="sides" value="b">
  <select name="glass"><option value="1">Clear<option value="2" selected>Blue</select>
  <textarea name="note">Two
lines</textarea>
  <button name="do" value="save">Save</button>
  <button formaction="/pieces/7/lost/">Lost</button>
</form>
<input name="outside" form="edit" value="x"><input name="nobodys">
<form method="post" action="undo/"><button>Undo</button></form>
<button hx-post="/kilns/plan/make/">Plan</button>
"""


@pytest.fixture
def fuzz(demo, settings):
    settings.DESIGN_BUDGET_SECONDS = 1.0  # As in use: what takes longer is a job.
    return Fuzz(demo, Report(seed=SEED), seed=SEED, slow_s=in_form(10, 2))


@pytest.mark.slow
def test_no_request_breaks_a_page(fuzz):
    fuzz.run(in_form(500, 4_000))
    report = fuzz.report
    print(report)
    assert not report.problems, report
    assert len(report.addresses) > 60, "the walk hardly left the door"
    assert len(report.forms) > 20


def test_a_page_that_breaks_or_tells_too_much_is_seen(fuzz, monkeypatch):
    def break_it(*_, **__):
        raise ZeroDivisionError("on purpose")

    monkeypatch.setattr(pieces, "piece_view", break_it)
    Studio.objects.filter(pk=fuzz.studio.pk).update(name=fuzz.secrets[fuzz.other.pk])
    fuzz.run(300)
    found = " ".join(problem.what for problem in fuzz.report.problems)
    assert "ZeroDivisionError" in found
    assert "another studio's words" in found


def test_forms_are_read_as_a_browser_would_send_them():
    page = read_page(PAGE, address="/pieces/7/")
    assert page.links == ["/stock/"]
    edit, undo = (f for f in page.forms if f.address.endswith(("/edit/", "undo/")))
    held = {f.name: (f.values, f.choices) for f in edit.fields}
    assert held == {
        "title": (["Heron"], []),
        "kept": (["1"], []),
        "sides": (["a"], ["a", "b"]),
        "glass": (["2"], ["1", "2"]),
        "note": (["Two\nlines"], []),
        "outside": (["x"], []),
    }
    assert edit.buttons == [("do", "save")]
    assert (undo.address, undo.fields, undo.method) == ("/pieces/7/undo/", [], "POST")
    with pytest.raises(AssertionError, match="a form inside a form of /pieces/7/"):
        read_page(f"<form><div>{PAGE}</div></form>", address="/pieces/7/")
    others = {(f.method, f.address) for f in page.forms} - {
        (f.method, f.address) for f in (edit, undo)
    }
    assert others == {("POST", "/pieces/7/lost/"), ("POST", "/kilns/plan/make/")}
