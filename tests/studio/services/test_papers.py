"""A finished paper is filed once for the same words."""

import hashlib
from dataclasses import replace

import pytest

from studio.documents import PaperKey, document_of, order, state_of
from studio.models import Document, Job
from studio.services.papers import file_paper
from tests.make import NOW


@pytest.fixture
def key(cast):
    return PaperKey(studio=cast.studio, kind="run sheet", subject_id=7, sha256="a" * 64)


def filed(key, *, title="Run sheet", pdf=b"%PDF-1"):
    file_paper(key=key, title=title, pdf=pdf, at=NOW)


def content(key):
    with document_of(key).file.open("rb") as file:
        return file.read()


def test_a_paper_is_filed_with_its_words_and_its_time(cast, key):
    filed(key)
    found = document_of(key)
    assert (found.title, found.made_at, found.studio) == ("Run sheet", NOW, cast.studio)
    assert content(key) == b"%PDF-1"


def test_the_same_words_are_filed_once_and_the_first_one_stays(key, media_folder):
    filed(key)
    filed(key, pdf=b"%PDF-2")
    assert Document.across_studios.count() == 1
    assert content(key) == b"%PDF-1"
    assert sum(path.is_file() for path in media_folder.rglob("*")) == 1


def test_other_words_and_another_subject_are_other_papers(key, strangers):
    others = (
        replace(key, sha256="b" * 64),
        replace(key, subject_id=8),
        replace(key, kind="verdict"),
        replace(key, studio=strangers.studio),
    )
    for number, one in enumerate((key, *others)):
        filed(one, pdf=b"%%PDF-%d" % number)
    assert Document.across_studios.count() == 5
    assert content(others[-1]) == b"%PDF-4"
    assert content(key) == b"%PDF-0"


def test_a_lost_contract_is_said_with_its_hash_and_never_ordered_again(key):
    contract = replace(key, is_contract=True)
    filed(contract)
    kept = document_of(contract)
    assert kept.pdf_sha256 == hashlib.sha256(b"%PDF-1").hexdigest()
    kept.file.storage.delete(kept.file.name)
    order(contract, job_name="x")
    assert not Job.across_studios.exists()
    state = state_of(contract)
    assert (state.name, state.document) == ("lost", None)
    assert kept.pdf_sha256 in state.problem
    # Any other paper is simply made again.
    assert state_of(key).name == "none"


def test_a_long_title_is_cut_to_what_is_kept(key):
    filed(key, title="R" * 300)
    assert document_of(key).title == "R" * 200


def test_a_paper_that_another_worker_filed_meanwhile_counts(key, monkeypatch):
    filed(key)
    # Both looked before either had filed it.
    monkeypatch.setattr("studio.services.papers.document_of", lambda _: None)
    filed(key, pdf=b"%PDF-2")
    assert Document.across_studios.count() == 1
    assert content(key) == b"%PDF-1"
