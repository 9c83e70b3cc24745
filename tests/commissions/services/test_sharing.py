"""Share links: one live link to a commission, however often it is asked for."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connection
from django.utils import timezone

from commissions.models import ShareLink
from commissions.services import sharing
from tests.commissions import build
from tests.patience import LONG_S


@pytest.mark.django_db(transaction=True)
def test_two_who_ask_at_the_same_moment_get_the_same_link(cast):
    commission = build.commission(cast)
    together = Barrier(2, timeout=LONG_S)

    def make(_number):
        try:
            together.wait()
            return sharing.make_share_link(
                commission=commission, by=None, at=timezone.now()
            ).pk
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        made = set(pool.map(make, range(2)))
    assert len(made) == 1
    assert ShareLink.across_studios.count() == 1
