"""The quote's PDF: what it says, and that it is made once whatever happens."""

import datetime as dt
import hashlib

import pytest
from django.test import Client as Browser
from django.urls import reverse
from django.utils import timezone

from commissions import documents
from commissions.models import Client
from commissions.services.papers import ask_for_paper
from commissions.services.quotes import accept_quote
from studio import jobs, pdf
from studio.models import Document, Job, JobState
from tests.commissions import build
from tests.papers import needs_pango, read_pdf
from tests.worker import run_waiting_jobs


def text_of(document: Document) -> str:
    with document.file.open("rb") as file:
        return read_pdf(file.read())[1]


@needs_pango
def test_the_pdf_says_for_whom_what_and_how_much(cast):
    client = build.client(cast, name="Óscar Vane-Ångström", address="3 Slip Lane")
    quote = build.sent(cast, of=build.commission(cast, client=client))
    assert run_waiting_jobs() == [JobState.DONE]
    told = text_of(Document.owned.for_studio(cast.studio).get())
    assert "Óscar Vane-Ångström" in told
    assert "3 Slip Lane" in told
    assert "Slack water" in told
    assert cast.viewer().money(quote.total) in told
    for part in quote.instalments.all():
        assert cast.viewer().money(part.amount) in told
    assert "not for food" in told
    assert "Page 1 of 1" in told
    assert "Margin" not in told


@needs_pango
def test_the_pdf_has_every_line_when_the_client_sees_them(cast):
    quote = build.sent(cast, shows_lines=True)
    run_waiting_jobs()
    told = text_of(Document.owned.for_studio(cast.studio).get())
    for line in quote.lines.all():
        assert " ".join(line.label.split()) in told


@needs_pango
def test_what_the_client_typed_cannot_reach_files_or_markup(cast):
    client = build.client(cast, name='<img src="file:///etc/hostname"> & Co')
    build.sent(cast, of=build.commission(cast, client=client))
    assert run_waiting_jobs() == [JobState.DONE]
    told = text_of(Document.owned.for_studio(cast.studio).get())
    assert '<img src="file:///etc/hostname"> & Co' in told


@needs_pango
def test_asked_for_twice_and_run_twice_it_is_made_once(cast):
    quote = build.sent(cast)
    ask_for_paper(quote=quote)
    run_waiting_jobs()
    ask_for_paper(quote=quote)
    assert run_waiting_jobs() == []
    # The same order once more, as a message in flight would bring it.
    Job.across_studios.create(
        studio=cast.studio,
        name=documents.RENDER_JOB,
        arguments={"quote_id": quote.pk},
        created_at=timezone.now(),
        run_after=timezone.now(),
    )
    assert run_waiting_jobs() == [JobState.DONE]
    assert Document.across_studios.count() == 1


@needs_pango
def test_a_paper_whose_file_is_gone_is_made_anew_when_it_is_asked_for(cast):
    quote = build.sent(cast)
    run_waiting_jobs()
    lost = Document.owned.for_studio(cast.studio).get()
    lost.file.storage.delete(lost.file.name)
    assert documents.paper_state(quote).name == "none"
    ask_for_paper(quote=quote)
    ask_for_paper(quote=quote)
    assert documents.paper_state(quote).name == "making"
    assert run_waiting_jobs() == [JobState.DONE]
    assert "Slack water" in text_of(Document.owned.for_studio(cast.studio).get())


@needs_pango
def test_a_worker_that_is_lost_in_the_middle_leaves_one_document(cast):
    build.sent(cast)
    job, now = Job.across_studios.get(), timezone.now()
    # The first worker claims it and is never heard of again.
    assert jobs.claim(job.pk, now=now) is not None
    assert run_waiting_jobs() == []
    later = now + dt.timedelta(hours=1)
    assert jobs.run(job.pk, clock=lambda: later) is JobState.DONE
    assert Document.across_studios.count() == 1


@needs_pango
def test_a_slow_worker_that_lost_its_lease_files_nothing(cast, monkeypatch):
    quote = build.sent(cast)
    job = Job.across_studios.get()
    real = pdf.html_to_pdf

    def slow(html: str, **how: str) -> bytes:
        made = real(html, **how)
        # Meanwhile another worker took the job over and finished it.
        Job.across_studios.filter(pk=job.pk).update(token="another worker's")
        return made

    monkeypatch.setattr("studio.pdf.html_to_pdf", slow)
    assert jobs.run(job.pk, clock=timezone.now) is None
    assert documents.paper_state(quote).document is None


def test_changed_words_make_another_paper(cast):
    quote = build.quote(cast)
    ask_for_paper(quote=quote)
    run_waiting_jobs()
    before = documents.quote_paper(quote).sha256
    Client.across_studios.update(name="Perpetua Vane-Hollis")
    quote = type(quote).across_studios.get(pk=quote.pk)
    assert documents.quote_paper(quote).sha256 != before
    assert documents.paper_state(quote).document is None


def _everything_changes(cast):
    Client.across_studios.update(name="Somebody Else", address="Elsewhere")
    type(cast.studio).objects.update(
        name="Another Name", length_unit="in", temperature_unit="F"
    )


def test_a_sent_quote_keeps_its_words_whatever_changes(cast):
    quote = build.sent(cast)
    before = documents.quote_paper(quote)
    _everything_changes(cast)
    again = type(quote).across_studios.get(pk=quote.pk)
    assert documents.quote_paper(again) == before
    assert documents.written_paper(again) != before


@needs_pango
@pytest.mark.parametrize("words_are_kept", [True, False])
def test_an_accepted_quote_is_served_from_what_was_sent(
    cast, signed_in, monkeypatch, words_are_kept
):
    quote = build.sent(cast)
    run_waiting_jobs()
    kept = Document.across_studios.get()
    with kept.file.open("rb") as file:
        sent = file.read()
    assert kept.pdf_sha256 == hashlib.sha256(sent).hexdigest()
    accept_quote(quote=quote, name="Perpetua Vane", at=timezone.now())
    if not words_are_kept:  # Sent before this program kept them.
        type(quote).across_studios.update(paper={})
    _everything_changes(cast)
    monkeypatch.setattr("commissions.documents.LAYOUT", 99)
    token = build.token(quote.commission)
    for browser, address in (
        (signed_in(), reverse("commissions:quote_pdf", args=[quote.pk])),
        (Browser(), reverse("commissions:shared_quote_pdf", args=[token])),
    ):
        response = browser.get(address)
        assert b"".join(response.streaming_content) == sent
    page = signed_in().get(reverse("commissions:quote_detail", args=[quote.pk]))
    assert kept.pdf_sha256 in page.content.decode()
    assert run_waiting_jobs() == []
    assert Document.across_studios.count() == 1


@needs_pango
@pytest.mark.parametrize("fault", ["gone", "altered"])
def test_a_contract_that_is_lost_is_said_with_its_hash_and_not_made_again(
    cast, signed_in, fault
):
    quote = build.sent(cast)
    run_waiting_jobs()
    accept_quote(quote=quote, name="Perpetua Vane", at=timezone.now())
    kept = Document.across_studios.get()
    if fault == "gone":
        kept.file.storage.delete(kept.file.name)
    else:
        with kept.file.storage.open(kept.file.name, "wb") as file:
            file.write(b"%PDF-another")
    browser = signed_in()
    pdf_url = reverse("commissions:quote_pdf", args=[quote.pk])
    shared = reverse(
        "commissions:shared_quote_pdf", args=[build.token(quote.commission)]
    )
    for answer in (
        browser.get(pdf_url, follow=True),
        browser.post(pdf_url, follow=True),
        browser.get(reverse("commissions:quote_detail", args=[quote.pk])),
        Browser().get(shared),
    ):
        told = answer.content.decode()
        assert answer.status_code == 200
        assert "is lost" in told
        assert kept.pdf_sha256 in told
        assert "Try again" not in told
    assert run_waiting_jobs() == []


def test_without_pango_the_job_fails_and_says_what_to_install(cast, monkeypatch):
    quote = build.sent(cast)
    monkeypatch.setattr("studio.pdf.pdf_available", lambda: False)
    assert run_waiting_jobs() == [JobState.FAILED]
    state = documents.paper_state(quote)
    assert state.name == "failed"
    assert "apt-get install" in state.problem
    # Once it is installed, asking again makes it.
    monkeypatch.undo()
    ask_for_paper(quote=quote)


@pytest.mark.parametrize("count", [1, 20])
def test_the_stack_on_the_paper_has_a_band_for_each_layer(cast, count):
    commission = build.commission(cast, layer_count=count, cap_count=min(1, count - 1))
    context = documents.paper_context(build.quote(cast, of=commission))
    assert len(context["edge"].bands) == count
