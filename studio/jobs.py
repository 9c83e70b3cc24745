"""Background work that survives a crash: an outbox with leases.

A service calls `enqueue` inside its transaction. The row is the order; the message to
the worker only wakes it. A handler does the slow part outside any transaction and
returns a `finish` function. `run` calls that and marks the job done in one transaction,
so the effect happens once however often the work is started.

Papers, plans and archives are slow: one of them at a time on a machine, and what
somebody waits for goes first.
"""

import contextlib
import datetime as dt
import fcntl
import functools
import logging
import secrets
import threading
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

from django.conf import settings
from django.db import (
    DatabaseError,
    IntegrityError,
    OperationalError,
    connection,
    transaction,
)
from django.db.models import F, Q
from django.utils import timezone
from kombu.exceptions import KombuError
from redis.exceptions import RedisError

from studio.celery import app
from studio.errors import StudioError
from studio.models import OPEN_JOB_STATES, Job, JobState, Studio
from studio.outages import WORDS, Outage, outage_of
from studio.tenancy import StudioQuerySet
from studio.whole_files import with_its_files, without_left_files

if TYPE_CHECKING:
    from django.db.models import QuerySet

log = logging.getLogger(__name__)

MOST_ATTEMPTS = 5
FIRST_RETRY = dt.timedelta(seconds=10)
LONGEST_PAUSE = dt.timedelta(minutes=5)
SWEEP_BATCH = 200
# A finished job does nothing any more; why one failed may matter for longer.
DONE_KEPT_FOR = dt.timedelta(days=7)
FAILED_KEPT_FOR = dt.timedelta(days=30)
FORGET_BATCH = 1000
LONGEST_ERROR = 1000

Finish = Callable[[], None]
Handler = Callable[..., Finish | None]
Clock = Callable[[], dt.datetime]

Sweeper = Callable[[dt.datetime], None]
Forgetter = Callable[[dt.datetime], int]

# So many go before a slow job that has its turn; more would keep it waiting for ever.
URGENT_FIRST = 5

_handlers: dict[str, Handler] = {}
_slow: set[str] = set()
_sweepers: list[Sweeper] = []
_forgetters: list[Forgetter] = []


class LeaseLost(Exception):
    """The job was given to another worker meanwhile; this one must stop."""


# --- Asking for work --------------------------------------------------------------


def enqueue(*, studio: Studio, name: str, key: str = "", **arguments: object) -> Job:
    """Write a job down in the caller's transaction; it is sent on commit.

    With a `key`, a second call while the first job waits or runs returns that first
    job, so look first whether its result is there already. `arguments` are ids and
    other plain JSON values for the handler.
    """
    if name not in _handlers:
        raise LookupError(f"No handler is registered for the job {name!r}.")
    if key and (job := _open_with_key(studio, key)):
        return job
    now = timezone.now()
    try:
        with transaction.atomic():
            job = Job.across_studios.create(
                studio=studio,
                name=name,
                arguments=arguments,
                key=key,
                created_at=now,
                run_after=now,
                sent_at=now,
            )
    except IntegrityError:
        # Somebody committed the same key between the look and the insert.
        if key and (job := _open_with_key(studio, key)):
            return job
        raise
    transaction.on_commit(functools.partial(send, job.pk))
    return job


def _open_with_key(studio: Studio, key: str) -> Job | None:
    found: Job | None = (
        Job.owned.for_studio(studio).filter(key=key, state__in=OPEN_JOB_STATES).first()
    )
    return found


def last_with_key(studio: Studio, key: str) -> Job | None:
    """Return the last order under a key, open or over; none once it is deleted."""
    found: Job | None = (
        Job.owned.for_studio(studio).filter(key=key).order_by("-pk").first()
    )
    return found


def send(job_id: int) -> None:
    """Wake a worker for a job; a broker that is down only delays it."""
    try:
        app.tasks["studio.tasks.run_job"].apply_async(
            kwargs={"job_id": job_id}, retry=False
        )
    except (KombuError, RedisError, OSError) as problem:
        log.warning("Job %s waits, the broker does not answer: %s", job_id, problem)
        # What the order belongs to is saved, whatever happens here; without this note
        # the sweep only comes to it later.
        with contextlib.suppress(DatabaseError):
            Job.across_studios.filter(pk=job_id, state=JobState.WAITING).update(
                sent_at=None
            )


def on_sweep(sweeper: Sweeper) -> Sweeper:
    """Register a function for the worker's beat to call now and then.

    It is for what only time makes happen, and it should ask the database little.
    """
    if sweeper not in _sweepers:
        _sweepers.append(sweeper)
    return sweeper


def sweep(*, now: dt.datetime) -> None:
    """Call every registered function."""
    for sweeper in _sweepers:
        sweeper(now)


def send_forgotten(*, now: dt.datetime) -> int:
    """Send jobs whose message was lost or whose lease ran out; return how many."""
    _give_up_the_hopeless(now)
    never_came = Q(sent_at=None) | Q(
        sent_at__lt=_before(now, settings.JOB_RESEND_SECONDS)
    )
    waiting = Q(state=JobState.WAITING, run_after__lte=now)
    stale = Q(state=JobState.RUNNING, lease_until__lt=now)
    due = Job.across_studios.filter((waiting | stale) & never_came)
    ids = list(
        due.order_by("run_after", "pk").values_list("pk", flat=True)[:SWEEP_BATCH]
    )
    if ids:
        Job.across_studios.filter(pk__in=ids).update(sent_at=now)
    for job_id in ids:
        send(job_id)
    return len(ids)


def _give_up_the_hopeless(now: dt.datetime) -> None:
    """End jobs that killed their worker on every attempt."""
    Job.across_studios.filter(
        state=JobState.RUNNING, lease_until__lt=now, attempts__gte=MOST_ATTEMPTS
    ).update(
        state=JobState.FAILED,
        finished_at=now,
        error=f"The worker stopped in the middle of this {MOST_ATTEMPTS} times.",
    )


def on_forget(forgetter: Forgetter) -> Forgetter:
    """Register a function that deletes old things, called hourly by the worker's beat.

    It returns how many it deleted.
    """
    if forgetter not in _forgetters:
        _forgetters.append(forgetter)
    return forgetter


def forget_old(*, now: dt.datetime) -> int:
    """Delete old jobs and whatever else is registered; return how many."""
    return forget_over(now=now) + sum(forget(now) for forget in _forgetters)


def forget_over(*, now: dt.datetime) -> int:
    """Delete jobs that were done a week or failed a month ago; return how many.

    Only some at a time: after an update there may be years of them, and nobody should
    wait long.
    """
    done = Q(state=JobState.DONE, finished_at__lt=now - DONE_KEPT_FOR)
    failed = Q(state=JobState.FAILED, finished_at__lt=now - FAILED_KEPT_FOR)
    old = Job.across_studios.filter(done | failed).order_by("pk")
    count = 0
    while keys := list(old.values_list("pk", flat=True)[:FORGET_BATCH]):
        Job.across_studios.filter(pk__in=keys).delete()
        count += len(keys)
    return count


def release_leases() -> int:
    """Make every running job claimable now; return how many there were.

    Only for a machine whose one worker is known to be gone.
    """
    return Job.across_studios.filter(state=JobState.RUNNING).update(
        lease_until=dt.datetime(1970, 1, 1, tzinfo=dt.UTC), sent_at=None
    )


# --- Doing the work ---------------------------------------------------------------


def handler(name: str, *, is_slow: bool = False) -> Callable[[Handler], Handler]:
    """Register the function that does the jobs called `name`.

    Slow ones wait behind the others.

    It is called as ``function(studio, lease=lease, **arguments)`` outside any
    transaction and may be called again for the same job. It returns a function without
    arguments for what must happen exactly once, or None.
    """

    def register(function: Handler) -> Handler:
        if name in _handlers and _handlers[name] is not function:
            raise ValueError(f"Two handlers are called {name!r}.")
        _handlers[name] = function
        if is_slow:
            _slow.add(name)
        return function

    return register


class Lease:
    """The right to work on one job, until it expires or is taken away."""

    def __init__(self, job: Job, clock: Clock) -> None:
        self.job_id = job.pk
        self.token = job.token
        self._clock = clock
        self._done = threading.Event()
        self._thread = threading.Thread(
            target=self._keep, name=f"lease of job {job.pk}", daemon=True
        )

    def renew(self, progress: str | None = None) -> None:
        """Keep the job, and report progress.

        Raises
        ------
        LeaseLost
            When another worker has it; nothing this one does will count.
        """
        changes: dict[str, Any] = {"lease_until": _lease_end(self._clock())}
        if progress is not None:
            changes["progress"] = progress[:200]
        if not mine(self.job_id, self.token).update(**changes):
            raise LeaseLost(f"Job {self.job_id} is another worker's now.")

    def _keep(self) -> None:
        try:
            while not self._done.wait(settings.JOB_LEASE_SECONDS / 3):
                try:
                    self.renew()
                except LeaseLost:
                    return
                except OperationalError as problem:
                    # A busy database: the next renewal comes before the lease ends.
                    log.warning("Lease of job %s: %s", self.job_id, problem)
        finally:
            connection.close()  # This thread's own.

    def __enter__(self) -> "Lease":
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._done.set()
        self._thread.join()


def answer(job_id: int, *, clock: Clock) -> None:
    """Do what the message for a job asks for, once the urgent ones are done.

    A slow job whose place is taken stays in the database: whoever has the place wakes
    the next one.
    """
    for urgent_id in _next(urgent=True, now=clock())[:URGENT_FIRST]:
        run(urgent_id, clock=clock)
    if not Job.across_studios.filter(pk=job_id, name__in=_slow).exists():
        run(job_id, clock=clock)
        return
    with _place_for_slow_work() as is_free:
        ended = run(job_id, clock=clock) if is_free else None
    # After the place is free again, or a message that came just now would be lost.
    if ended is not None:
        for next_id in _next(urgent=False, now=clock())[:1]:
            send(next_id)


def _next(*, urgent: bool, now: dt.datetime) -> "QuerySet[Job, int]":
    due = Job.across_studios.filter(state=JobState.WAITING, run_after__lte=now)
    which = due.exclude(name__in=_slow) if urgent else due.filter(name__in=_slow)
    return which.order_by("run_after", "pk").values_list("pk", flat=True)


@contextlib.contextmanager
def _place_for_slow_work() -> Iterator[bool]:
    """Take the machine's one place for slow work, or say that somebody has it.

    The system gives it back when the process ends, however it ends.
    """
    with (settings.VAR_DIR / "slow-work.lock").open("wb") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            yield False
        else:
            yield True


def run(job_id: int, *, clock: Clock) -> JobState | None:
    """Claim a job, do it and finish it; None when it was not available or was lost."""
    job = claim(job_id, now=clock())
    if job is None:
        return None
    try:
        with without_left_files():
            with Lease(job, clock) as lease:
                finish = _handlers[job.name](job.studio, lease=lease, **job.arguments)
            return _finish(job, finish, now=clock())
    except LeaseLost:
        log.warning("Job %s (%s): lease lost, nothing done", job.pk, job.name)
        return None
    except StudioError as problem:
        # A rule refuses it, and would refuse it again.
        return _fail(job, str(problem), now=clock(), retry=False)
    except Exception as problem:  # a door: the log has it, the page only what to do
        if (outage := outage_of(problem)) is not None:
            log.warning("Job %s (%s) waits: %s (%s)", job.pk, job.name, outage, problem)
            return _put_off(job, outage, now=clock())
        log.exception("Job %s (%s), attempt %s", job.pk, job.name, job.attempts)
        text = (
            "Something in the program went wrong. Try again; if it comes back, tell "
            f"whoever runs the server to look for job {job.pk} in its log."
        )
        return _fail(job, text, now=clock(), retry=True)


def claim(job_id: int, *, now: dt.datetime) -> Job | None:
    """Claim a waiting or abandoned job with one conditional UPDATE."""
    token = secrets.token_hex(16)
    free = Q(state=JobState.WAITING, run_after__lte=now) | Q(
        state=JobState.RUNNING, lease_until__lt=now
    )
    won = Job.across_studios.filter(free, pk=job_id, attempts__lt=MOST_ATTEMPTS).update(
        state=JobState.RUNNING,
        token=token,
        lease_until=_lease_end(now),
        attempts=F("attempts") + 1,
        started_at=now,
        progress="",
    )
    if not won:
        return None
    return Job.across_studios.select_related("studio").get(pk=job_id)


def mine(job_id: int, token: str) -> StudioQuerySet[Job]:
    """Return the job as a queryset, empty once another worker has claimed it."""
    return Job.across_studios.filter(pk=job_id, token=token, state=JobState.RUNNING)


def _finish(job: Job, finish: Finish | None, *, now: dt.datetime) -> JobState:
    with with_its_files():
        # First, so that the row is locked while `finish` works.
        done = mine(job.pk, job.token).update(
            state=JobState.DONE, finished_at=now, error="", progress=""
        )
        if not done:
            raise LeaseLost(f"Job {job.pk} is another worker's now.")
        if finish is not None:
            finish()
    log.info("Job %s (%s) done", job.pk, job.name)
    return JobState.DONE


def _fail(job: Job, text: str, *, now: dt.datetime, retry: bool) -> JobState | None:
    changes: dict[str, Any] = {"error": text[:LONGEST_ERROR], "progress": ""}
    if retry and job.attempts < MOST_ATTEMPTS:
        pause = FIRST_RETRY * 2 ** (job.attempts - 1)
        return _give_back(job, JobState.WAITING, _after(now, pause) | changes)
    changes["finished_at"] = now
    return _give_back(job, JobState.FAILED, changes)


def _put_off(job: Job, outage: Outage, *, now: dt.datetime) -> JobState | None:
    """Let a job wait until an outage is over; no attempt is lost to it.

    It waits as long again as it has, so that one that fills the disk does not do so
    all the time.
    """
    pause = min(max(now - job.created_at, FIRST_RETRY), LONGEST_PAUSE)
    changes = {"attempts": job.attempts - 1, "progress": WORDS[outage].title}
    return _give_back(job, JobState.WAITING, _after(now, pause) | changes)


def _after(now: dt.datetime, pause: dt.timedelta) -> dict[str, Any]:
    # Without `sent_at` the sweep sends it as soon as the pause is over.
    return {"run_after": now + pause, "sent_at": None}


def _give_back(job: Job, state: JobState, changes: dict[str, Any]) -> JobState | None:
    if not mine(job.pk, job.token).update(state=state, **changes):
        return None
    return state


def _lease_end(now: dt.datetime) -> dt.datetime:
    return now + dt.timedelta(seconds=settings.JOB_LEASE_SECONDS)


def _before(now: dt.datetime, seconds: float) -> dt.datetime:
    return now - dt.timedelta(seconds=seconds)
