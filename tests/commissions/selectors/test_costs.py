"""What work really cost beside its quote: lines, reasons, margins; every figure by hand."""

from dataclasses import replace
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from commissions.costing import CostLine, cost_of
from commissions.selectors.cost_report import cost_report
from commissions.selectors.costs import cost_of_commission
from firing.firings.selectors.kiln_use import kiln_use
from firing.firings.services import firings, running
from studio.models import Piece
from studio.services import layers, pieces
from tests import make
from tests.cast import NOW
from tests.commissions import build
from tests.firing import build as build_firing

D = Decimal
HOUR = build_firing.HOUR


def line(section, quoted, real=None, minutes=0):
    return CostLine(
        section=section,
        label=section,
        quoted=D(quoted),
        real=None if real is None else D(real),
        minutes=D(minutes),
    )


def test_a_report_worked_by_hand():
    cost = cost_of(
        [
            line("materials", "100.00"),
            line("kiln time", "200.00", "310.00"),
            line("labour", "400.00", "500.00", minutes=750),
            line("labour", "40.00", minutes=60),
        ],
        price=D("1200.00"),
        overhead_percent=D(10),
        allowance=D("74.00"),
        lost=D("30.00"),
        currency="USD",
    )
    # Quoted 740, and 74 overhead; real 100 + 310 + 500 + 40 = 950, and 95.
    assert (cost.quoted_cost, cost.cost) == (D("814.00"), D("1045.00"))
    assert cost.left == D("155.00")
    assert round(cost.margin_percent, 2) == D("12.92")  # 155 / 1200
    # 540 of pay and 155 left over, in 13.5 h: 51.48
    assert (cost.labour, cost.minutes) == (D("540.00"), 810)
    assert cost.earned_per_hour == D("51.48")
    assert cost.recorded == 2
    assert [one.difference for one in cost.lines] == [0, 110, 100, 0]


def test_what_was_not_finished_counts_at_least_as_quoted():
    half = replace(line("labour", "400.00", "150.00", minutes=600), is_open=True)
    assert (half.counted, half.difference) == (400, 0)
    more = replace(line("labour", "400.00", "450.00", minutes=675), is_open=True)
    assert more.difference == 50


def burn(cast, passes, *, hours, kiln=None, outcome="fine"):
    """Burn passes on in one load, unloaded so many hours after it was started."""
    firing = firings.make_up_enamel_firing(
        studio=cast.studio,
        kiln=kiln or cast.kiln,
        passes=passes,
        starts_at=NOW,
        by=None,
        at=NOW,
    )
    running.start_firing(firing=firing, by=None, at=NOW)
    outcomes = {item.pk: (outcome, "") for item in firing.items.all()}
    return running.finish_firing(
        firing=firing,
        outcomes=outcomes,
        by=None,
        at=NOW + hours * HOUR,
        hand=build_firing.READ_COLD,
    )


@pytest.fixture
def quote(cast):
    return build.accepted(cast)


def piece_of(quote) -> Piece:
    return Piece.owned.for_studio(quote.studio).get()


def test_nothing_is_compared_before_a_quote_is_accepted(cast):
    assert cost_of_commission(build.commission(cast)) is None
    assert cost_report(cast.studio).rows == ()


def test_recorded_painting_stands_beside_the_quoted(cast, quote):
    passes = first_passes(piece_of(quote))
    layers.record_painted(passes=passes[:3], by=cast.maker, at=NOW, minutes=100)
    cost = cost_of_commission(quote.commission)
    painting = next(one for one in cost.lines if one.label == "Painting")
    rate = D(quote.inputs["choices"]["labour_rate_per_hour"])
    assert painting.real == 5 * rate  # 300 min
    assert painting.reason.startswith("5 h, not ")
    assert painting.difference == 0, "work goes on: as quoted so far"
    assert cost.cost == cost.quoted_cost
    recorded = {one.label for one in cost.lines if one.real is not None}
    assert recorded == {"Painting", "Material"}, "and the glass that was cut"


def first_passes(piece):
    return [one for one in make.passes_of(piece) if one.number == 1]


def painted_passes(piece, count):
    passes = first_passes(piece)[:count]
    layers.record_painted(passes=passes, by=None, at=NOW, minutes=60)
    return passes


def test_a_load_is_shared_by_the_shelf_that_each_took(cast):
    one = make.piece(studio=cast.studio, glass=cast.glass, layers=4, title="One")
    other = make.piece(studio=cast.studio, glass=cast.glass, layers=4, title="Other")
    passes = [*painted_passes(one, 1), *painted_passes(other, 2)]
    firing = burn(cast, passes, hours=10)
    both = kiln_use(cast.studio)
    assert {use.piece: round(use.share, 6) for use in both} == {
        one.pk: 0.333333,
        other.pk: 0.666667,
    }
    assert sum(use.share for use in both) == pytest.approx(1, abs=1e-12)
    assert {use.hours for use in both} == {10}
    assert {use.kwh for use in both} == {firing.energy_kwh}
    assert firing.energy_kwh > 1
    (mine,) = kiln_use(cast.studio, [one.pk])
    assert mine.share == pytest.approx(1 / 3)
    assert kiln_use(cast.studio, since=NOW + 11 * HOUR) == []
    assert kiln_use(cast.studio, until=NOW + 10 * HOUR) == []


def test_where_it_was_really_fired_is_the_reason(cast, quote):
    heron = make.kiln(studio=cast.studio, name="Heron", hourly_rate=D("20.00"))
    burn(cast, painted_passes(piece_of(quote), 4), hours=10, kiln=heron)
    cost = cost_of_commission(quote.commission)
    enamel = next(one for one in cost.lines if one.label == "Enamel firings")
    assert enamel.real == D("200.00")  # 10 h at 20
    assert enamel.reason.startswith(f"In Heron, not {cast.kiln}; 1 load, not 2.5")
    assert enamel.difference == max(D(0), D(200) - enamel.quoted)


def test_what_was_lost_stands_beside_what_was_priced_for_it(cast, quote):
    rate = D(quote.inputs["choices"]["labour_rate_per_hour"])
    burn(cast, painted_passes(piece_of(quote), 2), hours=10, outcome="redo")
    cost = cost_of_commission(quote.commission)
    assert cost.lost == 2 * rate + D("25.00")  # 2 h of painting; 10 h at 2.50
    assert cost.allowance == quote.lines.get(section="risk of remake").amount


def test_a_maquette_and_its_piece_make_up_the_whole(cast):
    quote = build.accepted(cast, of=build.commission(cast, **build.maquette()))
    whole, piece, maquette = (
        cost_of_commission(quote.commission, part) for part in ("", "piece", "maquette")
    )
    for name in ("price", "quoted_cost", "allowance"):
        parts = getattr(piece, name) + getattr(maquette, name)
        assert abs(parts - getattr(whole, name)) < D("0.20"), name  # rounded apart
    assert 0 < maquette.quoted_cost < piece.quoted_cost


def finish(piece):
    facts = {"piece": piece, "firing_kind": "full fuse", "by": None, "at": NOW}
    make.paint_and_fire(piece)
    pieces.check_stack(
        piece=piece,
        layers_counted=6,
        measured_height_mm=18,
        is_order_right=True,
        by=None,
        at=NOW,
    )
    pieces.note_into_kiln(**facts)
    pieces.note_out_of_kiln(outcome="fine", **facts)
    pieces.finish_piece(piece=piece, by=None, at=NOW)


def test_the_report_is_of_finished_work_and_says_what_each_page_says(cast, strangers):
    build.accepted(strangers)
    quote = build.accepted(cast)
    assert cost_report(cast.studio).rows == ()
    finish(piece_of(quote))
    (row,) = cost_report(cast.studio).rows
    cost = cost_of_commission(quote.commission)
    assert row.price == cost.price
    assert abs(row.real - cost.cost) < D("0.05")  # cents of lines rounded apart
    assert abs(row.quoted - cost.quoted_cost) < D("0.05")
    assert round(row.minutes) == cost.minutes
    assert row.margin_percent == pytest.approx(cost.margin_percent, abs=D("0.01"))
    (client,) = cost_report(cast.studio).by_client
    assert (client.name, client.real) == ("Perpetua Vane", row.real)
    (technique,) = cost_report(cast.studio).by_technique
    assert (technique.name, technique.count) == ("Painted", 1)


def test_the_report_takes_the_same_queries_however_much_there_is(cast):
    def count():
        with CaptureQueriesContext(connection) as caught:
            cost_report(cast.studio)
        return len(caught)

    finish(piece_of(build.accepted(cast)))
    before = count()
    for _ in range(3):
        made = build.accepted(cast)
        finish(Piece.owned.for_studio(cast.studio).order_by("-pk").first())
        assert made
    assert count() == before
