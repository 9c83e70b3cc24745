"""Prints how long prices and cost reports take; not a test.

    python -m tests.commissions.benchmark_money [price] [report] [--pieces N]

In a test database of its own, made and dropped: SQLite, or what STUDIO_DATABASE_URL
names. The report's studio is one real commission, made through the services, whose rows
are then copied: quotes with their lines, passes with minutes, loads that pieces share.
"""

import argparse
import datetime as dt
import os
import statistics
import time
from copy import copy

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
os.environ.setdefault("STUDIO_NO_BOOTSTRAP", "1")
django.setup()

from django.db import connection  # noqa: E402 - settings first
from django.test.utils import CaptureQueriesContext  # noqa: E402

from commissions.models import (  # noqa: E402
    Commission,
    CommissionedPiece,
    Quote,
    QuoteLine,
)
from commissions.selectors.cost_report import cost_report  # noqa: E402
from commissions.selectors.prices import price_work  # noqa: E402
from commissions.selectors.rates import choices_for  # noqa: E402
from firing.models import Booking, Firing, LoadItem  # noqa: E402
from studio import jobs  # noqa: E402
from studio.models import (  # noqa: E402
    Layer,
    Pass,
    Piece,
    PieceEvent,
    PieceEventKind,
    Sheet,
)
from tests.cast import NOW, gather  # noqa: E402
from tests.commissions import build  # noqa: E402
from tests.firing import build as build_firing  # noqa: E402

ROUNDS = 15
PER_LOAD = 3


def timed(what, act):
    """Print the median and the slowest of several rounds, and the queries of one."""
    act()
    with CaptureQueriesContext(connection) as asked:
        act()
    spent, cpu = [], []
    for _ in range(ROUNDS):
        began, busy = time.perf_counter(), time.process_time()
        act()
        cpu.append((time.process_time() - busy) * 1000)
        spent.append((time.perf_counter() - began) * 1000)
    print(
        f"  {what}: median {statistics.median(spent):.0f} ms ({statistics.median(cpu):.0f} "
        f"of CPU), slowest {max(spent):.0f} ms, {len(asked)} queries"
    )


def price(_options):
    """Price 20 layers with a maquette, as each keystroke on the quote's page does."""
    cast = gather("Gullmarsh", in_fahrenheit=True)
    build.enamel(cast)
    commission = build.commission(cast, layer_count=20, **build.maquette())
    timed(
        "a quote of 20 layers",
        lambda: price_work(commission=commission, choices=choices_for(commission)),
    )


def copied(row, **changes):
    made = copy(row)
    made.pk, made._state = None, copy(row._state)
    made._state.adding = True
    for name, value in changes.items():
        setattr(made, name, value)
    return made


def report(options):
    """Copy a finished commission until there are so many, and report on all of them."""
    cast = gather("Gullmarsh", in_fahrenheit=True)
    quote = build.accepted(cast, of=build.commission(cast, layer_count=20))
    piece = Piece.owned.for_studio(cast.studio).get()
    layers = list(piece.layers.order_by("number"))
    lines = list(quote.lines.all())
    firing = build_firing.enamel(kiln=cast.kiln, glass=cast.glass)
    PieceEvent.across_studios.create(
        studio=cast.studio, piece=piece, kind=PieceEventKind.FINISHED, at=NOW
    )
    many = range(options.pieces - 1)
    create = {m: m.across_studios.bulk_create for m in (
        Commission, Quote, QuoteLine, Piece, PieceEvent, CommissionedPiece, Layer, Sheet,
        Pass, Booking, Firing, LoadItem,
    )}  # fmt: skip
    commissions = create[Commission](copied(quote.commission) for _ in many)
    quotes = create[Quote](copied(quote, commission=one) for one in commissions)
    create[QuoteLine](copied(line, quote=one) for one in quotes for line in lines)
    made = create[Piece](copied(piece) for _ in many)
    create[PieceEvent](
        PieceEvent(studio=cast.studio, piece=one, kind=PieceEventKind.FINISHED, at=NOW)
        for one in made
    )
    create[CommissionedPiece](
        CommissionedPiece(studio=cast.studio, commission=c, piece=p)
        for c, p in zip(commissions, made, strict=True)
    )
    own = create[Layer](copied(layer, piece=one) for one in made for layer in layers)
    sheets = create[Sheet](
        Sheet(studio=cast.studio, layer=layer, attempt=1, made_at=NOW) for layer in own
    )
    passes = create[Pass](
        Pass(
            studio=cast.studio,
            sheet=sheet,
            number=1,
            minutes=70,
            painted_at=NOW,
            fired_at=NOW,
            outcome="fine",
        )
        for sheet in sheets
        if sheet.layer.planned_passes
    )
    loads = len(made) * 4 // PER_LOAD
    bookings = create[Booking](
        copied(
            firing.booking,
            starts_at=NOW - dt.timedelta(days=2 * n + 2),
            ends_at=NOW - dt.timedelta(days=2 * n + 1),
        )
        for n in range(loads)
    )
    firings = create[Firing](
        copied(
            firing,
            booking=booking,
            started_at=booking.starts_at,
            finished_at=booking.ends_at,
            energy_kwh=30.0,
        )
        for booking in bookings
    )
    create[LoadItem](
        LoadItem(
            studio=cast.studio,
            firing=firings[n * loads // len(passes)],
            of_pass=one,
            outcome="fine",
        )
        for n, one in enumerate(passes)
    )
    rows = len(cost_report(cast.studio).rows)
    print(f"  {rows} pieces, {len(passes)} passes, {loads} firings")
    timed("the cost report", lambda: cost_report(cast.studio))


BENCHMARKS = {"price": price, "report": report}


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("names", nargs="*", choices=[*BENCHMARKS, []])
    parser.add_argument("--pieces", type=int, default=1000)
    options = parser.parse_args()
    jobs.send = lambda job_id: None
    for name in options.names or BENCHMARKS:
        print(f"{name}, {connection.vendor}")
        connection.creation.create_test_db(verbosity=0, autoclobber=True)
        try:
            BENCHMARKS[name](options)
        finally:
            connection.creation.destroy_test_db("", verbosity=0)


if __name__ == "__main__":
    main()
