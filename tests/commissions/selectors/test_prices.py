"""From a commission and the rates to the lines of its price."""

import json
import re
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commissions.models import Quote
from commissions.pricing import LabourTime, PriceInputs, Section, price_commission
from commissions.selectors.prices import TOO_MUCH, material_use, price_work
from commissions.selectors.quotes import line_sections
from commissions.selectors.rates import choices_for
from commissions.selectors.work import CommissionWork, WorkPart
from studio.errors import Refused, StudioError
from studio.labour import Area, TaxClass
from studio.models import Kiln, Material, MaterialKind, Technique, UsedPer
from tests import make, plain
from tests.commissions import build

PLAIN = {
    "labour_rate_per_hour": Decimal(30),
    "waste_percent": Decimal(10),
    "tasks": plain.tasks(cutting=10, painting=60, decals=30, loading=20, stacking=100),
}


def priced(cast, *, rates=None, **changes):
    """Price the commission of the tests: six layers of 300 by 200 mm, one of them clear."""
    commission = build.commission(cast, **changes)
    choices = replace(choices_for(commission), **(PLAIN | (rates or {})))
    return price_work(commission=commission, choices=choices)


def lines(found):
    return {line.label: line for line in found.price.lines}


def hours(found):
    return {task.label: task.minutes for task in found.inputs.labour}


@pytest.fixture
def metric(cast):
    cast.studio.length_unit = "mm"
    cast.studio.save()


def test_glass_is_paid_by_area_with_what_is_cut_off(cast, metric):
    # 6 sheets of 0.3 by 0.2 m are 0.36 m², and 10 % more.
    glass = lines(priced(cast))[f"{cast.glass.name}, piece"]
    assert glass.quantity == Decimal("0.396")
    assert glass.amount == Decimal("35.64")  # at 90 a square metre
    assert "0.36 m², and 10 % more" in glass.explanation


def test_work_by_hand_is_counted_from_layers_passes_and_firings(cast):
    found = priced(cast)
    firings = sum(time.item.firing_count for time in found.kiln_times)
    assert hours(found) == {
        "Cutting and cleaning": 60,
        "Painting": 600,  # 5 layers, 2 passes of 60 minutes
        "Loading and unloading": 20 * firings,
        "Registration and stacking": 100,
    }
    assert lines(found)["Painting"].quantity == Decimal(10)
    assert lines(found)["Painting"].amount == Decimal(300)
    assert lines(found)["Painting"].explanation == "10 passes at 60 min"


def test_work_of_no_minutes_has_no_line(cast):
    found = priced(cast, rates={}, cap_count=5, passes_per_layer=1)
    assert "Cold work, edges" not in lines(found)
    assert lines(found)["Painting"].explanation == "1 pass at 60 min"


def test_a_maquette_takes_its_own_time_by_the_same_rules(cast, metric):
    painting = replace(
        {task.key: task for task in PLAIN["tasks"]}["painting"],
        area=Area.PASSES,
        minutes_per_m2=Decimal(1000),
    )
    tasks = tuple(painting if t.key == "painting" else t for t in PLAIN["tasks"])
    found = priced(cast, rates={"tasks": tasks}, **build.maquette())
    assert hours(found)["Cutting and cleaning"] == 90
    # 10 passes of 0.06 m² and 4 of 0.015 m².
    assert hours(found)["Painting"] == 600 + 600 + 240 + 60
    assert hours(found)["Registration and stacking"] == 200
    told = lines(found)
    assert told["Painting"].explanation == (
        "14 passes at 60 min, 0.7 m² painted at 1000 min/m²"
    )
    assert told[f"{cast.glass.name}, maquette"].quantity == Decimal("0.050")


def test_kilns_that_were_picked_are_priced_and_said(cast):
    small = make.kiln(studio=cast.studio, hourly_rate=0)
    assert {time.item.kiln for time in priced(cast).kiln_times} == {small}
    found = priced(cast, rates={"fuse_kiln": cast.kiln.pk})
    assert [time.item.kiln for time in found.kiln_times] == [small, cast.kiln]


def test_a_kilns_rate_that_includes_energy_has_no_line_of_it(cast):
    assert "Electricity" in lines(priced(cast))
    found = priced(cast, rates={"kiln_rate_has_energy": True})
    assert "Electricity" not in lines(found)
    kilns = [one for one in found.price.lines if one.section == Section.KILN_TIME]
    assert all(one.explanation.endswith("electricity included") for one in kilns)


@pytest.mark.parametrize(
    ("technique", "kind", "missing"),
    [
        (Technique.PAINTED, MaterialKind.ENAMEL, "No enamel is in this price"),
        (Technique.DECAL, MaterialKind.DECAL, "No decal is in this price"),
    ],
)
def test_a_price_without_what_the_image_is_made_of_warns(
    cast, technique, kind, missing
):
    assert missing in priced(cast, technique=technique).warnings[0]
    build.enamel(cast, kind=kind, cost_per_unit=Decimal(0), name="Free")
    assert priced(cast, technique=technique).warnings
    build.enamel(cast, kind=kind)
    assert priced(cast, technique=technique).warnings == ()


def test_two_taxes_share_the_price_by_what_bears_them(cast):
    build.rates(cast, tax_name="VAT", second_tax_name="VAT, reduced")
    tasks = tuple(
        replace(task, tax=TaxClass.SECOND) if task.key == "stacking" else task
        for task in PLAIN["tasks"]
    )
    found = priced(
        cast,
        rates={
            "tasks": tasks,
            "tax_percent": Decimal(20),
            "second_tax_percent": Decimal(5),
        },
    )
    first, second = (x for x in found.price.lines if x.section == Section.TAX)
    assert (first.label, second.label) == ("VAT", "VAT, reduced")
    direct = sum(
        x.amount
        for x in found.price.lines
        if x.section in {"materials", "kiln time", "energy", "labour"}
    )
    share = lines(found)["Registration and stacking"].amount / direct
    assert float(second.unit_price / found.price.net) == pytest.approx(
        float(share), abs=1e-4
    )
    assert first.unit_price + second.unit_price == found.price.net


def test_each_stack_has_its_own_kiln_time(cast):
    found = priced(cast, **build.maquette())
    labels = [time.label for time in found.inputs.kiln_times]
    kiln = cast.kiln.name
    assert len(labels) == 4
    assert sum(label.endswith(f" of the maquette, {kiln}") for label in labels) == 2
    told = [line for line in found.price.lines if line.section == Section.KILN_TIME]
    for line, time in zip(told, found.kiln_times, strict=True):
        assert line.explanation.endswith(time.item.explanation)


def test_kiln_hours_are_rounded_up_and_energy_is_of_all_firings(cast):
    found = priced(cast)
    for line, time in zip(found.inputs.kiln_times, found.kiln_times, strict=True):
        late = line.hours_each - Decimal(str(time.item.hours_each))
        assert 0 <= late < Decimal("0.1")
        assert line.firings == time.item.loads
    kwh = sum(time.item.kwh for time in found.kiln_times)
    assert float(found.inputs.energy.kwh) == pytest.approx(kwh, abs=0.05)


@pytest.mark.parametrize(
    ("used_per", "amount", "words"),
    [
        # 5 layers with an image, 2 passes of 0.06 m².
        (UsedPer.PASS_AREA, "24", "0.6 m² of passes, 40 g/m²"),
        (UsedPer.FUSE_AREA, "2.4", "0.06 m² of shelf under the stacks"),
        (UsedPer.ENAMEL_AREA, "24", "0.6 m² of shelf under the layers, 40 g/m²"),
        (
            UsedPer.FIRING_AREA,
            "26.4",
            "0.66 m² of shelf under the layers and the stacks, 40 g/m²",
        ),
        (UsedPer.PIECE, "40", "1 piece, 40 g for each"),
    ],
)
def test_a_material_is_counted_by_what_uses_it_up(
    cast, metric, used_per, amount, words
):
    build.enamel(cast, used_per=used_per)
    line = lines(priced(cast))["Grey enamel"]
    assert line.quantity == Decimal(amount)
    assert words in line.explanation


def test_a_studio_of_inches_is_quoted_in_its_own_units(cast):
    build.enamel(cast, used_per=UsedPer.PASS_AREA)
    told = lines(priced(cast))
    glass, grey = told[f"{cast.glass.name}, piece"], told["Grey enamel"]
    # 0.36 m² and 90 a square metre, by 0.09290304 m² in a square foot.
    assert (glass.quantity, glass.unit) == (Decimal("4.263"), "ft²")
    assert glass.unit_price == Decimal("8.3613")
    assert "3.875 ft², and 10 % more" in glass.explanation
    # 40 g/m² by 28.349523125 g in an ounce.
    assert grey.explanation == "6.458 ft² of passes, 0.1311 oz/ft²"
    assert (grey.quantity, grey.unit) == (Decimal("0.847"), "oz")


@given(
    data=st.fixed_dictionaries(
        {
            "unit": st.sampled_from(["g", "oz", "kg", "m²", "ft²", "sheet", "bag"]),
            "cost_per_unit": st.decimals("0", "5000", places=4),
            "amount_used": st.decimals("0", "5000", places=4),
            "used_per": st.sampled_from([UsedPer.PASS_AREA, UsedPer.PIECE]),
        }
    ),
    width_mm=st.floats(20, 2000),
    in_inches=st.booleans(),
    minutes=st.integers(0, 9999),
    rate=st.decimals("0", "500", places=2),
)
def test_what_is_printed_multiplies_to_the_printed_amount(
    data, width_mm, in_inches, minutes, rate
):
    viewer = plain.viewer(in_fahrenheit=in_inches)
    part = WorkPart(
        name="piece", width_mm=width_mm, height_mm=300, layer_count=9, cap_count=1
    )
    work = SimpleNamespace(parts=(part,), maquette=None, passes_per_layer=2)
    use = material_use(
        Material(pk=1, name="Grey", **data), work=work, times=(), viewer=viewer
    )
    task = LabourTime(label="Painting", minutes=Decimal(minutes), rate_per_hour=rate)
    price = price_commission(
        PriceInputs(currency="USD", materials=(use,), labour=(task,))
    )
    material, labour = line_sections(price.lines, viewer=viewer, currency="USD")
    (printed,) = material["lines"]
    assert times(number(printed["quantity"]), printed) == number(printed["amount"])
    (printed,) = labour["lines"]
    hours = sum(
        Fraction(count) / (60 if unit == "min" else 1)
        for count, unit in re.findall(r"(\d+) (h|min)", printed["quantity"])
    )
    assert times(hours, printed) == number(printed["amount"])


def number(text):
    return Fraction(re.search(r"[\d,.]+", text)[0].replace(",", ""))


def times(quantity, printed):
    """Multiply as a reader of the paper does, and round to the cent, halves up."""
    exact = quantity * number(printed["unit_price"])
    return Fraction(int(exact * 100 + Fraction(1, 2)), 100)


def test_a_maquette_uses_material_up_too(cast, metric):
    for used_per in (UsedPer.PASS_AREA, UsedPer.FUSE_AREA, UsedPer.PIECE):
        build.enamel(cast, used_per=used_per, name=used_per)
    told = lines(priced(cast, **build.maquette()))
    # 2 layers, 2 passes of 0.015 m² more; one stack of 0.015 m² more; one piece more.
    assert told[UsedPer.PASS_AREA].quantity == Decimal("26.4")
    assert told[UsedPer.FUSE_AREA].quantity == Decimal(3)
    assert told[UsedPer.PIECE].quantity == Decimal(80)
    assert "the piece and its maquette" in told[UsedPer.PIECE].explanation


@pytest.mark.parametrize(
    "changes",
    [
        {"is_retired": True},
        {"amount_used": Decimal(0)},
        {"used_per": UsedPer.NOT_PRICED},
    ],
)
def test_what_is_not_used_is_not_priced(cast, changes):
    build.enamel(cast, **changes)
    assert "Grey enamel" not in lines(priced(cast))


def test_another_studios_material_is_never_priced(cast, strangers):
    build.enamel(strangers)
    assert "Grey enamel" not in lines(priced(cast))


def test_decals_take_no_enamel(cast):
    build.enamel(cast)
    told = lines(priced(cast, technique=Technique.DECAL))
    assert "Setting decals" in told
    assert "Painting" not in told
    assert "Grey enamel" not in told


def test_lengths_are_in_the_studios_units_and_tax_has_its_name(cast, strangers):
    build.rates(cast, tax_name="Sales tax", tax_percent=Decimal("8.25"))
    build.rates(strangers, tax_name="VAT", tax_percent=Decimal(20))

    def told(where):
        found = lines(priced(where))
        return found[f"{where.glass.name}, piece"].explanation, list(found)

    american, labels = told(cast)
    assert cast.viewer().size(300, 200) in american
    assert "Sales tax" in labels
    european, labels = told(strangers)
    assert "300 × 200 mm" in european
    assert "VAT" in labels


def test_the_plan_of_payments_adds_up_to_the_total(cast):
    found = priced(cast)
    assert sum(part.amount for part in found.plan) == found.price.total
    assert found.price.currency == "USD"


def test_every_number_is_kept_and_reads_as_json(cast):
    found = priced(cast, **build.maquette())
    kept = json.loads(json.dumps(found.as_json()))
    assert CommissionWork.from_json(kept["work"]) == found.work
    assert type(found.choices).from_json(kept["choices"]) == found.choices
    assert [one["part"] for one in kept["kiln_times"]] == [
        time.part.name for time in found.kiln_times
    ]
    assert kept["pricing"]["energy"]["kwh"] == str(found.inputs.energy.kwh)


def test_a_mistyped_rate_is_refused_before_it_is_too_long_to_be_stored(cast):
    with pytest.raises(Refused, match="too many digits"):
        priced(cast, rates={"labour_rate_per_hour": TOO_MUCH / 10})  # for ten hours
    with pytest.raises(StudioError, match="Mark-up in per cent"):
        priced(cast, rates={"markup_percent": Decimal(-1)})


def test_a_piece_that_no_kiln_can_take_is_refused_by_name(cast):
    with pytest.raises(Refused, match=cast.kiln.name):
        priced(cast, width_mm=2000)
    Kiln.owned.for_studio(cast.studio).update(is_retired=True)
    with pytest.raises(Refused, match="no kiln yet"):
        priced(cast)


def test_pricing_stores_nothing(cast):
    priced(cast)
    assert not Quote.across_studios.exists()
    assert not Material.across_studios.exists()
