"""What pieces without a quote cost: every figure worked by hand."""

from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from commissions.costing import SpentLine, spent_of
from commissions.models import CommissionedPiece
from commissions.selectors.spent import (
    spent_on_commission,
    spent_on_piece,
    spent_report,
)
from studio.models import Piece, PieceEvent, StockMove
from studio.services.task_times import record_time
from tests import make
from tests.cast import NOW
from tests.commissions import build
from tests.commissions.selectors.test_costs import burn, finish, painted_passes

D = Decimal


def test_a_sum_worked_by_hand():
    spent = spent_of(
        [
            SpentLine(section="materials", label="Material", amount=D("12.30")),
            SpentLine(
                section="labour", label="Painting", amount=D("100.00"), minutes=D(150)
            ),
            SpentLine(section="labour", label="Dams", amount=D("20.05"), minutes=D(30)),
        ],
        overhead_percent=D(10),
        lost=D("20.00"),
        currency="USD",
    )
    # 132.35 and 13.235 of overhead, rounded half up to 13.24.
    assert (spent.overhead, spent.cost) == (D("13.24"), D("145.59"))
    assert spent.minutes == 180
    assert spent.of_section("labour") == D("120.05")


@pytest.fixture
def rated(cast):
    """Work at 40 an hour, electricity at 0.25 a kWh, 10 % of overhead."""
    build.rates(
        cast,
        labour_rate_per_hour=D(40),
        energy_price_per_kwh=D("0.25"),
        overhead_percent=D(10),
    )
    return cast


def test_a_piece_without_a_commission_costs_what_was_recorded(rated):
    cast = rated
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=4)
    assert spent_on_piece(piece).lines == ()
    heron = make.kiln(studio=cast.studio, name="Heron", hourly_rate=D("3.00"))
    firing = burn(cast, painted_passes(piece, 3), hours=10, kiln=heron, outcome="redo")
    spent = spent_on_piece(piece)
    lines = {line.label: line for line in spent.lines}
    assert set(lines) == {"Material", "Enamel firings", "Electricity", "Painting"}
    assert lines["Enamel firings"].amount == D("30.00")  # 10 h at 3
    assert lines["Enamel firings"].much == "1 load in Heron, 10 h"
    assert lines["Painting"].amount == D("120.00")  # 3 h at 40
    assert lines["Painting"].much == "3 h"
    kwh = D(str(round(firing.energy_kwh, 1)))
    assert lines["Electricity"].amount == round(kwh * D("0.25"), 2)
    direct = sum(line.amount for line in spent.lines)
    assert spent.cost == direct + spent.overhead
    assert spent.overhead == pytest.approx(direct / 10, abs=D("0.005"))
    assert spent.lost == D("150.00"), "work and kiln of the passes to be done again"


def test_maquettes_count_with_their_piece_and_alone(rated):
    cast = rated
    piece = make.piece(studio=cast.studio, glass=cast.glass)
    trial = make.piece(studio=cast.studio, glass=cast.glass, title="Trial")
    Piece.across_studios.filter(pk=trial.pk).update(maquette_of=piece)
    painted_passes(piece, 1)
    painted_passes(trial, 2)
    minutes = {p: spent_on_piece(piece, p).minutes for p in ("", "piece", "maquette")}
    assert minutes == {"": 180, "piece": 60, "maquette": 120}


def test_a_commission_that_no_quote_stands_beside_costs_its_pieces(rated):
    quote = build.accepted(rated)
    assert spent_on_commission(rated.studio, quote.commission_id).lines == ()
    painted_passes(Piece.owned.for_studio(rated.studio).get(), 2)
    assert spent_on_commission(rated.studio, quote.commission_id).minutes == 120


def own(cast, *, title="Own"):
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=6, title=title)
    finish(piece)
    return piece


def test_the_report_is_of_finished_pieces_that_nobody_ordered(rated, strangers):
    cast = rated
    own(strangers)
    ordered = build.accepted(cast)
    finish(Piece.owned.for_studio(cast.studio).get())
    assert CommissionedPiece.owned.for_studio(cast.studio).count() == 1
    assert spent_report(cast.studio) == ()
    make.piece(studio=cast.studio, glass=cast.glass, title="Not finished")
    piece = own(cast)
    trial = make.piece(studio=cast.studio, glass=cast.glass, title="Trial")
    Piece.across_studios.filter(pk=trial.pk).update(maquette_of=piece)
    painted_passes(trial, 1)
    (row,) = spent_report(cast.studio)
    assert (row.title, row.minutes) == ("Own", 360)
    assert row.cost == spent_on_piece(piece).cost
    assert StockMove.owned.for_studio(cast.studio).filter(piece=piece).exists()
    assert ordered


def test_the_report_and_the_page_say_the_same_to_the_cent(rated):
    cast = rated
    build.rates(cast, labour_rate_per_hour=D("41.37"), overhead_percent=D("17.5"))
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=6)
    heron = make.kiln(studio=cast.studio, name="Heron", hourly_rate=D("3.33"))
    burn(cast, painted_passes(piece, 4), hours=7, kiln=heron)
    for task, minutes in (("cutting", 13), ("dams", 7), ("stacking", 29)):
        record_time(
            piece=piece,
            task=task,
            minutes=minutes,
            day=NOW.date(),
            note="",
            by=cast.maker,
            at=NOW,
        )
    PieceEvent.across_studios.create(
        studio=cast.studio, piece=piece, kind="finished", at=NOW
    )
    (row,) = spent_report(cast.studio)
    assert row.cost == spent_on_piece(piece).cost


def test_the_report_takes_the_same_queries_however_much_there_is(rated):
    def count():
        with CaptureQueriesContext(connection) as caught:
            spent_report(rated.studio)
        return len(caught)

    own(rated)
    before = count()
    for number in range(3):
        own(rated, title=f"Own {number}")
    assert count() == before
    assert len(spent_report(rated.studio)) == 4
