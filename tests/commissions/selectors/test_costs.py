"""What work really cost beside its quote: lines, reasons, margins; every figure by hand."""

from decimal import Decimal

from commissions.costing import CostLine, cost_of

D = Decimal


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
