"""The head of every page: the five places, the one that is current, demo and strangers."""

import re
from types import SimpleNamespace

import pytest
from django.template.loader import render_to_string
from django.test import RequestFactory

PLACES = ["Today", "Pieces", "Kilns", "Commissions", "Stock"]


def head(app="", name="", *, is_demo=False, viewer=True, money=True, **more):
    request = RequestFactory().get("/")
    request.resolver_match = SimpleNamespace(app_name=app, url_name=name)
    studio = SimpleNamespace(name="Saltmarsh Kilns", is_demo=is_demo)
    who = SimpleNamespace(studio=studio, role="maker", may_see_money=money)
    known = {"viewer": who if viewer else None}
    user = SimpleNamespace(
        is_authenticated=True, get_full_name="", get_username="Invented"
    )
    return render_to_string(
        "components/_masthead.html",
        {"request": request, "user": user, **known, **more},
    )


def links(text):
    nav = re.search(r'<nav class="places".*?</nav>', text, re.DOTALL)[0]
    found = []
    for attrs, body in re.findall(r"<a ([^>]*)>(.*?)</a>", nav, re.DOTALL):
        words = re.sub(r"<svg.*?</svg>|\s+", "", body, flags=re.DOTALL)
        found.append((words, "aria-current" in attrs))
    return found


def test_the_places_stand_in_their_order():
    assert [words for words, _ in links(head())] == PLACES


def test_commissions_are_a_place_only_for_those_who_see_money():
    assert [words for words, _ in links(head(money=False))] == [
        place for place in PLACES if place != "Commissions"
    ]


@pytest.mark.parametrize(
    ("app", "name", "place"),
    [
        ("studio", "today", "Today"),
        ("studio", "piece_list", "Pieces"),
        ("studio", "piece_detail", "Pieces"),
        ("studio", "layer_detail", "Pieces"),
        ("studio", "stack_check", "Pieces"),
        ("studio", "picture_add", "Pieces"),
        ("firing", "kiln_list", "Kilns"),
        ("firing", "firing_detail", "Kilns"),
        ("commissions", "commission_list", "Commissions"),
        ("commissions", "piece_money", "Commissions"),
        ("studio", "stock", "Stock"),
        ("studio", "glass_edit", "Stock"),
        ("studio", "material_new", "Stock"),
    ],
)
def test_the_place_follows_from_the_address(app, name, place):
    assert [words for words, current in links(head(app, name)) if current] == [place]


def test_settings_belong_to_no_place():
    assert not any(current for _, current in links(head("studio", "settings")))


def test_a_page_may_say_its_place_itself():
    shown = links(head("firing", "kiln_list", place="pieces"))
    assert [words for words, current in shown if current] == ["Pieces"]


def test_strangers_see_no_places_and_no_menu():
    text = head(viewer=False)
    assert "<nav" not in text
    assert "studio-menu" not in text


def test_demo_data_is_marked_and_only_demo_data():
    assert "Demo data" in head(is_demo=True)
    assert "Demo data" not in head()


def test_the_studios_name_opens_its_menu():
    text = head()
    assert "Saltmarsh Kilns" in text
    assert "Invented" in text
    assert 'data-theme-choice="dark"' in text
