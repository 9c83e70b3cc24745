"""Papers in general: the hash of their words, and whether their PDF exists yet.

`documents` or `..._sheet` modules of the apps say what is in a paper;
`studio.services.papers` files it.
"""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass

from studio import jobs
from studio.models import Document, Job, JobState, Studio

WORDS = {
    "none": "The PDF is not made yet.",
    "ready": "The PDF is ready.",
    "making": "The PDF is being made.",
    "failed": "The PDF could not be made.",
    "lost": "",
}


def words_sha256(words: Mapping[str, object], *, layout: int) -> str:
    """Return the hash under which a PDF is kept: same words, same paper.

    Raise `layout` when the template changes.
    """
    text = json.dumps({"layout": layout, **words}, sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperKey:
    """Which paper: its kind, the record it is about, and the hash of its words.

    One that `is_contract` is never made a second time: its bytes are what was agreed.
    """

    studio: Studio
    kind: str
    subject_id: int
    sha256: str
    is_contract: bool = False

    @property
    def job_key(self) -> str:
        """Return the key under which there is one order for one paper."""
        return f"{self.kind} {self.subject_id} {self.sha256}"


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperState:
    """The PDF of a paper: there, being made, failed, lost, or not asked for."""

    document: Document | None
    job: Job | None
    lost: Document | None = None

    @property
    def name(self) -> str:
        """Return the state for `_job.html`, or "none"."""
        if self.document is not None:
            return "ready"
        if self.lost is not None:
            return "lost"
        # Finished without a document: its file was lost since, and may be ordered
        # again.
        if self.job is None or self.job.state == JobState.DONE:
            return "none"
        return "failed" if self.job.state == JobState.FAILED else "making"

    @property
    def words(self) -> str:
        """Say how far it is, and what went wrong."""
        return f"{WORDS[self.name]} {self.problem}".strip()

    @property
    def problem(self) -> str:
        """Say what went wrong, in the job's words or with the hash of what is lost."""
        if self.lost is not None:
            return (
                "The PDF that was sent is lost, and it is not made again, as it was "
                "accepted. Its SHA-256, by which any copy of it is known: "
                f"{self.lost.pdf_sha256 or 'not kept'}."
            )
        return self.job.trouble if self.job is not None else ""


def document_of(key: PaperKey) -> Document | None:
    """Return the PDF with exactly these words; none if not made or its file is gone."""
    found = _filed(key)
    return None if found is None or _is_lost(found, key) else found


def _filed(key: PaperKey) -> Document | None:
    found: Document | None = (
        Document.owned.for_studio(key.studio)
        .filter(kind=key.kind, subject_id=key.subject_id, inputs_sha256=key.sha256)
        .first()
    )
    return found


def _is_lost(document: Document, key: PaperKey) -> bool:
    """Return whether the file is gone, or for a contract is not the same any more."""
    name, storage = document.file.name, document.file.storage
    if not name or not storage.exists(name):
        return True
    if not key.is_contract or not document.pdf_sha256:
        return False
    with storage.open(name) as file:
        return hashlib.sha256(file.read()).hexdigest() != document.pdf_sha256


def state_of(key: PaperKey) -> PaperState:
    """Return whether the PDF is there, and the last order for it."""
    job = jobs.last_with_key(key.studio, key.job_key)
    filed = _filed(key)
    if filed is None or not _is_lost(filed, key):
        return PaperState(document=filed, job=job)
    return PaperState(document=None, job=job, lost=filed if key.is_contract else None)


def order(key: PaperKey, *, job_name: str, **arguments: object) -> None:
    """Ask the worker for the PDF; asking again while it is made changes nothing.

    A PDF whose file is gone, as after a partial restore, is made again, but no contract.
    """
    filed = _filed(key)
    if filed is not None:
        if key.is_contract or not _is_lost(filed, key):
            return
        filed.delete()  # Its row would keep it from being filed.
    jobs.enqueue(studio=key.studio, name=job_name, key=key.job_key, **arguments)
