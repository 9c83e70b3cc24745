"""PostgreSQL or Redis gone for a minute: pages say so, nothing is lost, it comes back."""

import contextlib
import html
import json
import re
import time

import pytest

from tests.attacks.person import Person
from tests.attacks.servers import own_servers, start_with_a_studio
from tests.attacks.test_disk import PASSWORD
from tests.attacks.test_kills import order_an_archive, stored
from tests.studio.test_up import Up, free_port
from tests.worker import wait_until

# One `up` with servers of its own serves them all; the minute is a minute.
pytestmark = [pytest.mark.slow, pytest.mark.worker, pytest.mark.long]
GONE_S = 60
# Whoever cannot be answered is told so before they give up: generously, for a busy
# machine.
TOLD_WITHIN_S = 25
PAGES = ("/", "/kilns/", "/pieces/", "/stock/", "/settings/", "/settings/yours/")
NEW = "/stock/materials/new/"
KEPT = re.compile(r'<textarea name="([^"]+)" hidden>\n(.*?)</textarea>', re.DOTALL)


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """Give `up`, its PostgreSQL and its Redis, all running."""
    with own_servers() as (postgres, redis):
        up = Up(
            tmp_path_factory.mktemp("gone") / "var",
            free_port(),
            STUDIO_DATABASE_URL=postgres.url,
            STUDIO_REDIS_URL=redis.url,
        )
        try:
            start_with_a_studio(up)
            yield up, postgres, redis
        finally:
            up.end()


@pytest.fixture
def una(place):
    person = Person(f"http://127.0.0.1:{place[0].port}")
    person.sign_in("una@example.org", PASSWORD)
    return person


@pytest.fixture
def monitor(place):
    """Return who looks whether all works, without a sign-in."""
    return Person(f"http://127.0.0.1:{place[0].port}")


@contextlib.contextmanager
def gone(server):
    """Kill a server, and start it again afterwards; tell whether its minute lasts."""
    until = time.monotonic() + GONE_S

    def in_its_minute():
        time.sleep(1)
        return time.monotonic() < until

    server.kill()
    try:
        yield in_its_minute
    finally:
        server.start()


def material(name):
    return {
        "name": name,
        "kind": "other",
        "unit": "g",
        "used_per": "not priced",
        "cost_per_unit": "1",
        "amount_used": "0",
        "on_hand": "5",
    }


def is_ready(monitor, **expected):
    """Return whether the health page says so of each part."""
    told = json.loads(monitor.get("/readyz").text)
    return {key: told[key] for key in expected} == expected


def send_what_was_kept(person, page):
    """Press the only button of a page that kept what was typed."""
    assert f'action="{NEW}"' in page.text
    person.take_token(page)
    kept = {name: html.unescape(value) for name, value in KEPT.findall(page.text)}
    return person.post(NEW, kept)


def says_that_the_database_is_gone(answer):
    assert answer.status == 503, answer.text
    assert "The database does not answer" in answer.text
    assert answer.took_s < TOLD_WITHIN_S


def nothing_is_lost_or_left(up, *names):
    found = stored(up)
    for name in names:
        assert found["names"].count(name) == 1
        assert found["told"].count(f"Added material {name}") == 1
    assert found["failed"] == []
    assert found["archives"] == 1


def test_postgres_gone_for_a_minute(place, una, monitor):
    up, postgres, _ = place
    name = "Frit “of a minute” & <more>"
    assert una.get(NEW).status == 200
    order_an_archive(up)
    with gone(postgres) as in_its_minute:
        refused = una.post(NEW, material(name))
        says_that_the_database_is_gone(refused)
        while in_its_minute():
            for path in PAGES:
                says_that_the_database_is_gone(una.get(path))
            says_that_the_database_is_gone(una.post(NEW, material(name)))
            assert monitor.get("/healthz").status == 200
            assert is_ready(monitor, database=False, broker=True)
    wait_until(lambda: is_ready(monitor, database=True, broker=True))
    assert send_what_was_kept(una, refused).status == 302
    for path in PAGES:
        assert una.get(path).status == 200
    nothing_is_lost_or_left(up, name)


def test_postgres_that_says_nothing_holds_nobody_for_long(place, una, monitor):
    up, postgres, _ = place
    order_an_archive(up)
    assert una.get(NEW).status == 200
    postgres.lose_connections_and_freeze()
    try:
        refused = una.post(NEW, material("Frit of the frozen"))
        says_that_the_database_is_gone(refused)
        says_that_the_database_is_gone(una.get("/kilns/"))
        assert is_ready(monitor, database=False)
    finally:
        postgres.go_on()
    wait_until(lambda: is_ready(monitor, database=True))
    assert send_what_was_kept(una, refused).status == 302
    nothing_is_lost_or_left(up, "Frit of the frozen")


def test_redis_gone_for_a_minute(place, una, monitor):
    up, _, redis = place
    made = []
    with gone(redis) as in_its_minute:
        order_an_archive(up)
        while in_its_minute():
            for path in PAGES:
                assert una.get(path).status == 200, path
            assert una.get(NEW).status == 200
            made.append(f"Frit without Redis {len(made)}")
            assert una.post(NEW, material(made[-1])).status == 302
            assert is_ready(monitor, database=True, broker=False)
    wait_until(lambda: is_ready(monitor, database=True, broker=True))
    nothing_is_lost_or_left(up, *made)


def test_redis_that_says_nothing_holds_nobody_for_long(place, una, monitor):
    up, _, redis = place
    redis.stop_answering()
    try:
        una.get("/settings/yours/")
        ordered = una.post("/settings/yours/archive/", {})
        assert ordered.status == 302
        assert ordered.took_s < TOLD_WITHIN_S
        assert is_ready(monitor, database=True, broker=False)
    finally:
        redis.go_on()
    wait_until(lambda: is_ready(monitor, broker=True))
    nothing_is_lost_or_left(up)
