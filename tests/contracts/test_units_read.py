"""No page, paper or letter has a unit that its reader does not read by."""

import html
import re

import pytest
from django.template.loader import render_to_string
from django.urls import reverse

from commissions import documents as quote_papers
from commissions.models import Quote, QuoteLine
from commissions.selectors.quotes import quotes
from firing.loads.selectors.firings import firings
from firing.readings import verdict_sheet
from studio.models import Glass, HistoryEntry, Kiln, Material, Membership, Role
from tests.contracts.test_papers import controller, week
from tests.contracts.test_permissions import ADDRESSES, arguments_of, world  # noqa: F401
from tests.firing.pages import address
from tests.firing.readings.test_verdicts import judged

# MPa, W, kWh and h are everybody's; so are the names that people gave their glass.
METRIC = r"mm|cm|m|m²|cm²|g|kg|ml|l|°C|°C/h|°C/min|kg/m³|(?:square )?(?:milli|centi)?met(?:re|er)s?|grams?"
INCH = r"in|inch(?:es)?|ft|ft²|in²|oz|fl oz|lb|°F|°F/h|°F/min|square (?:foot|feet)|pounds?|ounces?"
# "12 mm", "$8/m²", "a square metre", "12 × 8 in", but never "4 in the kiln".
FOREIGN = {
    "in": re.compile(rf"(?:[\d½¼¾]\s?|/|\bper |\ba )(?:{METRIC})(?![\w²³])"),
    "mm": re.compile(
        rf"(?:[\d½¼¾]\s?|/|\bper |\ba )(?:{INCH})(?![\w²³])(?!\s+(?:the|a|all|front|this|its|your|their|\w+ing|[A-Z]))"
    ),
}
GALLONS = re.compile(r"\bgallons?\b", re.IGNORECASE)
LINK = re.compile(r"https?://\S+")

# Science in SI units, says so; parts for those who build pages; what was written down
# in its day; the readers choose their units there, or are taught how a file is written.
NOT_READ = {
    "firing:schedule_how",
    "studio:styleguide",
    "studio:history",
}


def sentences(page: str) -> list[str]:
    """Return the texts of a page, drawings and notes for screen readers included."""
    for left_out in ("style", "script", "option", "title"):
        page = re.sub(rf"<{left_out}\b.*?</{left_out}>", " ", page, flags=re.DOTALL)
    inline = r"</?(?:strong|b|em|i|span|a|tspan|abbr|time|small)\b[^>]*>"
    texts = re.split(r"<[^>]+>", re.sub(inline, "", page))
    return [" ".join(html.unescape(one).split()) for one in texts if one.strip()]


def foreign(page: str, reader: str, names: set[str]) -> list[str]:
    """Return the sentences with a unit of the other system."""
    found = []
    for text in sentences(page):
        # A polariscope is read in nm/cm everywhere, and a link's letters mean nothing.
        told = LINK.sub("", text.replace("nm/cm", ""))
        for name in names:
            told = told.replace(name, "")
        if FOREIGN[reader].search(told) or GALLONS.search(told):
            found.append(text)
    return found


def read_by(studio, reader):
    """Let the studio and its people read by one system."""
    units = {
        "length_unit": reader,
        "temperature_unit": "F" if reader == "in" else "C",
    }
    Membership.across_studios.filter(studio=studio).update(**units)
    type(studio).objects.filter(pk=studio.pk).update(**units)
    Kiln.across_studios.filter(studio=studio).update(
        controller_unit=units["temperature_unit"]
    )
    # A quote stays as it was written: these are written now.
    QuoteLine.across_studios.all().delete()
    Quote.across_studios.update(paper={})
    HistoryEntry.across_studios.all().delete()
    studio.refresh_from_db()


def names_of(studio):
    return {
        one.name
        for model in (Glass, Material)
        for one in model.owned.for_studio(studio)
    }


@pytest.mark.parametrize("reader", ["in", "mm"])
def test_pages_are_in_the_readers_units(world, client, reader, settings):  # noqa: F811
    settings.DESIGN_BUDGET_SECONDS = 5.0
    read_by(world, reader)
    owner = Membership.owned.for_studio(world).filter(role=Role.OWNER).first().person
    client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    names, told = names_of(world), []
    for one in ADDRESSES:
        if one.name in NOT_READ or one.name.endswith("sign_out"):
            continue
        answer = client.get(reverse(one.name, kwargs=arguments_of(one, world)))
        page = answer.getvalue()
        if "text/html" in answer["Content-Type"]:
            told += [
                f"{one.name}: {text}" for text in foreign(page.decode(), reader, names)
            ]
    assert not told, "\n".join(told)


@pytest.mark.parametrize("reader", ["in", "mm"])
def test_papers_and_letters_are_too(demo, reader):
    read_by(demo, reader)
    names = names_of(demo)
    written = quotes(demo).first()
    for template, context in (
        controller(demo),
        week(demo),
        (quote_papers.TEMPLATE, quote_papers.paper_context(written)),
        ("emails/quote.txt", {"quote": written, "studio": demo, "url": "/c/x/"}),
    ):
        assert foreign(render_to_string(template, context), reader, names) == []


@pytest.mark.parametrize("reader", ["in", "mm"])
def test_a_verdict_is_too(cast, signed_in, reader):
    firing, judgement = judged(cast, cut=True)
    read_by(cast.studio, reader)
    firing = firings(cast.studio).get(pk=firing.pk)
    names = names_of(cast.studio)
    page = signed_in("owner").get(address("firing_judgement", firing.pk))
    assert foreign(page.content.decode(), reader, names) == []
    sheet = verdict_sheet.verdict_sheet(firing, judgement)
    context = verdict_sheet.sheet_context(firing, judgement, sheet)
    told = render_to_string(verdict_sheet.TEMPLATE, context)
    assert foreign(told, reader, names) == []


def test_the_test_itself_sees_what_it_looks_for():
    page = (
        "<p>A slab of <b>60 mm</b></p><p>It is 4 in the kiln, 5 MPa</p><p>2 3/8 in</p>"
    )
    assert foreign(page, "in", set()) == ["A slab of 60 mm"]
    assert foreign(page, "mm", set()) == ["2 3/8 in"]
    assert foreign("<p>3 gallons</p>", "mm", set()) == ["3 gallons"]
