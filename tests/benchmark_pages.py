"""Prints how long the server takes for each page of a large studio; not a test.

    python -m tests.benchmark_pages [--requests 20] [--profile] [NAME ...]

Loads the demo, does its waiting jobs and copies its rows until the larger studio has 52
open pieces, 500 finished ones, about 7,000 firings and 40 open commissions, then asks
for each page as its owner, through every middleware, on SQLite. Filling takes minutes:
name a folder in STUDIO_VAR_DIR and the next run finds the studio there. The clock stops
when the answer is sent; CPU is this process's own time, with what is tidied after that.
"""

import argparse
import cProfile
import datetime as dt
import logging
import math
import os
import pstats
import secrets
import statistics
import time
from collections import defaultdict

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
os.environ.setdefault("STUDIO_NO_BOOTSTRAP", "1")
django.setup()

from django.core.management import call_command  # noqa: E402 - settings first
from django.core.signals import request_finished  # noqa: E402
from django.db import connection, transaction  # noqa: E402
from django.db.models import Max, Min, Q  # noqa: E402
from django.test import Client as Browser  # noqa: E402
from django.test.utils import CaptureQueriesContext  # noqa: E402
from django.urls import reverse  # noqa: E402
from django.utils import timezone  # noqa: E402

from commissions.demo.load import load  # noqa: E402
from commissions.models import (  # noqa: E402
    Client,
    Commission,
    CommissionedPiece,
    Instalment,
    Invoice,
    InvoiceLine,
    Payment,
    Post,
    PromiseCheck,
    Quote,
    QuoteLine,
    ShareLink,
)
from firing.models import (  # noqa: E402
    Booking,
    Firing,
    Judgement,
    LoadItem,
    Plan,
    Reading,
    ReadingImport,
    Schedule,
    ScheduleSegment,
)
from firing.plans.services.acceptance import accept_plan  # noqa: E402
from firing.plans.services.plans import plan_at_once  # noqa: E402
from studio import jobs  # noqa: E402
from studio.models import (  # noqa: E402
    HistoryEntry,
    Kiln,
    Layer,
    Pass,
    Person,
    Picture,
    Piece,
    PieceEvent,
    Reservation,
    Sheet,
    StockMove,
    Studio,
)
from studio.portable import mend_subject  # noqa: E402
from studio.startup import begin  # noqa: E402
from tests.worker import run_waiting_jobs  # noqa: E402

DAY = dt.timedelta(days=1)
HOUR = dt.timedelta(hours=1)
FINISHED, OPEN_COPIES, ONLY_QUOTED = 500, 12, 13
GOAL_MS = 100
# p95 of the first measurement, before anything was made faster.
EARLIER_MS = {
    "today": 883,
    "kiln": 877,
    "kilns": 460,
    "running firing": 436,
    "commissions": 357,
    "pieces": 320,
    "load form": 106,
}
PLAN_UNITS = 150_000


class Copier:
    """Copies rows some time earlier; a copy that names a copied row names its copy."""

    def __init__(self, number, earlier):
        self.number = number
        self.earlier = earlier
        self.keys = defaultdict(dict)

    def of(self, row):
        """Return the key of a row's copy."""
        return self.keys[row._meta.label_lower][row.pk]

    def copy(self, rows, **given):
        """Copy rows in the order of their keys; days stay, instants are earlier."""
        old = list(rows.order_by("pk"))
        new = [self._copied(row, given) for row in old]
        rows.model.across_studios.bulk_create(new)
        kind = rows.model._meta.label_lower
        pairs = {a.pk: b.pk for a, b in zip(old, new, strict=True)}
        self.keys[kind] = self.keys[kind] | pairs
        return new

    def _copied(self, row, given):
        values = {}
        for one in row._meta.concrete_fields:
            value = getattr(row, one.attname)
            if one.primary_key:
                continue
            if one.is_relation:
                kind = one.related_model._meta.label_lower
                value = self.keys[kind].get(value, value)
            elif isinstance(value, dt.datetime):
                value -= self.earlier
            values[one.attname] = value
        copied = type(row)(**values)
        for name, value in given.items():
            setattr(copied, name, value)
        if isinstance(copied, HistoryEntry):
            mend_subject(copied, self.keys)
        return copied


# --- Filling ----------------------------------------------------------------------


def fill():
    """Return the studio, filled; what the folder has already is not done again."""
    call_command("migrate", verbosity=0)
    if load(now=timezone.now(), seed=7):
        run_waiting_jobs()
    studio = Studio.objects.get(name="Ebbside Kilns")
    if Commission.owned.for_studio(studio).count() < ONLY_QUOTED:
        with transaction.atomic():
            copy_all(studio)
        connection.check_constraints()
    if Plan.owned.for_studio(studio).count() == 1:
        owner, now = Person.objects.get(email="wren@example.org"), timezone.now()
        plan = plan_at_once(studio=studio, by=owner, at=now, units=PLAN_UNITS)
        accept_plan(plan=plan, option=plan.options[0]["name"], by=owner, at=now)
        run_waiting_jobs()
    return studio


def copy_all(studio):
    """Copy pieces in work to before the demo's months, finished ones to before those."""
    pieces = Piece.owned.for_studio(studio)
    finished = pieces.get(events__kind="finished")
    in_work = list(pieces.exclude(pk=finished.pk))
    only_quoted = Commission.owned.for_studio(studio).get(commissioned_pieces=None)
    booked = Booking.owned.for_studio(studio)
    fired = booked.filter(firing__started_at__isnull=False)
    # Rented time is not copied, but it is in the way as well.
    first = booked.aggregate(first=Min("starts_at"))["first"]
    span = fired.aggregate(last=Max("ends_at"))["last"] - first
    kilns = kilns_with_schedules(studio)
    for number in range(1, OPEN_COPIES + 1):
        for piece in in_work:
            copy_open(piece, Copier(number, number * span))
    for number in range(1, FINISHED):
        turn, which = divmod(number, len(kilns))
        copier = Copier(number, (OPEN_COPIES + 1) * span + turn * 25 * DAY)
        copier.keys |= kilns[which]
        copy_finished(finished, copier, rounds=7 if number % 3 == 0 else 6)
    for number in range(1, ONLY_QUOTED + 1):
        copy_commission(only_quoted, Copier(number, number * HOUR))


def kilns_with_schedules(studio):
    """Return for each kiln what stands there for the kiln and schedule of the demo."""
    own = Schedule.owned.for_studio(studio).get(kind="enamel", kiln__name="Teal")
    found = []
    for kiln in Kiln.owned.for_studio(studio).order_by("pk"):
        copier = Copier(0, 0 * DAY)
        copier.keys["studio.kiln"][own.kiln_id] = kiln.pk
        there = Schedule.across_studios.filter(kind="enamel", kiln=kiln).first()
        if there is None:
            there = copier.copy(Schedule.across_studios.filter(pk=own.pk))[0]
            copier.copy(ScheduleSegment.across_studios.filter(schedule=own))
        copier.keys["firing.schedule"][own.pk] = there.pk
        found.append(copier.keys)
    return found


def copy_open(piece, copier):
    """Copy a piece in work with its fired loads and its commission; no kiln runs it."""
    copy_piece(piece, copier)
    events = PieceEvent.across_studios.filter(piece=copier.of(piece))
    if events.last() and events.last().kind == "into kiln":
        events.last().delete()
    copy_fired(Q(items__of_pass__sheet__layer__piece=piece), copier)
    copy_fired(Q(items__piece=piece), copier)
    for joined in CommissionedPiece.across_studios.filter(piece=piece):
        copy_commission(joined.commission, copier)


def copy_finished(piece, copier, *, rounds):
    """Copy a finished piece, painted and fired in several rounds."""
    Pass.across_studios.filter(sheet__layer__piece=piece).update(number=rounds)
    copy_piece(piece, copier, maquette_of=None)
    painted = Q(items__of_pass__sheet__layer__piece=piece)
    copy_fired(painted | Q(items__piece=piece), copier)
    for back in range(1, rounds):
        before = Copier(copier.number, copier.earlier + back * 60 * HOUR)
        before.keys |= copier.keys
        before.copy(
            Pass.across_studios.filter(sheet__layer__piece=piece), number=rounds - back
        )
        copy_fired(painted, before)
    Pass.across_studios.filter(sheet__layer__piece=piece).update(number=1)
    Layer.across_studios.filter(piece=copier.of(piece), planned_passes__gt=0).update(
        planned_passes=rounds
    )


def copy_piece(piece, copier, **given):
    """Copy a piece with everything that was recorded about it but its firings."""
    title = f"{piece.title} {copier.number}"
    copier.copy(Piece.across_studios.filter(pk=piece.pk), title=title, **given)
    copier.copy(Layer.across_studios.filter(piece=piece))
    copier.copy(StockMove.across_studios.filter(piece=piece))
    copier.copy(Reservation.across_studios.filter(piece=piece))
    copier.copy(Sheet.across_studios.filter(layer__piece=piece))
    copier.copy(Pass.across_studios.filter(sheet__layer__piece=piece))
    copier.copy(PieceEvent.across_studios.filter(piece=piece))
    copier.copy(Picture.across_studios.filter(piece=piece))
    copier.copy(HistoryEntry.across_studios.filter(piece=piece))
    copier.copy(Schedule.across_studios.filter(piece=piece))
    copier.copy(ScheduleSegment.across_studios.filter(schedule__piece=piece))


def copy_fired(which, copier):
    """Copy finished firings with their bookings, readings and verdicts."""
    fired = Firing.across_studios.filter(which, finished_at__isnull=False).distinct()
    keys = list(fired.values_list("pk", flat=True))
    copier.copy(Booking.across_studios.filter(firing__in=keys))
    copier.copy(Firing.across_studios.filter(pk__in=keys))
    copier.copy(LoadItem.across_studios.filter(firing__in=keys))
    copier.copy(ReadingImport.across_studios.filter(firing__in=keys))
    copier.copy(Judgement.across_studios.filter(firing__in=keys))
    for old in keys:
        copy_readings(old, copier)


def copy_readings(firing, copier):
    """Copy the readings of a firing with one file, two million in all: in the database."""
    source = ReadingImport.across_studios.get(firing=firing)
    with connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO firing_reading (studio_id, firing_id, source_id, at, "
            "temperature_c) SELECT studio_id, %s, %s, strftime('%%Y-%%m-%%d %%H:%%M:%%S', "
            "at, %s), temperature_c FROM firing_reading WHERE source_id = %s",
            [
                copier.keys["firing.firing"][firing],
                copier.of(source),
                f"-{copier.earlier.total_seconds():.0f} seconds",
                source.pk,
            ],
        )


def copy_commission(commission, copier):
    """Copy a commission with its client, its quotes and what was paid and told."""
    name = f"{commission.client.name} {copier.number}"
    title = f"{commission.title} {copier.number}"
    copier.copy(Client.across_studios.filter(pk=commission.client_id), name=name)
    copier.copy(Commission.across_studios.filter(pk=commission.pk), title=title)
    copier.copy(Quote.across_studios.filter(commission=commission))
    for model in (QuoteLine, Instalment, PromiseCheck):
        copier.copy(model.across_studios.filter(quote__commission=commission))
    for invoice in Invoice.across_studios.filter(commission=commission).order_by("pk"):
        serial = invoice.serial + 1000 * copier.number
        copier.copy(
            Invoice.across_studios.filter(pk=invoice.pk),
            serial=serial,
            number=f"{invoice.year}-{serial}",
        )
        copier.copy(InvoiceLine.across_studios.filter(invoice=invoice))
    for model in (Payment, Post):
        copier.copy(model.across_studios.filter(commission=commission))
    copier.copy(
        CommissionedPiece.across_studios.filter(
            commission=commission, is_maquette=False
        )
    )
    link = ShareLink.across_studios.filter(commission=commission)
    copier.copy(link, nonce=secrets.token_urlsafe(32))


# --- Measuring --------------------------------------------------------------------


def pages_of(studio):
    """Return the address of each page by the name it is printed under."""

    def mine(model, **which):
        return model.owned.for_studio(studio).filter(**which)

    running = mine(Firing, started_at__isnull=False, finished_at=None).first()
    failed = mine(Firing, items__piece__events__outcome="redo").order_by("-pk").first()
    judged = mine(Firing, pk=mine(Judgement).latest("pk").firing_id).get()
    planned = mine(Booking, is_provisional=True).first()
    piece = mine(Piece, title="Spring tide at the sluice").get()
    at_bench = mine(Piece, title="Reed edge, slack water").get()
    sold = Commission.across_studios.get(commissioned_pieces__piece=at_bench)
    schedule = mine(Schedule, piece=None).first()
    standing = mine(Plan, state="accepted").get()
    of = {
        "today": ["studio:today"],
        "kilns": ["firing:kiln_list"],
        "kiln": ["firing:kiln_detail", running.kiln_id],
        "busy kiln": ["firing:kiln_detail", judged.kiln_id],
        "kiln plan": ["firing:plan"],
        "one plan": ["firing:plan_detail", standing.pk],
        "planned booking": ["firing:booking_detail", planned.pk],
        "move a booking": ["firing:booking_move", planned.pk],
        "free time": ["firing:free_time"],
        "week sheet": ["firing:week_sheet"],
        "pieces": ["studio:piece_list"],
        "piece": ["studio:piece_detail", piece.pk],
        "piece at the bench": ["studio:piece_detail", at_bench.pk],
        "layer": ["studio:layer_detail", at_bench.pk, 1],
        "paint": ["studio:piece_paint", at_bench.pk],
        "schedule": ["firing:fuse_plan", at_bench.pk],
        "kept schedule": ["firing:schedule_detail", schedule.pk],
        "schedules": ["firing:schedule_list"],
        "firings": ["firing:firing_list"],
        "firing": ["firing:firing_detail", judged.pk],
        "running firing": ["firing:firing_detail", running.pk],
        "load form": ["firing:load_new"],
        "unload": ["firing:firing_finish", running.pk],
        "verdict": ["firing:firing_judgement", failed.pk],
        "readings": ["firing:readings_import", running.pk],
        "commissions": ["commissions:commission_list"],
        "commission": ["commissions:commission_detail", sold.pk],
        "quote": ["commissions:quote_detail", sold.quotes.first().pk],
        "money": ["commissions:money_list"],
        "invoice": ["commissions:invoice_detail", sold.invoices.first().pk],
        "clients": ["commissions:client_list"],
        "client": ["commissions:client_detail", sold.client_id],
        "news": ["commissions:post_new", sold.pk],
        "stock": ["studio:stock"],
        "count": ["studio:stock_count"],
        "in and out": ["studio:stock_moves"],
        "shopping list": ["studio:stock_shopping"],
        "cutting plan": ["studio:glass_cutting", at_bench.glass_id],
        "history": ["studio:history"],
        "settings": ["studio:settings"],
    }
    found = {name: reverse(one[0], args=one[1:]) for name, one in of.items()}
    return found | {"search": reverse("studio:search") + "?q=tide"}


SENT = []


def note_sent(**_):
    SENT.append(time.perf_counter())


def measured(browser, address, requests):
    """Return milliseconds on the clock and of this process, after an uncounted one."""
    clock, own = [], []
    for _ in range(requests + 1):
        began, began_own = time.perf_counter(), time.process_time()
        answer = browser.get(address)
        clock.append((SENT[-1] - began) * 1000)
        own.append((time.process_time() - began_own) * 1000)
        assert answer.status_code == 200, (address, answer.status_code)
    return clock[1:], own[1:]


def p95(values):
    return sorted(values)[math.ceil(0.95 * len(values)) - 1]


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("names", nargs="*", metavar="NAME")
    parser.add_argument("--requests", type=int, default=20)
    parser.add_argument("--profile", action="store_true", help="print the slow calls")
    options = parser.parse_args()
    jobs.send = lambda job_id: None
    logging.disable(logging.INFO)
    studio = fill()
    for model in (Piece, Firing, Reading, Commission):
        rows = model.owned.for_studio(studio).count()
        print(f"{rows:,} {model._meta.verbose_name_plural}", end="; ")
    print(f"{connection.vendor}")
    # Before what tidies up after an answer.
    request_finished.connect(note_sent)
    begin()
    browser = Browser(SERVER_NAME="localhost")
    browser.force_login(Person.objects.get(email="wren@example.org"))
    columns = ("p50", "p95", "CPU p50", "p95", "goal", "earlier", "queries", "kB")
    print(" " * 20 + "".join(f"{one:>9}" for one in columns))
    for name, address in pages_of(studio).items():
        if options.names and name not in options.names:
            continue
        clock, own = measured(browser, address, options.requests)
        with CaptureQueriesContext(connection) as asked:
            size = len(browser.get(address).content)
        figures = (
            *(f"{ms:.0f}" for ms in (statistics.median(clock), p95(clock))),
            *(f"{ms:.0f}" for ms in (statistics.median(own), p95(own))),
            *(GOAL_MS, EARLIER_MS.get(name, ""), len(asked), round(size / 1000)),
            "over" if p95(clock) >= GOAL_MS else "",
        )
        print(f"{name:20}" + "".join(f"{one:>9}" for one in figures), flush=True)
        if options.profile:
            with cProfile.Profile() as profile:
                browser.get(address)
            pstats.Stats(profile).sort_stats("cumulative").print_stats(60)


if __name__ == "__main__":
    main()
