"""The style guide rendered whole: well-formed, ids unique, no inline style or script."""

import re
from collections import Counter
from html.parser import HTMLParser
from xml.etree import ElementTree as ET

import pytest
from django.template.loader import render_to_string
from django.test import RequestFactory

from firing.drawings import samples
from studio.styleguide import themed_samples

SVG = re.compile(r"<svg\b.*?</svg>", re.DOTALL)
VOID = {"meta", "link", "input", "img", "br", "hr"}


class Tags(HTMLParser):
    """Collects start tags and checks that every element is closed."""

    def __init__(self):
        super().__init__()
        self.found = []
        self.open = []

    def handle_starttag(self, tag, attrs):
        self.found.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.found.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self.open, f"</{tag}> closes nothing"
        assert self.open.pop() == tag, f"</{tag}> in line {self.getpos()}"


@pytest.fixture(scope="module")
def page():
    themes = themed_samples()
    for shown in themes:
        key = f"f-{shown['theme']}"
        context = samples.sample_context(key)
        shown["panels"] = [{"template": "firing/_styleguide.html", "context": context}]
    return render_to_string(
        "studio/styleguide.html", {"themes": themes}, RequestFactory().get("/")
    )


@pytest.fixture(scope="module")
def tags(page):
    parser = Tags()
    parser.feed(page)
    assert parser.open == []
    return parser.found


def test_every_drawing_is_well_formed_xml(page):
    drawings = SVG.findall(page)
    assert len(drawings) > 20
    for drawing in drawings:
        ET.fromstring(drawing)


def test_ids_are_unique_across_the_page(tags):
    counted = Counter(attrs["id"] for _, attrs in tags if "id" in attrs)
    assert [name for name, number in counted.items() if number > 1] == []


def test_every_reference_inside_a_drawing_has_its_target(page, tags):
    ids = {attrs["id"] for _, attrs in tags if "id" in attrs}
    used = set(re.findall(r"url\(#([^)]+)\)", page))
    assert used
    assert used <= ids
    for _, attrs in tags:
        for name in (attrs.get("aria-labelledby") or "").split():
            assert name in ids


def test_nothing_is_inline(tags):
    for tag, attrs in tags:
        assert tag != "style"
        assert "style" not in attrs, (tag, attrs)
        assert not [name for name in attrs if name.startswith(("on", "hx-on"))]
        if tag == "script":
            assert attrs.get("src")


def test_every_drawing_has_a_name_or_is_hidden(tags):
    for tag, attrs in tags:
        if tag == "svg":
            hidden = attrs.get("aria-hidden") == "true"
            named = attrs.get("aria-labelledby") or attrs.get("aria-label")
            assert hidden or (named and attrs.get("role") in {"img", "group"}), attrs


def test_links_in_drawings_say_where_they_lead(tags):
    links = [a for t, a in tags if t == "a" and a.get("class") == "drawing-link"]
    assert len(links) > 40
    assert all(link["href"] and link["aria-label"] for link in links)


def test_numbers_in_drawings_ignore_the_language():
    from django.utils import translation

    with translation.override("de"):
        view = themed_samples()[0]["sample"]["rows"][1]["view"]
        svg = render_to_string("components/_edge_view.html", {"view": view})
    assert "." in ET.fromstring(svg.strip()).get("viewBox")
    assert "," not in ET.fromstring(svg.strip()).get("viewBox")


@pytest.mark.parametrize("name", ["404.html", "403.html", "500.html"])
def test_error_pages_need_nothing_from_the_view(name):
    text = render_to_string(name)
    assert "<h1>" in text
    assert 'href="/"' in text


def test_a_form_says_what_is_wrong_twice_and_points_at_the_field():
    form = themed_samples()[0]["sample"]["bad_form"]
    text = render_to_string("components/_form.html", {"form": form, "submit": "Plan"})
    parser = Tags()
    parser.feed(text)
    (title,) = [a for t, a in parser.found if t == "input" and a["name"] == "title"]
    described = title["aria-describedby"].split()
    ids = {a.get("id") for _, a in parser.found}
    assert set(described) <= ids
    assert title["aria-invalid"] == "true"
    links = [a["href"] for t, a in parser.found if t == "a"]
    assert f"#{title['id']}" in links
    assert all(link.removeprefix("#") in ids for link in links)
