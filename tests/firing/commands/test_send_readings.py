"""The logger that is made of a file sends it to a real server, in order and once."""

import datetime as dt

import pytest
from django.core.management import call_command
from django.utils import timezone

from firing.management.commands import send_readings
from firing.models import FiringEvent, Reading
from firing.physics.judging.watching import EventKind
from firing.readings.selectors.loggers import token_of
from firing.readings.services.loggers import make_logger
from firing.watch.services import watching
from tests.firing.watch.replay import (
    HOUR_S,
    anneal_s,
    planned_log,
    running_fuse,
    with_cut,
)

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def firing(cast):
    return running_fuse(cast, started=timezone.now() - dt.timedelta(days=20))


def test_a_three_hour_cut_sent_at_great_speed_is_one_event(
    firing, live_server, tmp_path, monkeypatch
):
    monkeypatch.setattr(send_readings, "EVERY_S", 0.2)
    told = []
    monkeypatch.setattr(watching, "tell", lambda **given: told.append(given))
    time_s, kiln_c = planned_log(firing, every_s=300.0)
    cut_c = with_cut(
        firing,
        time_s,
        kiln_c,
        at_s=anneal_s(firing, time_s, kiln_c) + 4 * HOUR_S,
        hours=3,
    )
    rows = [f"{s:.0f},{c:.1f}" for s, c in zip(time_s, cut_c, strict=True)]
    file = tmp_path / "log.csv"
    file.write_text("\n".join(["Seconds,Temp (°C)", *rows]))
    logger = make_logger(kiln=firing.kiln, name="file", by=None, at=timezone.now())
    call_command(
        "send_readings",
        file,
        token=token_of(logger),
        address=live_server.url,
        speed=500_000,
        starts=firing.started_at.isoformat(),
    )
    assert Reading.across_studios.filter(firing=firing).count() == len(time_s)
    watching.look(firing_id=firing.pk, clock=timezone.now)
    kinds = FiringEvent.across_studios.values_list("kind", flat=True)
    assert EventKind.CUT in kinds
    assert EventKind.SILENT not in kinds


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"token": ""}, "--token"),
        ({"speed": 0}, "--speed"),
        ({"starts": "noon"}, "--starts"),
        ({"file": "nowhere.csv"}, "nowhere.csv"),
    ],
)
def test_what_is_wrong_is_said_in_one_line(changes, told, tmp_path, capsys):
    file = tmp_path / "log.csv"
    file.write_text("Seconds,Temp (°C)\n0,20\n60,25\n")
    given = {"file": file, "token": "t"} | changes
    with pytest.raises(SystemExit) as ended:
        call_command("send_readings", given.pop("file"), **given)
    assert ended.value.code == 2
    assert told in capsys.readouterr().err


def test_a_token_that_opens_nothing_ends_it(live_server, tmp_path, capsys):
    file = tmp_path / "log.csv"
    file.write_text("Seconds,Temp (°C)\n0,20\n60,25\n120,30\n")
    with pytest.raises(SystemExit):
        call_command(
            "send_readings", file, token="x", address=live_server.url, speed=9e5
        )
    assert "opens nothing" in capsys.readouterr().err
