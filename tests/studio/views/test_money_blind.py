"""Helpers and technicians meet no money on any page of the studio app."""

from decimal import Decimal

import pytest
from django.urls import NoReverseMatch, get_resolver, reverse

from studio.models import Material
from studio.services import history
from tests import make
from tests.studio.views.pages import address, text_of


@pytest.fixture
def records(cast):
    """Things that cost money, under every key that the addresses ask for."""
    piece = make.piece(studio=cast.studio, glass=cast.glass, by=cast.maker)
    Material.across_studios.create(
        studio=cast.studio,
        name="Estuary grey",
        kind="enamel",
        unit="sheet",
        cost_per_unit=Decimal("7.77"),
    )
    history.record(
        studio=cast.studio,
        by=cast.owner,
        at=make.NOW,
        what="Deposit of $1,500.00 came in",
        piece=piece,
        is_about_money=True,
    )
    return {"pk": piece.pk, "number": 1, "size": "small"}


def pages(records):
    """Return every address of the app, its keys filled in."""
    found = []
    names = get_resolver().namespace_dict["studio"][1].reverse_dict
    for name in filter(lambda key: isinstance(key, str), names):
        for keys in ({}, {"pk": records["pk"]}, dict(records, size=None), records):
            kept = {key: value for key, value in keys.items() if value is not None}
            try:
                found.append(reverse(f"studio:{name}", kwargs=kept))
            except NoReverseMatch:
                continue
    return sorted(set(found))


@pytest.mark.parametrize("role", ["helper", "technician"])
def test_no_money_for_those_who_do_not_see_it(signed_in, records, role):
    browser = signed_in(role)
    seen = []
    # The style guide's samples of money are invented, and meant to be looked at.
    for url in set(pages(records)) - {address("styleguide")}:
        answer = browser.get(url)
        if answer.status_code == 200 and not answer.streaming:
            page = text_of(answer)
            assert "$" not in page, url
            assert "7.77" not in page, url
            assert "Deposit" not in page, url
            seen.append(url)
    for name, args in (
        ("today", []),
        ("piece_list", []),
        ("piece_detail", [records["pk"]]),
        ("layer_detail", [records["pk"], 1]),
        ("stock", []),
        ("settings", []),
        ("history", []),
    ):
        assert address(name, *args) in seen


def test_the_same_pages_do_show_it_to_a_maker(signed_in, records):
    browser = signed_in("maker")
    assert "$7.77" in text_of(browser.get(address("stock")))
    assert "$2.50 an hour" in text_of(browser.get(address("settings")))
    assert "Deposit of $1,500.00" in text_of(browser.get(address("history")))
