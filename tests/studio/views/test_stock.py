"""Stock: what is there, what it may hold, and what it costs for those who see money."""

from decimal import Decimal

import pytest

from studio.models import Glass, HistoryEntry, Material
from tests.studio.views.pages import (
    address,
    assert_asks_to_sign_in,
    statuses,
    text_of,
)


@pytest.fixture
def enamel(cast):
    return Material.across_studios.create(
        studio=cast.studio,
        name="Estuary grey",
        kind="enamel",
        unit="g",
        cost_per_unit=Decimal("7.77"),
        on_hand=Decimal("340.5"),
        caution="May hold lead: gloves",
    )


def stock(browser):
    return text_of(browser.get(address("stock")))


def test_cautions_are_for_everybody_and_costs_for_those_who_see_money(
    signed_in, cast, enamel
):
    for role in ("owner", "maker", "helper", "technician"):
        page = stock(signed_in(role))
        assert "May hold lead: gloves" in page
        assert "12 oz" in page
        assert "900 °F" in page
        sees_money = role in {"owner", "maker"}
        for money in ("/oz", "$8.36", "Cost", address("glass_new")):
            assert (money in page) is sees_money, (role, money)


def test_another_studios_stock_is_not_there(signed_in, cast, strangers, enamel):
    page = stock(signed_in("owner", strangers))
    assert enamel.name not in page
    assert cast.glass.name + "<" not in page


GLASS = {
    "name": "Tidewater clear",
    "family": "96-expansion",
    "sheet_thickness_mm": "1/8 in",
    "density_kg_m3": "2.5",
    "strain_point_c": "880",
    "anneal_soak_c": "900",
    "annealing_point_c": "950",
    "enamel_c": "1100",
    "full_fuse_c": "815 C",
    "cost_per_m2": "81.5",
}


def test_a_glass_is_added_in_either_unit(signed_in, cast):
    assert signed_in("maker").post(address("glass_new"), GLASS).status_code == 302
    glass = Glass.owned.for_studio(cast.studio).get(name="Tidewater clear")
    assert glass.sheet_thickness_mm == pytest.approx(3.175)
    assert glass.anneal_soak_c == pytest.approx(482.2222, abs=1e-3)
    assert glass.full_fuse_c == 815
    told = HistoryEntry.across_studios.get().what
    assert told == "Added glass Tidewater clear"


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"name": "TAKEN"}, "has a glass of that name"),
        ({"strain_point_c": "960"}, "These temperatures must rise"),
        ({"anneal_soak_c": "1200"}, "the anneal soak lies below the enamel firing"),
        ({"anneal_soak_c": "warm"}, "Write a temperature such as"),
        ({"density_kg_m3": "-1"}, "Write the weight compared with water"),
        ({"cost_per_m2": "-1"}, "the cost must not be negative"),
        ({"cost_per_m2": "much"}, "Write a number"),
        ({"family": "window"}, "not one of the available choices"),
    ],
)
def test_a_glass_filled_in_wrongly(signed_in, cast, changes, told):
    if changes.get("name") == "TAKEN":
        changes = {"name": cast.glass.name}
    answer = signed_in().post(address("glass_new"), GLASS | changes)
    assert answer.status_code == 422
    assert told in text_of(answer)
    assert 'value="815 C"' in text_of(answer)
    assert Glass.owned.for_studio(cast.studio).count() == 1


def values_of(answer):
    return {field.html_name: field.value() for field in answer.context["form"]}


def test_a_new_sheet_is_proposed_what_its_family_is_fired_at(signed_in, cast):
    browser, url = signed_in(), address("glass_new")
    bare = values_of(browser.get(url))
    assert (bare["enamel_c"], bare["full_fuse_c"]) == (None, None)
    page = browser.get(url, {"family": "float", "name": "Shore float"})
    begun = values_of(page)
    assert (begun["family"], begun["name"]) == ("float", "Shore float")
    assert (begun["enamel_c"], begun["full_fuse_c"]) == ("1170 °F", "1621 °F")
    assert "Usual for thick work in this family: 1011 °F" in text_of(page)
    # The next family replaces what was proposed, and nothing that was typed.
    begun |= {"family": "96-expansion", "enamel_c": "1080"}
    sent = {name: value for name, value in begun.items() if value is not None}
    changed = browser.get(url, sent)
    again = values_of(changed)
    assert (again["enamel_c"], again["full_fuse_c"]) == ("1080", "1500 °F")
    assert "Usual for thick work in this family: 900 °F" in text_of(changed)
    assert browser.get(url, {"family": "window"}).status_code == 200


def test_temperatures_left_empty_are_the_familys(signed_in, cast):
    sent = GLASS | {"family": "float", "enamel_c": "", "full_fuse_c": ""}
    sent |= {"annealing_point_c": "546 C", "strain_point_c": "511 C"}
    sent |= {"anneal_soak_c": "544 C"}
    assert signed_in().post(address("glass_new"), sent).status_code == 302
    glass = Glass.owned.for_studio(cast.studio).get(name=GLASS["name"])
    assert (glass.enamel_c, glass.full_fuse_c) == (632, 883)


def test_a_full_fuse_too_cold_for_the_family_is_kept_and_told(signed_in, cast):
    sent = GLASS | {"family": "float", "annealing_point_c": "1015"}
    sent |= {"anneal_soak_c": "1011", "enamel_c": "1170"}
    browser = signed_in()
    answer = browser.post(address("glass_new"), sent, follow=True)
    told = (
        "Tidewater clear: full fuse at 1499 °F is cold for Soda-lime float. Only at "
        "about 1621 °F is it as soft"
    )
    assert text_of(answer).count(told) == 2, "once when saved, once in the list"
    assert text_of(browser.get(address("stock"))).count(told) == 1
    Glass.owned.for_studio(cast.studio).update(is_retired=True)
    assert told not in stock(browser)


def sent_back(browser, url, **changes):
    form = browser.get(url).context["form"]
    sent = {field.html_name: field.value() for field in form}
    sent = {
        name: value
        for name, value in sent.items()
        if value is not None and value is not False
    }
    return browser.post(url, sent | changes)


def test_saving_a_glass_unchanged_does_not_move_its_temperatures(signed_in, cast):
    before = Glass.across_studios.filter(pk=cast.glass.pk).values().get()
    url = address("glass_edit", cast.glass.pk)
    assert sent_back(signed_in(), url).status_code == 302
    assert Glass.across_studios.filter(pk=cast.glass.pk).values().get() == before
    sent_back(signed_in(), url, cost_per_m2="9.5")
    after = Glass.across_studios.filter(pk=cast.glass.pk).values().get()
    # 9.5 / 0.09290304, from a square foot to a square metre.
    assert after == before | {"cost_per_m2": Decimal("102.2571")}
    told = HistoryEntry.across_studios.get().what
    assert told.endswith(": cost per square foot")
    assert "95" not in told.replace(cast.glass.name, "")


MATERIAL = {
    "name": "Shore green",
    "kind": "enamel",
    "unit": "oz",
    "cost_per_unit": "11.90",
    "used_per": "pass area",
    "amount_used": "120",
    "on_hand": "500",
    "caution": "May hold cadmium",
}


def test_a_material_is_added_and_changed(signed_in, cast, enamel):
    browser = signed_in("maker")
    assert browser.post(address("material_new"), MATERIAL).status_code == 302
    assert "May hold cadmium" in stock(browser)
    url = address("material_edit", enamel.pk)
    assert sent_back(browser, url, is_retired="on").status_code == 302
    assert "no longer bought" in stock(browser)


def test_amounts_are_typed_in_the_readers_units(signed_in, cast, enamel):
    browser, url = signed_in("maker"), address("material_edit", enamel.pk)
    shown = values_of(browser.get(url))
    assert (shown["unit"], str(shown["on_hand"])) == ("oz", "12.011")
    before = Material.across_studios.filter(pk=enamel.pk).values().get()
    sent_back(browser, url, caution="May hold lead")
    after = Material.across_studios.filter(pk=enamel.pk).values().get()
    assert after == before | {"caution": "May hold lead"}
    sent_back(browser, url, on_hand="12", used_per="pass area", amount_used="0.2")
    enamel.refresh_from_db()
    assert (enamel.unit, enamel.on_hand) == ("oz", 12)
    # 0.2 / 0.09290304, from a square foot to a square metre.
    assert enamel.amount_used == Decimal("2.1528")
    assert str(values_of(browser.get(url))["amount_used"]) == "0.2"


def test_words_kept_from_earlier_stay_the_unit(signed_in, cast, enamel):
    Material.across_studios.filter(pk=enamel.pk).update(unit="bundle")
    browser, url = signed_in("maker"), address("material_edit", enamel.pk)
    assert sent_back(browser, url, on_hand="3").status_code == 302
    enamel.refresh_from_db()
    assert (enamel.unit, enamel.on_hand) == ("bundle", 3)
    assert "3 bundle" in stock(browser)


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"name": "Estuary grey"}, "has a material of that name"),
        ({"cost_per_unit": "-0.1"}, "must not be negative"),
        ({"low_at": "-1"}, "Write 0 or more"),
        ({"on_hand": "-1"}, "Write 0 or more"),
        ({"amount_used": "lots"}, "Write a number"),
        ({"kind": "paint"}, "not one of the available choices"),
    ],
)
def test_a_material_filled_in_wrongly(signed_in, cast, enamel, changes, told):
    answer = signed_in().post(address("material_new"), MATERIAL | changes)
    assert answer.status_code == 422
    assert told in text_of(answer)
    assert "May hold cadmium" in text_of(answer)
    assert Material.owned.for_studio(cast.studio).count() == 1


def test_who_may_change_stock(signed_in, client, cast, strangers, enamel):
    assert set(statuses(signed_in, address("stock")).values()) == {200}
    assert_asks_to_sign_in(client, address("stock"))
    for url in (
        address("glass_new"),
        address("glass_edit", cast.glass.pk),
        address("material_new"),
        address("material_edit", enamel.pk),
    ):
        assert statuses(signed_in, url) == {
            "owner": 200,
            "maker": 200,
            "helper": 403,
            "technician": 403,
        }
        assert signed_in("helper").post(url, GLASS).status_code == 403
        assert_asks_to_sign_in(client, url)
    for name, pk in (("glass_edit", cast.glass.pk), ("material_edit", enamel.pk)):
        browser = signed_in("owner", strangers)
        assert browser.get(address(name, pk)).status_code == 404
        assert browser.post(address(name, pk), GLASS).status_code == 404
