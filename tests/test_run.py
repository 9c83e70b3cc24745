"""A run in several processes: each has its own folder, broker and database."""

import pytest

from tests.run import apart

ALONE = {
    "STUDIO_VAR_DIR": "/run/one",
    "STUDIO_REDIS_URL": "redis://:pass@127.0.0.1:6379/9",
}


@pytest.fixture
def kept_apart(monkeypatch):
    def keep(process, environment):
        monkeypatch.setenv("PYTEST_XDIST_WORKER", process)
        given = dict(environment)
        apart(given)
        return given

    return keep


def test_each_process_has_its_own_folder_and_redis_database(kept_apart):
    assert kept_apart("gw0", ALONE) == {
        "STUDIO_VAR_DIR": "/run/one/gw0",
        "STUDIO_REDIS_URL": "redis://:pass@127.0.0.1:6379/9",
    }
    assert kept_apart("gw3", ALONE) == {
        "STUDIO_VAR_DIR": "/run/one/gw3",
        "STUDIO_REDIS_URL": "redis://:pass@127.0.0.1:6379/12",
    }


def test_no_two_of_seven_share_a_redis_database(kept_apart):
    used = {kept_apart(f"gw{n}", ALONE)["STUDIO_REDIS_URL"] for n in range(7)}
    assert len(used) == 7


def test_a_process_alone_keeps_what_it_was_given(kept_apart):
    assert kept_apart("", ALONE) == ALONE


def test_what_a_test_starts_stays_in_its_process_s_place(kept_apart):
    once = kept_apart("gw2", ALONE)
    assert kept_apart("gw2", once) == once
