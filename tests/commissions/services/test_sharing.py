"""Share links and news: one live link per commission, and each revoked once."""

import datetime as dt
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connection
from django.utils import timezone

from commissions.models import Post, ShareLink
from commissions.services import posts, sharing
from studio.models import HistoryEntry
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


def test_a_link_closed_by_two_is_closed_once(cast):
    link = build.link(build.commission(cast))
    first, second = (ShareLink.across_studios.get(pk=link.pk) for _ in range(2))
    now = timezone.now()
    sharing.revoke_share_link(link=first, by=None, at=now)
    sharing.revoke_share_link(link=second, by=None, at=now + dt.timedelta(hours=1))
    link.refresh_from_db()
    assert link.revoked_at == now
    told = HistoryEntry.owned.for_studio(cast.studio)
    assert told.filter(what__startswith="Closed the client").count() == 1


def test_news_taken_back_by_two_is_taken_back_once(cast):
    commission, now = build.commission(cast), timezone.now()
    post = posts.post_news(commission=commission, text="Painted", by=None, at=now)
    first, second = (Post.across_studios.get(pk=post.pk) for _ in range(2))
    posts.withdraw_post(post=first, by=None, at=now)
    posts.withdraw_post(post=second, by=None, at=now + dt.timedelta(hours=1))
    post.refresh_from_db()
    assert post.withdrawn_at == now
    told = HistoryEntry.owned.for_studio(cast.studio)
    assert told.filter(what__startswith="Took back news").count() == 1
