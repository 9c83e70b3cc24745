"""Readings that a logger sends: its token, what is saved, what is refused."""

import datetime as dt
import gzip
import io
import json
from zoneinfo import ZoneInfo

import jsonschema
import pytest
from django.core.cache import cache
from django.utils import timezone
from openapi_spec_validator import validate

from firing.controller_log.openapi import PROBLEMS
from firing.controller_log.pushed import MOST_LINES, PushProblem, read_pushed
from firing.firings.services.running import finish_firing, start_firing
from firing.models import KilnLogger, Reading
from firing.readings.selectors.loggers import clock_words, find_logger, token_of
from firing.readings.selectors.verdict_inputs import inputs_sha256
from firing.readings.services.loggers import make_logger, revoke_logger
from firing.readings.views.loggers import MOST_BYTES
from firing.schedules.selectors.charts import charts_of
from studio.errors import Refused
from studio.models import HistoryEntry, Job
from studio.viewer import Viewer
from tests.firing import build
from tests.firing.pages import address, assert_doors, text_of

MANAGERS = ("owner", "technician")
URL = "/firings/readings/push/"


@pytest.fixture(autouse=True)
def _no_counts_from_other_tests():
    cache.clear()


@pytest.fixture
def running(cast):
    """A fuse that was started an hour ago."""
    started = timezone.now() - dt.timedelta(hours=1)
    piece = build.stacked(studio=cast.studio, glass=cast.glass)
    firing = build.fuse(piece=piece, kiln=cast.kiln, starts_at=started)
    return start_firing(firing=firing, by=None, at=started)


@pytest.fixture
def logger(cast):
    return make_logger(kiln=cast.kiln, name="laptop", by=None, at=timezone.now())


def lines(firing, count=5, first=20.0):
    return [
        [(firing.started_at + dt.timedelta(minutes=n)).isoformat(), first + n]
        for n in range(count)
    ]


def push(client, logger, rows, **changes):
    given = {
        "data": json.dumps(rows),
        "content_type": "application/json",
        "headers": {"Authorization": f"Bearer {token_of(logger)}"},
    } | changes
    return client.post(URL, **given)


class Cut(io.BytesIO):
    """A body in chunks whose connection breaks; see `gunicorn.http.errors`."""

    def read(self, *_):
        raise OSError("Invalid chunk size: b'zz'")


@pytest.mark.parametrize("name", ["chunked", "with a length"])
def test_a_body_that_breaks_off_is_refused_in_words(client, running, logger, name):
    headers = {"Authorization": f"Bearer {token_of(logger)}"}
    if name == "chunked":
        headers["Transfer-Encoding"] = "chunked"
    answer = push(
        client, logger, lines(running), headers=headers, **{"wsgi.input": Cut()}
    )
    assert answer.status_code == 400
    assert "did not arrive whole" in answer.json()["problem"]
    assert kept(running) == []


def test_readings_are_kept_once_however_often_they_are_sent(client, running, logger):
    answer = push(client, logger, lines(running))
    assert answer.json() == {
        "firing": running.booking.title,
        "kept": 5,
        "known_already": 0,
    }
    again = push(client, logger, lines(running, 7))
    assert (again.json()["kept"], again.json()["known_already"]) == (2, 5)
    kept = Reading.owned.for_studio(running.studio).filter(firing=running)
    assert [one.temperature_c for one in kept] == [20.0 + n for n in range(7)]
    assert {one.source_id for one in kept} == {None}
    assert Job.across_studios.filter(name="firing.judge").count() == 1
    logger.refresh_from_db()
    assert logger.heard_at is not None


def test_a_running_firing_is_judged_anew_every_ten_minutes_of_it(
    client, running, logger
):
    sent = (push(client, logger, lines(running, count)) for count in (5, 10, 11, 20))
    orders = [
        Job.across_studios.filter(name="firing.judge").count()
        for answer in sent
        if answer.status_code == 200
    ]
    assert orders == [1, 1, 2, 2]


def test_what_was_sent_last_is_judged_when_the_kiln_is_unloaded(
    client, running, logger
):
    push(client, logger, lines(running, 5))
    push(client, logger, lines(running, 9))
    before = inputs_sha256(running)
    ended = finish_firing(
        firing=running,
        outcomes={item.pk: ("fine", "") for item in running.items.all()},
        by=None,
        at=timezone.now(),
        hand=build.READ_COLD,
    )
    assert inputs_sha256(ended) != before
    assert Job.across_studios.filter(name="firing.judge").count() == 2


def test_the_running_firing_s_chart_draws_them(client, running, logger):
    push(client, logger, lines(running))
    shown = charts_of(
        running,
        viewer=Viewer.of_studio(running.studio),
        now=timezone.now(),
        part="",
    )
    assert any("recorded" in fact.lower() for fact in map(str, shown.wide.facts))


def test_csv_and_fahrenheit(client, running, logger):
    rows = "\n".join(f"{at},{value}" for at, value in lines(running, 2, first=212.0))
    answer = push(
        client,
        logger,
        [],
        data=f"time,temperature\n{rows}\n",
        content_type="text/csv",
        QUERY_STRING="unit=F",
    )
    assert answer.status_code == 200
    kept = Reading.owned.for_studio(running.studio).first()
    assert kept.temperature_c == pytest.approx(100.0)


@pytest.mark.parametrize("said", ["", "Bearer ", "Basic abc", "Bearer é", "Bearer x"])
def test_without_its_token_nothing_opens(client, running, logger, said):
    answer = push(client, logger, lines(running), headers={"Authorization": said})
    assert answer.status_code == 401
    assert answer["WWW-Authenticate"] == "Bearer"
    assert not Reading.across_studios.exists()


def test_over_plain_http_it_is_refused_and_not_led_on(
    client, running, logger, settings
):
    settings.SECURE_SSL_REDIRECT = True
    settings.SECURE_REDIRECT_EXEMPT = [URL.removeprefix("/")]
    answer = push(client, logger, lines(running))
    assert answer.status_code == 403
    assert "https" in answer.json()["problem"]
    assert not Reading.across_studios.exists()
    assert push(client, logger, lines(running), secure=True).status_code == 200


def test_a_revoked_token_and_a_changed_one_open_nothing(client, running, logger):
    token = token_of(logger)
    assert find_logger(token) == logger
    assert find_logger(token[:-1] + ("A" if token[-1] != "A" else "B")) is None
    revoke_logger(logger=logger, by=None, at=timezone.now())
    assert push(client, logger, lines(running)).status_code == 401


def test_a_kiln_without_a_running_firing_says_so(client, logger):
    now = timezone.now().isoformat()
    answer = push(client, logger, [[now, 20]])
    assert answer.status_code == 409
    assert "No firing runs" in answer.json()["problem"]


def test_readings_of_another_day_are_refused_whole(client, running, logger):
    wrong = [*lines(running), ["2020-01-01T00:00:00Z", 20]]
    answer = push(client, logger, wrong)
    assert answer.status_code == 409
    assert "Set the logger's clock" in answer.json()["problem"]
    assert not Reading.across_studios.exists()


def test_too_often_and_too_much(client, running, logger):
    big = push(client, logger, [], data=b" " * (600 * 1024))
    assert big.status_code == 413
    codes = {push(client, logger, lines(running)).status_code for _ in range(40)}
    assert codes == {200, 429}


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "There is no reading"),
        (b"time,temperature\n", "There is no reading"),
        (b"2026-03-04T05:06:07,20", "no offset from UTC"),
        (b"yesterday 4pm,20", "no instant"),
        (b"2026-03-04T05:06:07Z,warm", "no temperature"),
        (b"2026-03-04T05:06:07Z,nan", "outside"),
        (b"2026-03-04T05:06:07Z,1e9", "outside"),
        (b"2026-03-04T05:06:07Z", "no pair"),
        (b"0001-01-01T00:00:00+14:00,20", "no instant"),
        (b"\xff\xfe\x00", "no text"),
    ],
)
def test_lines_that_are_no_readings_are_named(data, said):
    with pytest.raises(PushProblem, match=said):
        read_pushed(data, is_json=False, unit="C")


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"{", "no JSON"),
        (b"[" * 100_000, "no JSON"),
        (b"5", "Send a list"),
        (b'{"readings": 5}', "Send a list"),
        (b'{"unit": "K", "readings": []}', "C or F"),
        (b'[["2026-03-04T05:06:07Z", true]]', "no temperature"),
        (b'[["2026-03-04T05:06:07Z", null]]', "no temperature"),
        (b'[{"at": 1}]', "no pair"),
    ],
)
def test_json_that_is_no_readings(data, said):
    with pytest.raises(PushProblem, match=said):
        read_pushed(data, is_json=True, unit="C")


def test_more_lines_than_may_be_sent():
    row = b"2026-03-04T05:06:07Z,20\n"
    with pytest.raises(PushProblem, match="at most 5000"):
        read_pushed(row * (MOST_LINES + 1), is_json=False, unit="C")


def test_of_two_for_one_instant_the_later_counts_and_time_is_in_order():
    rows = (
        b"2026-03-04T05:07:00Z,2\n2026-03-04T00:06:00-05:00,1\n2026-03-04T05:07:00Z,3"
    )
    found = read_pushed(rows, is_json=False, unit="C")
    assert [one.temperature_c for one in found] == [1.0, 3.0]
    assert found[0].at == dt.datetime(2026, 3, 4, 5, 6, tzinfo=dt.UTC)


def test_the_kiln_s_page_gives_and_takes_tokens(cast, signed_in):
    browser = signed_in("technician")
    page = browser.post(
        address("kiln_logger_new", cast.kiln.pk), {"name": "laptop"}, follow=True
    )
    made = KilnLogger.owned.for_studio(cast.studio).get()
    assert token_of(made) in page.content.decode()
    assert "not heard yet" in text_of(page)
    helper = signed_in("helper").get(address("kiln_detail", cast.kiln.pk))
    assert token_of(made) not in helper.content.decode()
    gone = browser.post(address("logger_revoke", made.pk), follow=True)
    assert token_of(made) not in gone.content.decode()
    nameless = browser.post(
        address("kiln_logger_new", cast.kiln.pk), {"name": " "}, follow=True
    )
    assert "Give the logger a name" in text_of(nameless)


def test_a_kiln_has_few_loggers(cast):
    for number in range(5):
        make_logger(kiln=cast.kiln, name=f"{number}", by=None, at=timezone.now())
    with pytest.raises(Refused, match="Take one away"):
        make_logger(kiln=cast.kiln, name="6", by=None, at=timezone.now())


def test_doors(cast, client, signed_in, strangers, logger):
    common = {"client": client, "signed_in": signed_in, "strangers": strangers}
    for url in (
        address("kiln_logger_new", cast.kiln.pk),
        address("logger_revoke", logger.pk),
    ):
        assert_doors(url=url, roles=MANAGERS, post=True, **common)


# --- putting right what was sent ---


def put_right(browser, firing, logger, **given):
    """Fill in the form, look at what it would do, and do it."""
    url = address("readings_pushed", firing.pk, logger.pk)
    shown = browser.post(url, given)
    if shown.status_code != 200:
        return shown, None
    form = shown.context["form"]
    return shown, browser.post(url, {**given, "seen": form["seen"].value()})


def kept(firing):
    return [
        one.temperature_c
        for one in Reading.owned.for_studio(firing.studio).filter(firing=firing)
    ]


def test_a_wrong_unit_is_put_right_and_back_with_its_history(
    client, cast, signed_in, running, logger
):
    push(client, logger, lines(running, 4, first=212.0))
    before = inputs_sha256(running)
    browser = signed_in("technician")
    shown, done = put_right(browser, running, logger, change="were F")
    assert "414 °F to 419 °F" in text_of(shown)
    assert "would become 212 °F to 215 °F" in text_of(shown)
    assert done["Location"] == address("firing_detail", running.pk)
    assert kept(running) == pytest.approx([(212 + n - 32) / 1.8 for n in range(4)])
    assert inputs_sha256(running) != before, "it is judged again"
    page = text_of(browser.get(done["Location"]))
    assert "sent in °F, and read so now (Gullmarsh Technician)" in page
    line = HistoryEntry.owned.for_studio(cast.studio).latest("pk")
    assert "Put 4 readings right that laptop sent" in line.what
    put_right(browser, running, logger, change="were C")
    assert kept(running) == pytest.approx([212.0, 213, 214, 215])


def test_a_span_of_one_logger_is_removed_and_the_rest_stays(
    client, signed_in, running, logger
):
    other = make_logger(kiln=logger.kiln, name="second", by=None, at=timezone.now())
    push(client, logger, lines(running, 4))
    push(client, other, [[at, 300 + n] for at, n in lines(running, 9)[4:]])
    zone = ZoneInfo(running.studio.time_zone)
    minute = [
        (running.started_at + dt.timedelta(minutes=n)).astimezone(zone)
        for n in range(4)
    ]
    _, done = put_right(
        signed_in(),
        running,
        logger,
        change="removed",
        first_at=f"{minute[1]:%Y-%m-%dT%H:%M}",
        last_at=f"{minute[2]:%Y-%m-%dT%H:%M}",
    )
    assert done.status_code == 302
    left = kept(running)
    assert len(left) == 9 - 2 or len(left) == 9 - 3
    assert min(left) == 20.0
    assert [one for one in left if one > 300] == [324.0, 325, 326, 327, 328]


def test_a_unit_put_right_twice_is_put_right_once(client, signed_in, running, logger):
    push(client, logger, lines(running, 3, first=212.0))
    browser = signed_in()
    shown, done = put_right(browser, running, logger, change="were F")
    assert done.status_code == 302
    first = kept(running)
    url = address("readings_pushed", running.pk, logger.pk)
    seen = shown.context["form"]["seen"].value()
    again = browser.post(url, {"change": "were F", "seen": seen})
    assert again.status_code == 409
    assert "changed since you looked" in text_of(again)
    assert kept(running) == first


def test_what_came_meanwhile_is_not_met(client, signed_in, running, logger):
    push(client, logger, lines(running, 3))
    url = address("readings_pushed", running.pk, logger.pk)
    answer = signed_in().post(url, {"change": "removed", "seen": "2"})
    assert answer.status_code == 409
    assert "Do it to these 3 readings" in text_of(answer)
    assert "changed since you looked" in text_of(answer)
    assert len(kept(running)) == 3


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({}, "Choose one of these."),
        ({"change": "melted"}, "Choose one of these."),
        ({"change": "removed", "first_at": "soon"}, "Write a day and a time"),
        (
            {
                "change": "removed",
                "first_at": "2026-03-04T10:00",
                "last_at": "2026-03-04T09:00",
            },
            "This is before the beginning.",
        ),
        ({"change": "removed", "last_at": "2026-03-04T09:00"}, "Nothing was sent"),
    ],
)
def test_nonsense_puts_nothing_right(client, signed_in, running, logger, given, words):
    push(client, logger, lines(running, 3))
    url = address("readings_pushed", running.pk, logger.pk)
    answer = signed_in().post(url, given)
    assert answer.status_code == 422
    assert words in text_of(answer)
    assert len(kept(running)) == 3


def test_a_unit_that_no_kiln_could_have_is_refused(client, signed_in, running, logger):
    push(client, logger, lines(running, 3, first=1200.0))
    _, refused = put_right(signed_in(), running, logger, change="were C")
    assert refused.status_code == 409
    assert "which no kiln is" in text_of(refused)
    assert kept(running) == [1200.0, 1201.0, 1202.0]


def test_a_logger_that_sent_nothing_leads_back(signed_in, running, logger):
    url = address("readings_pushed", running.pk, logger.pk)
    assert signed_in().get(url)["Location"] == address("firing_detail", running.pk)


def test_doors_of_putting_right(client, signed_in, strangers, running, logger):
    push(client, logger, lines(running, 3))
    assert_doors(
        client=client,
        signed_in=signed_in,
        strangers=strangers,
        url=address("readings_pushed", running.pk, logger.pk),
        roles=("owner", "maker", "helper", "technician"),
    )


class TestClock:
    def test_that_is_wrong_is_put_right(self, client, running, logger):
        slow = dt.timedelta(hours=3)
        rows = [[(at_of(row) - slow).isoformat(), row[1]] for row in lines(running)]
        clock = (timezone.now() - slow).isoformat()
        answer = push(client, logger, {"readings": rows, "clock": clock})
        assert answer.json()["kept"] == 5
        first = Reading.owned.for_studio(running.studio).filter(firing=running).first()
        assert abs(first.at - running.started_at) < dt.timedelta(seconds=5)
        logger.refresh_from_db()
        assert clock_words(logger).startswith("its clock is 3 h behind")

    def test_that_is_wrong_gives_the_same_instants_when_sent_again(
        self, client, running, logger
    ):
        fast = dt.timedelta(minutes=20)
        rows = [[(at_of(row) + fast).isoformat(), row[1]] for row in lines(running)]
        for late_s in (0, 20, 40):
            clock = timezone.now() + fast - dt.timedelta(seconds=late_s)
            given = {"readings": rows, "clock": clock.isoformat()}
            answer = push(client, logger, given)
        assert answer.json() == {
            "firing": running.booking.title,
            "kept": 0,
            "known_already": 5,
        }

    def test_that_is_nearly_right_changes_nothing(self, client, running, logger):
        clock = (timezone.now() - dt.timedelta(seconds=30)).isoformat()
        push(client, logger, {"readings": lines(running), "clock": clock})
        logger.refresh_from_db()
        assert logger.clock_off_s == 0

    def test_that_is_no_instant_is_refused(self, client, running, logger):
        answer = push(client, logger, {"readings": lines(running), "clock": "noon"})
        assert answer.status_code == 400
        assert "The clock: noon is no instant" in answer.json()["problem"]


class TestGzip:
    def send(self, client, logger, data, encoding="gzip"):
        headers = {
            "Authorization": f"Bearer {token_of(logger)}",
            "Content-Encoding": encoding,
        }
        return push(client, logger, [], data=data, headers=headers)

    def test_is_unpacked(self, client, running, logger):
        packed = gzip.compress(json.dumps(lines(running)).encode())
        assert self.send(client, logger, packed).json()["kept"] == 5

    def test_bomb_is_refused_before_it_is_unpacked(self, client, running, logger):
        bomb = gzip.compress(b" " * 200_000_000)
        assert len(bomb) < MOST_BYTES
        answer = self.send(client, logger, bomb)
        assert answer.status_code == 413

    def test_that_is_none_is_refused(self, client, running, logger):
        assert self.send(client, logger, b"nonsense").status_code == 400

    def test_that_is_cut_short_is_refused(self, client, running, logger):
        packed = gzip.compress(b"[]" * 999)
        assert self.send(client, logger, packed[:-9]).status_code == 400

    def test_alone_is_taken(self, client, running, logger):
        assert self.send(client, logger, b"[]", encoding="br").status_code == 415


def at_of(row):
    return dt.datetime.fromisoformat(row[0])


class TestDescription:
    """The OpenAPI description is a true one; the packages say what the standards do."""

    @pytest.fixture
    def told(self, client):
        return client.get("/firings/readings/push/openapi.json").json()

    def test_keeps_the_standard(self, told):
        assert told["openapi"].startswith("3.1")
        validate(told)

    def test_names_the_address_and_every_answer(self, client, running, logger, told):
        ((path, methods),) = told["paths"].items()
        assert path == URL
        answers = methods["post"]["responses"]
        sent = [
            push(client, logger, lines(running)),
            push(client, logger, []),
            push(client, logger, lines(running), headers={}),
            push(client, logger, [["1999-01-01T00:00:00Z", 1]]),
            push(client, logger, [], data=b" " * (MOST_BYTES + 1)),
        ]
        assert [one.status_code for one in sent] == [200, 400, 401, 409, 413]
        schemas = told["components"]["schemas"]
        for answer in sent:
            schema = answers[str(answer.status_code)]["content"]["application/json"]
            name = schema["schema"]["$ref"].rpartition("/")[2]
            jsonschema.validate(answer.json(), schemas[name])
        assert set(answers) == {"200", *PROBLEMS}

    def test_takes_what_the_address_takes_and_no_more(self, running, told):
        body = told["components"]["schemas"]["Readings"]
        rows = lines(running)
        for good in (rows, {"readings": rows, "unit": "F", "clock": rows[0][0]}):
            jsonschema.validate(good, body)
            read_pushed(json.dumps(good).encode(), is_json=True, unit="C")
        for bad in ([], {"readings": []}, [["2026-03-04T05:06:07Z"]], {"unit": "C"}):
            with pytest.raises(jsonschema.ValidationError):
                jsonschema.validate(bad, body)
            with pytest.raises(PushProblem):
                read_pushed(json.dumps(bad).encode(), is_json=True, unit="C")
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(rows * MOST_LINES, body)
