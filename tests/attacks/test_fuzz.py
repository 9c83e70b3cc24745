"""Some hundred odd requests to every kind of address: none breaks anything.

Many more by ``python -m tests.attacks.fuzz --requests 100000``, which is also how long an
answer takes is looked at: machines that run tests have other work.
"""

import os

from tests.attacks.fuzz import Fuzz, Report
from tests.attacks.fuzz_pages import read_page
from tests.patience import LONG_S, in_form

SEED = int(os.environ.get("FUZZ_SEED", "1"))


def test_odd_requests_are_all_answered(demo):
    report = Report(seed=SEED)
    Fuzz(demo, report, seed=SEED, slow_s=LONG_S).run(in_form(300, 3_000))
    assert report.problems == [], str(report)
    assert len(report.addresses) > 50
    assert len(report.forms) > 20


def test_the_walk_sees_what_a_page_can_send():
    """Fields, buttons with values, buttons alone, and what htmx sends by itself."""
    page = read_page(
        '<a href="/stock/#top">Stock</a><form method="post" action="x/">'
        '<input name="a" value="1"><select name="b"><option value="2">two</option>'
        '</select><button name="go" value="on">Go</button></form>'
        '<form method="post" action="/y/"><button>Only press</button></form>'
        '<div hx-post="/z/"></div>',
        address="/pieces/3/",
    )
    assert page.links == ["/stock/"]
    first, second, third = page.forms
    assert (first.method, first.address) == ("POST", "/pieces/3/x/")
    assert [(f.name, f.values) for f in first.fields] == [("a", ["1"]), ("b", ["2"])]
    assert first.buttons == [("go", "on")]
    assert (second.address, second.fields) == ("/y/", [])
    assert (third.address, third.is_htmx) == ("/z/", True)
