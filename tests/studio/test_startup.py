"""What a serving process does once when it starts."""

import gc
import logging
import weakref

import pytest
from django.core.signals import request_finished

from studio import startup
from tests.patience import LONG_S


@pytest.fixture
def registered(monkeypatch):
    work = []
    monkeypatch.setattr(startup, "_work", work)
    return work


def test_all_of_it_is_done_though_one_part_fails(registered, caplog):
    done = []

    @startup.at_start
    def broken():
        raise RuntimeError("no folder")

    @startup.at_start
    def fine():
        done.append("fine")

    with caplog.at_level(logging.ERROR):
        startup.begin_beside().join(timeout=LONG_S)
    assert done == ["fine"]
    assert "no folder" in caplog.text
    assert len(registered) == 2


def test_the_engine_is_among_it():
    assert "warm_up_physics" in [work.__name__ for work in startup._work]


def test_the_engine_can_be_compiled_ahead_by_command(capsys):
    from django.core.management import call_command

    call_command("warm_up")
    assert "engine is ready" in capsys.readouterr().out


@pytest.mark.django_db
def test_what_a_page_leaves_in_circles_is_gone_once_its_answer_is_sent(client):
    class Ring:
        pass

    def left_behind():
        ring = Ring()
        ring.itself = ring
        return weakref.ref(ring)

    before = gc.get_threshold()
    startup.keep_what_is_loaded()
    gc.disable()
    try:
        left = left_behind()
        assert left() is not None
        client.get("/healthz")
        assert left() is None
    finally:
        request_finished.disconnect(startup.tidy)
        gc.enable()
        gc.set_threshold(*before)
        gc.unfreeze()
