"""Background work of the firing app: handlers that the worker calls by name."""

import time
from contextlib import suppress
from datetime import date
from typing import TYPE_CHECKING, Any

from celery import shared_task
from django.utils import timezone

from firing.firings import documents
from firing.kiln_time import week_sheet
from firing.loads.selectors.firings import firings
from firing.loads.selectors.planned import standing_plan
from firing.physics.schedule import PhysicsProblem
from firing.plans.selectors.holding import holding_of
from firing.plans.selectors.planning import compute
from firing.plans.selectors.plans import PLAN_JOB, WATCH_JOB, is_stop_asked, plans
from firing.plans.selectors.words import progress_words
from firing.plans.services.plans import keep_plan, note_failure
from firing.plans.services.watch import keep_holding, look_if_changed
from firing.readings import verdict_sheet
from firing.readings.selectors.imports import unfinished_imports
from firing.readings.selectors.sent_files import READ_JOB, sent_files
from firing.readings.selectors.verdict_inputs import (
    JUDGE_JOB,
    inputs_sha256,
    judge_firing,
    judgement_of,
    judging_of,
    last_judgement,
)
from firing.readings.services.bulk import delete_import
from firing.readings.services.judging import LOOK_JOB, keep_judgement
from firing.readings.services.limits import judge_by_new_limits
from firing.readings.services.readings import DELETE_JOB
from firing.readings.services.sent_files import bring_in
from firing.records import record_paper
from firing.schedules.selectors.design_orders import DESIGN_JOB, from_arguments
from firing.schedules.selectors.designs import compute_designs
from firing.schedules.selectors.limits import JUDGE_ALL_JOB
from firing.watch.services.watching import look, watch_all
from studio.errors import StudioError
from studio.jobs import Finish, handler
from studio.selectors.piece_record import record_of
from studio.selectors.pieces import piece_view, pieces
from studio.services.papers import lay_out

if TYPE_CHECKING:
    from firing.planning.search.progress import Progress
    from studio.jobs import Lease
    from studio.models import Studio

TOLD_EVERY = 10


@shared_task(name="firing.tasks.watch_firings")
def watch_firings(**_: object) -> None:
    """Look at the running firings whose time it is."""
    watch_all(clock=timezone.now)


@handler(LOOK_JOB)
def watch_firing(studio: "Studio", *, firing_id: int, **_: object) -> None:
    """Look at a firing of which something new is known.

    Looking twice keeps the same events and tells nobody twice.
    """
    if firings(studio).filter(pk=firing_id).exists():
        look(firing_id=firing_id, clock=timezone.now)


@handler(JUDGE_JOB)
def judge_readings(
    studio: "Studio",
    *,
    lease: "Lease",
    firing_id: int,
    is_asked: bool = False,
    **_: object,
) -> Finish | None:
    """Compute what a firing did to its glass; its finish saves the result.

    Of several orders in the queue, the first finds everything sent meanwhile.
    """
    firing = firings(studio).filter(pk=firing_id).first()
    if firing is None or not firing.readings.exists():
        return None
    at, sha256 = timezone.now(), inputs_sha256(firing)
    if not is_asked and judgement_of(firing, sha256) is not None:
        return None
    lease.renew("Computing heat and stress")
    found = judge_firing(firing, last=last_judgement(firing), is_asked=is_asked)

    def finish() -> None:
        keep_judgement(firing=firing, sha256=sha256, found=found, at=at)

    return finish


@handler(READ_JOB)
def read_sent_file(
    studio: "Studio", *, lease: "Lease", sent_id: int, **_: object
) -> Finish | None:
    """Bring a long file of readings in; its finish lets everybody see them."""
    sent = sent_files(studio).filter(pk=sent_id).first()
    if sent is None:
        return None
    return bring_in(sent=sent, told=lease.renew, at=timezone.now())


@handler(DELETE_JOB, is_slow=True)
def delete_removed(studio: "Studio", *, import_id: int, **_: object) -> None:
    """Delete a removed file and its readings, which nobody sees any more."""
    source = unfinished_imports().filter(studio=studio, pk=import_id).first()
    if source is not None:
        delete_import(source)


@handler(JUDGE_ALL_JOB)
def judge_all(studio: "Studio", *, lease: "Lease", **_: object) -> None:
    """Order every judgement that the studio's new limits ask for.

    Each has its own order; ordering it twice orders it once.
    """
    judge_by_new_limits(studio=studio, told=lease.renew)


@handler(DESIGN_JOB)
def design_schedule(studio: "Studio", *, lease: "Lease", **given: Any) -> None:
    """Compute a design and keep it where the pages look for it.

    Keeping it twice changes nothing, so no step here must run only once.
    """
    asked = from_arguments(studio, given)
    if asked is None:
        return

    def told(tries: int) -> None:
        if tries % TOLD_EVERY == 0:
            lease.renew(f"{tries} schedules tried so far" if tries else "Heating up")

    # The model's refusal is kept as the answer, and the page shows it.
    with suppress(PhysicsProblem):
        compute_designs(asked, told)


@handler(documents.RENDER_JOB, is_slow=True)
def render_controller_sheet(
    studio: "Studio",
    *,
    lease: "Lease",
    firing_id: int,
    path: str,
    origin: str,
    **_: object,
) -> Finish | None:
    """Lay out a controller sheet's PDF; its finish files it."""
    firing = firings(studio).filter(pk=firing_id).first()
    if firing is None:
        return None
    sheet = documents.controller_sheet(firing, path=path, origin=origin)
    key = documents.sheet_key(firing, sheet)
    return lay_out(
        key=key,
        lease=lease,
        template=documents.TEMPLATE,
        title=f"Controller sheet: {sheet.title}",
        context=lambda: documents.sheet_context(firing, sheet),
        clock=timezone.now,
    )


@handler(documents.SIGN_JOB, is_slow=True)
def render_door_sign(
    studio: "Studio",
    *,
    lease: "Lease",
    firing_id: int,
    path: str,
    origin: str,
    **_: object,
) -> Finish | None:
    """Lay out the sign for a kiln's door; its finish files it."""
    firing = firings(studio).filter(pk=firing_id).first()
    if firing is None:
        return None
    sign = documents.door_sign(firing, path=path, origin=origin)
    key = documents.sign_key(firing, sign)
    return lay_out(
        key=key,
        lease=lease,
        template=documents.SIGN_TEMPLATE,
        title=f"Door sign: {sign.title}",
        context=lambda: documents.sign_context(sign),
        clock=timezone.now,
    )


# The search ends by its units of work. These are the outer limit, and how often it
# reads from and reports to the database.
LONGEST_SEARCH_S = 90.0
TELL_EVERY_S = 1.0


class _Search:
    """Reports a search's progress to the job, and ends it on request or in time."""

    def __init__(self, lease: "Lease", plan_id: int) -> None:
        self.lease, self.plan_id = lease, plan_id
        self.began = self.told = self.asked = time.monotonic()
        self.is_stopped = False

    def watch(self, progress: "Progress") -> None:
        now = time.monotonic()
        if now - self.told >= TELL_EVERY_S or progress.share in {0.0, 1.0}:
            self.told = now
            self.lease.renew(progress_words(progress))

    def fence(self) -> bool:
        now = time.monotonic()
        if not self.is_stopped and now - self.asked >= TELL_EVERY_S / 2:
            self.asked = now
            self.is_stopped = is_stop_asked(self.plan_id)
        return self.is_stopped or now - self.began > LONGEST_SEARCH_S


@handler(PLAN_JOB, is_slow=True)
def make_plan(
    studio: "Studio", *, lease: "Lease", plan_id: int, **_: object
) -> Finish | None:
    """Search for a plan; its finish saves it, or why there is none."""
    plan = plans(studio).filter(pk=plan_id, state="making").first()
    if plan is None:
        return None
    lease.renew("Reading what there is to plan")
    search = _Search(lease, plan_id)
    try:
        made = compute(
            plan,
            now=timezone.now(),
            watch=search.watch,
            fence=search.fence,
            units=plan.units,
        )
    except StudioError as problem:
        why = str(problem)
        return lambda: note_failure(plan=plan, why=why, at=timezone.now())

    def finish() -> None:
        now = timezone.now()
        keep_plan(plan=plan, made=made, at=now)
        look_if_changed(plan=plan, at=now)

    return finish


@handler(WATCH_JOB)
def look_after_plan(studio: "Studio", *, lease: "Lease", **_: object) -> Finish | None:
    """Check whether the standing plan still holds; its finish orders another."""
    plan = standing_plan(studio)
    if plan is None:
        return None
    lease.renew("Holding the plan against what was recorded")
    now = timezone.now()
    found = holding_of(plan, now=now)

    def finish() -> None:
        keep_holding(plan=plan, found=found, at=now)

    return finish


@handler(week_sheet.RENDER_JOB, is_slow=True)
def render_week_sheet(
    studio: "Studio", *, lease: "Lease", first_day: str, **_: object
) -> Finish | None:
    """Lay out the PDF of a week at the kilns; its finish files it."""
    day = date.fromisoformat(first_day)
    now = timezone.now()
    sheet = week_sheet.week_sheet(studio, day, now)
    key = week_sheet.sheet_key(studio, sheet, day)
    return lay_out(
        key=key,
        lease=lease,
        template=week_sheet.TEMPLATE,
        title=sheet.title,
        context=lambda: week_sheet.sheet_context(studio, sheet, day, now),
        clock=timezone.now,
    )


@handler(record_paper.RENDER_JOB, is_slow=True)
def render_piece_record(
    studio: "Studio",
    *,
    lease: "Lease",
    piece_id: int,
    has_value: bool,
    url: str,
    **_: object,
) -> Finish | None:
    """Lay out the record of a piece; its finish files it."""
    if not pieces(studio).filter(pk=piece_id).exists():
        return None
    view = piece_view(studio, piece_id)
    record = record_of(view.piece)
    words = record_paper.words_on_paper(view, record, has_value=has_value)
    paper = record_paper.record_paper(view, record, words, url=url)
    return lay_out(
        key=record_paper.record_key(view, paper),
        lease=lease,
        template=record_paper.TEMPLATE,
        title=f"Record: {paper.title}",
        context=lambda: record_paper.record_context(view, paper, words),
        clock=timezone.now,
    )


@handler(verdict_sheet.RENDER_JOB, is_slow=True)
def render_verdict_sheet(
    studio: "Studio", *, lease: "Lease", firing_id: int, **_: object
) -> Finish | None:
    """Lay out the PDF of a verdict; its finish files it."""
    firing = firings(studio).filter(pk=firing_id).first()
    judgement = None if firing is None else judging_of(firing).judgement
    # It was judged again after the order: other words are to be printed, or none yet.
    if firing is None or judgement is None or judgement.lacks_options:
        return None
    sheet = verdict_sheet.verdict_sheet(firing, judgement)
    key = verdict_sheet.sheet_key(firing, sheet)
    return lay_out(
        key=key,
        lease=lease,
        template=verdict_sheet.TEMPLATE,
        title=f"Verdict: {sheet.title}",
        context=lambda: verdict_sheet.sheet_context(firing, judgement, sheet),
        clock=timezone.now,
    )
