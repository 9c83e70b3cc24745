"""No test empties the database under a request that is still being answered."""

from threading import Event, Thread, Timer
from urllib.request import urlopen

import pytest
from django.core.handlers.wsgi import WSGIHandler
from django.http import HttpResponse

from tests.browser.answering import Answering

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_the_end_of_a_test_waits_for_the_answer(live_server, monkeypatch):
    is_asked, may_answer = Event(), Event()

    def answer_late(_handler, _request):
        is_asked.set()
        may_answer.wait()
        return HttpResponse()

    monkeypatch.setattr(WSGIHandler, "get_response", answer_late)
    asking = Thread(target=lambda: urlopen(live_server.url).close())
    with Answering() as answering:
        asking.start()
        is_asked.wait()
        assert len(answering.threads) == 1
        Timer(0.5, may_answer.set).start()
        answering.wait_until_done()
        assert may_answer.is_set()
        assert not answering.threads
    asking.join()
