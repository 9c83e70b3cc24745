"""A firing's readings and glass as the judge's input, and its findings as JSON.

A service keeps the result; `verdict_words` puts it in words.
"""

import hashlib
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from django.db.models import Count, Max

from firing.drawings.curves import IntArray, thin_out
from firing.models import Firing, FiringKind, Judgement, LoadItem, Reading
from firing.physics.glass.viscosity import joins_c
from firing.physics.judging.in_turn import TypedAt
from firing.physics.judging.plan_following import FaultKind
from firing.physics.judging.verdict import JudgedFiring, JudgeRequest, Verdict, judge
from firing.physics.judging.what_next import (
    UNDECIDED,
    Option,
    go_on,
    what_next,
)
from firing.physics.schedule import FloatArray, PhysicsProblem, Programme
from firing.physics.slab.input import LooseStack
from firing.readings.selectors.verdict_faults import WORTH_A_WORD_S
from firing.schedules.selectors.evenness import (
    across_of,
    last_measurements,
    physics_values,
)
from firing.schedules.selectors.limits import limits_of
from firing.schedules.selectors.physics_slabs import boundary_of, physics_glass
from firing.schedules.selectors.programmes import (
    TOP_ONLY,
    kiln_model,
    opens_below_c,
    slab_in,
)
from firing.schedules.selectors.schedules import programme_of
from firing.schedules.selectors.slabs import STACKS
from firing.schedules.selectors.stress import (
    ENGINE,
    controller_of,
    uncertainty_of,
)
from firing.schedules.selectors.typed import programme_typed, seconds_in, typed_in
from firing.schedules.selectors.verdict_numbers import MPA, kept_numbers
from studio.jobs import last_with_key
from studio.models import Job, JobState, Outcome, Piece

JUDGE_JOB = "firing.judge"
# Columns of the kept course, the finest first; the first that fits is used.
TRACE_COLUMNS = (300, 200, 150, 100)
MOST_POINTS = 600
# While a logger sends, its firing is judged at most this often.
PUSHED_STEP_S = 600
# Nothing is left to do in this firing: it was good, or the piece needs another one.
NOTHING_MORE = (Verdict.WITHIN, Verdict.NOT_FUSED, Verdict.NOT_HOT)


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """What is judged besides the readings: the glass as it lay in the kiln."""

    thickness_mm: float
    is_dammed: bool
    sheet_mm: float
    is_loose: bool
    longest_mm: float | None = None
    """Of its slabs; none for single sheets, and where it is not known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Judging:
    """The state of judging a firing, and the last result for these inputs."""

    judgement: Judgement | None
    job: Job | None
    has_readings: bool

    @property
    def state(self) -> str:
        """Return the state for `_job.html`, or "none"."""
        is_open = self.job is not None and self.job.state in (
            JobState.WAITING,
            JobState.RUNNING,
        )
        if is_open:
            return "making"
        if self.judgement is not None:
            return "ready"
        return "failed" if self.job is not None else "none"

    @property
    def is_to_be_ordered(self) -> bool:
        """Return whether the verdict, or its options, are still to be ordered for whoever
        looks.
        """
        if self.judgement is None:
            return self.has_readings and self.state == "none"
        is_tried = self.job is not None and self.job.state == JobState.FAILED
        return self.judgement.lacks_options and self.state != "making" and not is_tried

    @property
    def problem(self) -> str:
        """Say what went wrong, in the job's words."""
        return self.job.trouble if self.job is not None else ""


def subject_of(firing: Firing) -> Subject:
    """Return the glass of a firing: its stack or slab, or its single sheets."""
    schedule = firing.schedule
    pieces = [item.piece for item in firing.items.all() if item.piece is not None]
    return Subject(
        thickness_mm=schedule.thickness_mm,
        # Work without a piece lies as its schedule was designed for.
        is_dammed=any(piece.is_dammed for piece in pieces)
        if pieces
        else schedule.basis.get("faces") == TOP_ONLY,
        sheet_mm=min(schedule.glass.sheet_thickness_mm, schedule.thickness_mm),
        is_loose=firing.kind in STACKS and not _was_fused(firing),
        longest_mm=_longest_mm(firing, pieces),
    )


def _longest_mm(firing: Firing, pieces: Sequence[Piece]) -> float | None:
    if firing.kind == FiringKind.ENAMEL:
        return None
    if pieces:
        return max(piece.longest_mm for piece in pieces)
    across = firing.schedule.basis.get("across")
    return None if across is None else float(across["longest_mm"])


def _was_fused(firing: Firing) -> bool:
    """Return whether the stack had become one piece in an earlier firing."""
    pieces = [item.piece_id for item in firing.items.all() if item.piece_id]
    return bool(pieces) and (
        LoadItem.owned.for_studio(firing.studio)
        .filter(
            piece__in=pieces,
            firing__kind__in=STACKS,
            firing__finished_at__isnull=False,
            firing__booking__starts_at__lt=firing.booking.starts_at,
            outcome=Outcome.FINE,
        )
        .exists()
    )


def inputs_sha256(firing: Firing) -> str:
    """Return the hash of everything behind a judgement."""
    glass, kiln = firing.schedule.glass, firing.kiln
    programme = programme_of(firing.schedule)
    inputs = {
        "engine": ENGINE,
        "starts_at": firing.booking.starts_at.isoformat(),
        "subject": asdict(subject_of(firing)),
        "glass": [
            glass.family,
            glass.annealing_point_c,
            glass.strain_point_c,
            glass.anneal_soak_c,
            glass.density_kg_m3,
            glass.expansion_1e7_per_k,
        ],
        "kiln": [
            repr(kiln_model(kiln)),
            repr(controller_of(kiln)),
            kiln.offset_k,
            kiln.offset_uncertainty_k,
            repr([physics_values(one) for one in last_measurements(kiln)]),
        ],
        "unloaded_s": _unloaded_s(firing),
        "opening_c": kiln.opening_temperature_c,
        "limits": asdict(limits_of(firing.studio)),
        "programme": repr(programme),
        "readings": [
            [one.sha256, one.row_count, one.first_at.isoformat(), one.highest_c]
            for one in firing.imports.order_by("first_at", "pk")
        ],
        "pushed": _pushed(firing),
    }
    changes = firing.pushed_corrections.order_by("pk").values_list("pk", flat=True)
    if corrected := list(changes):
        inputs["corrected"] = corrected
    if typed := typed_in(firing):
        inputs["typed"] = [
            [one.at.isoformat(), repr(programme_typed(one))] for one in typed
        ]
    text = json.dumps(inputs, sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()


def _pushed(firing: Firing) -> int | list[int]:
    """Return how much a logger has sent, 0 for nothing: after the firing, all of it."""
    sent = firing.readings.filter(source__isnull=True).aggregate(Max("at"), Count("pk"))
    if not sent["pk__count"]:
        return 0
    if firing.finished_at is not None:
        return [int(sent["at__max"].timestamp()), sent["pk__count"]]
    since = firing.started_at or firing.booking.starts_at
    return [int((sent["at__max"] - since).total_seconds() // PUSHED_STEP_S)]


def job_key(firing: Firing, sha256: str) -> str:
    """Return the key of the jobs for one judgement."""
    return f"judge {firing.pk} {sha256[:32]}"


def judging_of(firing: Firing) -> Judging:
    """Return the state of judging a firing."""
    sha256 = inputs_sha256(firing)
    return Judging(
        judgement=judgement_of(firing, sha256),
        job=last_with_key(firing.studio, job_key(firing, sha256)),
        has_readings=firing.readings.exists(),
    )


def judgement_of(firing: Firing, sha256: str) -> Judgement | None:
    """Return the judgement for these inputs, if it was computed."""
    found: Judgement | None = (
        Judgement.owned.for_studio(firing.studio)
        .filter(firing=firing, inputs_sha256=sha256)
        .first()
    )
    return found


def last_judgement(firing: Firing) -> Judgement | None:
    """Return the last judgement, whatever its readings."""
    found: Judgement | None = (
        Judgement.owned.for_studio(firing.studio)
        .filter(firing=firing)
        .order_by("-made_at", "-pk")
        .first()
    )
    return found


def _unloaded_s(firing: Firing) -> float | None:
    """Return when the glass was taken out, counted as `readings_of` does."""
    if firing.finished_at is None:
        return None
    return (firing.finished_at - firing.booking.starts_at).total_seconds()


def readings_of(firing: Firing) -> tuple[FloatArray, FloatArray]:
    """Return every reading in order: seconds since the booking's start, °C."""
    start = firing.booking.starts_at
    pairs = [
        ((at - start).total_seconds(), celsius)
        for at, celsius in Reading.owned.for_studio(firing.studio)
        .filter(firing=firing)
        .order_by("at", "pk")
        .values_list("at", "temperature_c")
    ]
    table = np.array(pairs, dtype=np.float64).reshape(-1, 2)
    return table[:, 0].copy(), table[:, 1].copy()


def typed_at(firing: Firing) -> tuple[TypedAt, ...]:
    """Return what was typed while a firing ran, as the judge takes it."""
    return tuple(
        TypedAt(at_s=seconds_in(firing, one.at), programme=programme_typed(one))
        for one in typed_in(firing)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class NewJudgement:
    """A judgement before it is kept."""

    verdict: str
    numbers: dict[str, Any]
    trace: dict[str, list[float]]


def judge_firing(
    firing: Firing, *, last: Judgement | None = None, is_asked: bool = True
) -> NewJudgement:
    """Compute what a firing's readings say; a refusal of the model is a result too.

    The options take far longer than the verdict. They are computed when somebody asks
    for them, or when something is wrong that the last judgement did not know.
    """
    subject = subject_of(firing)
    time_s, temperature_c = readings_of(firing)
    planned = _from_the_start(programme_of(firing.schedule))
    try:
        glass = physics_glass(firing.schedule.glass)
        judged = judge(
            JudgeRequest(
                time_s=time_s,
                temperature_c=temperature_c,
                glass=glass,
                thickness_m=subject.thickness_mm / 1000,
                boundary=boundary_of(is_dammed=subject.is_dammed),
                planned=planned,
                typed=typed_at(firing),
                kiln=kiln_model(firing.kiln),
                unloaded_s=_unloaded_s(firing),
                stack=LooseStack(
                    sheet_m=subject.sheet_mm / 1000, joins_c=joins_c(glass)
                )
                if subject.is_loose
                else None,
                opening_c=opens_below_c(firing.kiln, slab_in(firing.schedule)),
                limits=limits_of(firing.studio),
                kiln_offset_k=firing.kiln.offset_k,
                uncertainty=uncertainty_of(firing.schedule.glass, firing.kiln),
                across=across_of(
                    firing.kiln,
                    firing.schedule.glass,
                    subject.longest_mm,
                    keeps_room=False,
                ),
            )
        )
    except PhysicsProblem as problem:
        return NewJudgement(
            verdict=Judgement.NOT_JUDGED,
            numbers={
                "problem": problem.refusal.as_json(),
                "readings": int(time_s.size),
            },
            trace={},
        )
    options: tuple[Option, ...] | None = None
    options_problem: dict[str, Any] = {}
    if judged.verdict in NOTHING_MORE:
        options = ()
    elif (
        is_asked or _is_news(firing, judged, last) or not _goes_on_well(firing, judged)
    ):
        options, options_problem = _options(firing, judged)
    numbers = kept_numbers(
        judged,
        options,
        options_problem=options_problem,
        engine=ENGINE,
        **asdict(subject),
    )
    return NewJudgement(
        verdict=numbers["verdict"],
        numbers=numbers,
        trace=_trace(judged),
    )


def _from_the_start(programme: Programme) -> Programme | None:
    return programme if programme.segments else None


def _is_news(firing: Firing, judged: JudgedFiring, last: Judgement | None) -> bool:
    """Return whether something is wrong that the last judgement did not know.

    Once the kiln is unloaded only one more judgement follows, so everything is news.
    """
    wrong = {
        (fault.kind.value, fault.segment)
        for fault in judged.faults
        if fault.kind is not FaultKind.TOO_FAST
        or fault.end_s - fault.start_s >= WORTH_A_WORD_S
    }
    if judged.verdict is not Verdict.STILL_HOT:
        wrong.add((judged.verdict.value, ""))
    if last is not None and firing.finished_at is None:
        told = last.numbers.get("faults", ())
        wrong -= {(fault["kind"], fault["segment"]) for fault in told}
        wrong.discard((last.verdict, ""))
    return bool(wrong)


def _goes_on_well(firing: Firing, judged: JudgedFiring) -> bool:
    """Return whether a firing that is not over keeps its limits by going on.

    A plan that the controller cannot be told from here has its reason with the options.
    """
    if judged.verdict not in UNDECIDED or judged.is_over:
        return True
    try:
        return go_on(
            judged, controller=controller_of(firing.kiln), kiln=kiln_model(firing.kiln)
        ).is_within
    except PhysicsProblem:
        return False


def _options(
    firing: Firing, judged: JudgedFiring
) -> tuple[tuple[Option, ...], dict[str, Any]]:
    """Return the options from here, or why they cannot be computed."""
    try:
        found = what_next(
            judged,
            controller=controller_of(firing.kiln),
            kiln=kiln_model(firing.kiln),
        )
    except PhysicsProblem as problem:
        return (), problem.refusal.as_json()
    return found, {}


def _trace(judged: JudgedFiring) -> dict[str, list[float]]:
    """Return the firing over time, thinned so that the tension keeps its peaks.

    Middle, lowest and highest tension share their moments. Between two kept ones all
    three are straight lines, and the middle never leaves its range.
    """
    history, envelope = judged.history, judged.envelope
    at_s = envelope.time_s
    tension_pa = np.interp(at_s, history.time_s, history.tension_pa)
    kept = _kept(at_s, (tension_pa, envelope.low_pa, envelope.high_pa))

    def rounded(values: FloatArray, digits: int) -> list[float]:
        return [round(float(value), digits) for value in values[kept]]

    return {
        "time_s": rounded(at_s + judged.record.starts_s, 0),
        "kiln_c": rounded(np.interp(at_s, history.time_s, history.kiln_c), 1),
        "middle_c": rounded(np.interp(at_s, history.time_s, history.middle_c), 1),
        "tension_mpa": rounded(tension_pa / MPA, 4),
        "tension_low_mpa": rounded(envelope.low_pa / MPA, 4),
        "tension_high_mpa": rounded(envelope.high_pa / MPA, 4),
    }


def _kept(at_s: FloatArray, curves: Sequence[FloatArray]) -> IntArray:
    """Return the moments that keep the extremes of every curve in every column.

    The coarsest columns cannot keep more than is allowed: two moments of each curve.
    """
    found = np.arange(at_s.size)
    for columns in TRACE_COLUMNS:
        found = np.unique(
            np.concatenate([thin_out(at_s, one, columns=columns) for one in curves])
        )
        if found.size <= MOST_POINTS:
            break
    return found
