"""Prints what grows: disk, seconds and queries as a studio grows; not a test.

    python -m tests.firing.benchmark_growth [pushes] [jobs] [readings] [accepting]

In a test database of its own, made and dropped: SQLite, or what STUDIO_DATABASE_URL
names. CPU seconds are this process's own. ``--every 24`` judges only every 24th step of
the pushes and reckons the rest from those; ``--readings`` and ``--jobs`` set how many.
"""

import argparse
import datetime as dt
import os
import statistics
import time

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
os.environ.setdefault("STUDIO_NO_BOOTSTRAP", "1")
django.setup()

import numpy as np  # noqa: E402 - settings first
from django.db import connection, transaction  # noqa: E402
from django.test.utils import CaptureQueriesContext  # noqa: E402

from firing.controller_log.pushed import PushedReading  # noqa: E402
from firing.firings.services import running  # noqa: E402
from firing.models import Firing, Reading  # noqa: E402
from firing.physics.slab.warm import warm_up  # noqa: E402
from firing.plans.services import acceptance, watch  # noqa: E402
from firing.readings.selectors import verdict_inputs  # noqa: E402
from firing.readings.services import loggers  # noqa: E402
from firing.schedules.selectors import design_orders  # noqa: E402
from firing.schedules.selectors.programmes import run_of  # noqa: E402
from studio import documents, jobs  # noqa: E402
from studio.models import Job, JobState, Kiln  # noqa: E402
from tests import make  # noqa: E402
from tests.cast import gather  # noqa: E402
from tests.firing import build, plans_build  # noqa: E402

MINUTE = dt.timedelta(minutes=1)
STEP = 10  # readings to a step of the judge
MB = 1e6


def size_of(*tables):
    """Return the bytes of tables with all their indexes."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("VACUUM ANALYZE")
            names = ", ".join(f"pg_total_relation_size('{one}')" for one in tables)
            cursor.execute(f"SELECT {' + '.join(names.split(', '))}")
            return cursor.fetchone()[0]
        marks = ", ".join(["%s"] * len(tables))
        cursor.execute(
            "SELECT sum(pgsize) FROM dbstat WHERE name IN "
            f"(SELECT name FROM sqlite_master WHERE tbl_name IN ({marks}))",
            tables,
        )
        return cursor.fetchone()[0]


def five_days(cast):
    """Start a firing of a very thick slab, and return it with its kiln minute by minute."""
    piece = build.stacked(studio=cast.studio, glass=cast.glass, layer_count=20)
    start = dt.datetime.now(dt.UTC) - dt.timedelta(days=6)
    firing = running.start_firing(
        firing=build.fuse(piece=piece, kiln=cast.kiln, starts_at=start),
        by=None,
        at=start,
    )
    run = run_of(firing.kiln, firing.schedule)
    minutes = np.arange(0.0, 5 * 24 * 60)
    # As long as five days: the curve of the programme, stretched or cut.
    heats = np.interp(minutes * 60, run.time_s, run.temperature_c)
    noise = np.random.default_rng(1).normal(0, 0.3, heats.size)
    print(f"  the programme lasts {run.time_s[-1] / 3600:.0f} h")
    return firing, minutes, heats + noise


def do_jobs():
    for job in Job.across_studios.filter(state=JobState.WAITING).order_by("pk"):
        if jobs.run(job.pk, clock=lambda: dt.datetime.now(dt.UTC)) != JobState.DONE:
            raise SystemExit(f"A job did not end well: {job.name}")


def pushes(options):
    """Push a five-day firing once a minute and judge it as the worker does."""
    cast = gather("Gullmarsh", in_fahrenheit=True)
    firing, minutes, heats = five_days(cast)
    logger = loggers.make_logger(kiln=cast.kiln, name="x", by=None, at=firing.made_at)
    warm_up()
    tables = ("firing_judgement", "studio_job")
    before = size_of(*tables)
    pushing, steps = 0.0, []
    for number in range(0, len(minutes), STEP):
        began = time.process_time()
        # Ten pushes of one minute each, of which the first opens a new step.
        for at in range(number, number + STEP):
            when = firing.started_at + int(minutes[at]) * MINUTE
            one = PushedReading(at=when, temperature_c=float(heats[at]))
            loggers.take_pushed(logger=logger, readings=[one], at=when)
        pushing += time.process_time() - began
        if (number // STEP) % options.every:
            # Its job stays behind, as one that was done.
            done = {"state": JobState.DONE, "finished_at": when, "started_at": when}
            Job.across_studios.filter(state=JobState.WAITING).update(**done)
            continue
        began = time.process_time()
        do_jobs()
        steps.append(time.process_time() - began)
    judged = firing.judgements.count()
    share = options.every if judged > 2 else 1
    grown = size_of(*tables) - before
    print(f"  judgements and jobs grew by {grown / MB:.2f} MB")
    print(
        f"  {judged} judgements and {Job.across_studios.count()} jobs kept, of one in "
        f"{options.every} steps; by their text "
        f"{share * text_bytes(firing) / MB:.2f} MB for all steps"
    )
    print(
        f"  a step: {statistics.mean(steps):.2f} s CPU on average, "
        f"{max(steps):.2f} at most; a push {pushing / len(minutes) * 1000:.1f} ms"
    )


def text_bytes(firing):
    """Return the length of what was kept as JSON."""
    import json

    return sum(
        len(json.dumps([one.numbers, one.trace])) for one in firing.judgements.all()
    )


def old_jobs(cast, count):
    """Write down many jobs that were done, of every kind that has a key."""
    at = dt.datetime.now(dt.UTC) - dt.timedelta(days=1)
    kinds = ("firing.judge", "firing.design", "controller-sheet", "firing.watch_plan")
    for first in range(count, 2 * count, 5000):
        Job.across_studios.bulk_create(
            Job(
                studio=cast.studio,
                name=kinds[number % 4],
                key="" if number % 4 == 3 else f"{kinds[number % 4]} {number} x",
                state=JobState.DONE,
                created_at=at - dt.timedelta(days=3),
                run_after=at,
                sent_at=at,
                finished_at=at,
                arguments={"href": f"/{number}", "title": "x", "firing_id": number},
            )
            for number in range(first, min(first + 5000, 2 * count))
        )
    if connection.vendor == "postgresql":  # which does so by itself, SQLite never
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")


def jobs_lookups(options):
    """Time what a studio looks up of its jobs, with few and with many old ones."""
    cast = gather("Gullmarsh", in_fahrenheit=True)
    firing = build.fuse(
        piece=build.stacked(studio=cast.studio, glass=cast.glass), kiln=cast.kiln
    )
    now = dt.datetime.now(dt.UTC)
    paper = documents.PaperKey(
        studio=cast.studio, kind="x", subject_id=1, sha256="a" * 64
    )

    def enqueue():
        with transaction.atomic():
            jobs.enqueue(
                studio=cast.studio, name="firing.judge", key="bench", firing_id=0
            )
            transaction.set_rollback(True)

    looks = {
        "order a job": enqueue,
        "a firing's judging": lambda: verdict_inputs.judging_of(firing),
        "a paper's state": lambda: documents.state_of(paper),
        "the list of designs": lambda: design_orders.recent_orders(cast.studio, now),
        "a look ordered": lambda: look(cast),
        "the worker's sweep": lambda: jobs.send_forgotten(now=now),
    }
    found = {}
    for count in (100, options.jobs):
        old_jobs(cast, count)
        found[count] = {name: milliseconds(do) for name, do in looks.items()}
    for name in looks:
        print(
            "  " + name, *(f"{found[n][name]:.2f} ms with {n}" for n in found), sep=", "
        )


def look(cast):
    with transaction.atomic():
        watch.order_look(cast.studio)
        transaction.set_rollback(True)


def milliseconds(do, times=30):
    took = []
    for _ in range(times):
        began = time.perf_counter()
        do()
        took.append((time.perf_counter() - began) * 1000)
    return statistics.median(took)


def many_readings(options):
    """Keep many readings of one studio and say what they take on disk."""
    cast = gather("Gullmarsh", in_fahrenheit=True)
    before = size_of("firing_reading")
    each = 7200
    made = 0
    while made < options.readings:
        kiln = make.kiln(studio=cast.studio)
        piece = build.stacked(studio=cast.studio, glass=cast.glass, layer_count=2)
        firing = build.fuse(piece=piece, kiln=kiln)
        count = min(each, options.readings - made)
        Reading.across_studios.bulk_create(
            (
                Reading(
                    studio=cast.studio,
                    firing=firing,
                    at=make.NOW + number * MINUTE,
                    temperature_c=20.0 + number / 10,
                )
                for number in range(count)
            ),
            batch_size=5000,
        )
        made += count
    print(f"  {made} readings: {(size_of('firing_reading') - before) / MB:.1f} MB")
    one = Firing.across_studios.order_by("pk").first()
    print(
        f"  a firing's readings: {milliseconds(lambda: verdict_inputs.readings_of(one)):.1f} ms"
    )


def accepting(_):
    """Count the queries of taking a plan, all and those that write under the locks."""
    for pieces in (1, 3, 6):
        cast = gather(f"Studio of {pieces}", in_fahrenheit=True)
        for _ in range(2):
            make.kiln(studio=cast.studio)
        plans_build.work(
            cast, titles=tuple(f"Piece {n}" for n in range(pieces)), layers=4
        )
        made = plans_build.made(cast)
        record = made.options[0]["record"]
        count = len(record["firings"]) + len(record["fuses"])
        with CaptureQueriesContext(connection) as asked:
            acceptance.accept_plan(
                plan=made,
                option=made.options[0]["name"],
                by=cast.owner,
                at=plans_build.MONDAY,
            )
        said = [one["sql"] for one in asked.captured_queries]
        locked = next(
            (n for n, sql in enumerate(said) if sql.startswith(("SAVEPOINT", "BEGIN"))),
            0,
        )
        kilns = Kiln.owned.for_studio(cast.studio).count()
        print(
            f"  {count} firings in {kilns} kilns: {len(said)} queries, "
            f"{len(said) - locked} of them in the transaction"
        )


BENCHMARKS = {
    "pushes": pushes,
    "jobs": jobs_lookups,
    "readings": many_readings,
    "accepting": accepting,
}


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("names", nargs="*", choices=[*BENCHMARKS, []])
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--readings", type=int, default=1_000_000)
    parser.add_argument("--jobs", type=int, default=100_000)
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
