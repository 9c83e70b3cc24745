"""Papers that somebody asks for: made without another press, opened when they are there."""

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import expect

from studio.models import Document
from studio.services.pieces import finish_piece
from tests import make
from tests.browser.screen import faults_of, px_too_wide
from tests.worker import run_waiting_jobs

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def piece(cast):
    """A finished piece."""
    made = make.piece(studio=cast.studio, glass=cast.glass, layers=6, title="Shoal")
    make.paint_and_fuse(made)
    finish_piece(piece=made, by=None, at=timezone.now())
    return made


def test_a_record_to_be_printed_is_made_at_once(piece, visit):
    page, complaints = visit(reverse("firing:piece_record", args=[piece.pk]))
    page.get_by_role("link", name="Print the record").click()
    expect(page.get_by_role("status")).to_contain_text("The PDF is being made")
    assert not Document.across_studios.exists()
    run_waiting_jobs()
    expect(page.get_by_role("link", name="Open the PDF")).to_be_visible()
    assert faults_of(page) == []
    assert px_too_wide(page) <= 0
    assert complaints == []


def test_labels_are_made_once_they_are_chosen(piece, visit):
    page, complaints = visit(
        reverse("studio:piece_labels", args=[piece.pk]), size="phone"
    )
    page.get_by_role("button", name="Lay them out").click()
    expect(page.get_by_role("status")).to_contain_text("The PDF is being made")
    run_waiting_jobs()
    expect(page.get_by_role("link", name="Open the PDF")).to_be_visible()
    assert complaints == []
