"""Reads of files that were sent and are not read in yet: what becomes of each."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from firing.controller_log import Question
from firing.models import Firing, SentFile
from studio.jobs import last_with_key
from studio.models import OPEN_JOB_STATES, Studio
from studio.tenancy import StudioQuerySet
from studio.viewer import Viewer

READ_JOB = "firing.read_file"


@dataclass(frozen=True, slots=True, kw_only=True)
class SentView:
    """A file that was sent, and where it stands.

    Attributes
    ----------
    state : str
        `reading`, `asking` (it does not say something, or has bad lines) or `stopped`.
    words : str
        Its state in words.
    questions : list of Question
        What it does not say.
    problems, count : list of (int, str), int
        The first bad lines with what is wrong, and how many there are.
    facts : list of (str, str)
        What is left without its bad lines; empty unless they can be left out.
    """

    sent: SentFile
    state: str
    words: str
    questions: list[Question]
    problems: list[tuple[int, str]]
    count: int
    facts: list[tuple[str, str]]


def job_key(sent_pk: int) -> str:
    """Return the key of the jobs that read a file."""
    return f"read file {sent_pk}"


def sent_files(studio: Studio) -> StudioQuerySet[SentFile]:
    """Return the studio's files that are not read in yet."""
    return SentFile.owned.for_studio(studio).select_related(
        "studio", "firing__booking", "firing__kiln", "firing__studio", "source", "by"
    )


def sent_file(firing: Firing, number: int) -> SentFile | None:
    """Return one of a firing's files; none once it is read in or taken away."""
    found: SentFile | None = (
        sent_files(firing.studio).filter(firing=firing, pk=number).first()
    )
    return found


def is_being_read(sent: SentFile) -> bool:
    """Tell whether a worker reads a file, or will."""
    job = last_with_key(sent.studio, job_key(sent.pk))
    return job is not None and job.state in OPEN_JOB_STATES


def sent_of(firing: Firing, *, viewer: Viewer, now: datetime) -> list[SentView]:
    """Return a firing's files that are not read in yet."""
    return [
        view_sent(sent, viewer=viewer, now=now)
        for sent in sent_files(firing.studio).filter(firing=firing)
    ]


def view_sent(sent: SentFile, *, viewer: Viewer, now: datetime) -> SentView:
    """Return where a file stands."""
    told: dict[str, Any] = sent.told
    questions = [
        Question(name, text, [(value, words) for value, words in choices], likely)
        for name, text, choices, likely in told.get("questions", [])
    ]
    left = told.get("left")
    state, words = "asking", told.get("problem", "")
    if not told:
        state, words = _job_state(sent)
    elif not questions and left is None:
        state = "stopped"
    facts = []
    if left is not None:
        facts = [
            ("Readings", f"{left['reading_count']:,}"),
            ("First", viewer.moment(datetime.fromisoformat(left["first_at"]), now)),
            ("Last", viewer.moment(datetime.fromisoformat(left["last_at"]), now)),
            ("Highest", viewer.temperature(left["highest_c"])),
        ]
    return SentView(
        sent=sent,
        state=state,
        words=words,
        questions=questions,
        problems=[(line, text) for line, text in told.get("lines", [])],
        count=told.get("count", 0),
        facts=facts,
    )


def _job_state(sent: SentFile) -> tuple[str, str]:
    job = last_with_key(sent.studio, job_key(sent.pk))
    if job is None:
        return "stopped", "It was not read. Have it read again, or choose it again."
    if job.state in OPEN_JOB_STATES:
        return "reading", job.progress or "It is read as soon as a worker is free"
    return "stopped", job.error or "Its readings are in."
