"""A piece at the bench, and the page where its painting is recorded."""

import pytest
from django.urls import reverse

from tests import make
from tests.browser.offline.waiting import held


@pytest.fixture
def piece(cast):
    return make.piece(studio=cast.studio, glass=cast.glass, layers=9, title="Shoal")


@pytest.fixture
def paint(piece):
    return reverse("studio:piece_paint", args=[piece.pk])


@pytest.fixture
def bench(visit, paint):
    """The page where painting is recorded, held by the worker, and kept."""
    return held(visit, paint)
