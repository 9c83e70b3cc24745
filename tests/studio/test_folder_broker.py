"""The folder broker: nobody reads half a message, nothing damaged stops a worker."""

import multiprocessing
from pathlib import Path
from queue import Empty

import pytest
from kombu import Connection

from studio import folder_broker
from studio.celery import app

MESSAGES = 300
BINDERS = 4


@pytest.fixture
def folders(tmp_path):
    """Return the transport's options for folders of this test's own."""
    for name in ("messages", "control", "processed"):
        (tmp_path / name).mkdir()
    return {
        "data_folder_in": str(tmp_path / "messages"),
        "data_folder_out": str(tmp_path / "messages"),
        "control_folder": str(tmp_path / "control"),
        "processed_folder": str(tmp_path / "processed"),
    }


def channel_on(folders):
    """Return a channel of a new connection to these folders."""
    connection = Connection(
        transport=folder_broker.Transport, transport_options=folders
    )
    return connection.default_channel


def put_many(folders):
    """Write messages as fast as it goes."""
    channel = channel_on(folders)
    for number in range(MESSAGES):
        channel._put("work", {"number": number, "long": "x" * 20_000})


def bind_some(folders, first):
    """Bind queues of this process's own to one exchange."""
    channel = channel_on(folders)
    for number in range(first, first + 10):
        channel._queue_bind("shared", "", "", f"queue-{number}")


def test_the_application_uses_it_when_there_is_no_redis(settings):
    if settings.REDIS_URL:
        pytest.skip("This run uses Redis, not the folder.")
    with app.connection_for_write() as connection:
        assert isinstance(connection.default_channel, folder_broker.Channel)


def test_a_reader_beside_a_writer_never_sees_half_a_message(folders):
    writer = multiprocessing.get_context("spawn").Process(
        target=put_many, args=(folders,)
    )
    writer.start()
    channel = channel_on(folders)
    seen = set()
    while len(seen) < MESSAGES:
        alive = writer.is_alive()
        try:
            seen.add(channel._get("work")["number"])
        except Empty:
            assert alive, f"the writer ended, {len(seen)} of {MESSAGES} came"
    writer.join()
    assert seen == set(range(MESSAGES))


def test_a_message_gets_its_name_only_when_it_is_whole(folders, monkeypatch):
    seen = []
    write = Path.write_bytes

    def look(path, content):
        done = write(path, content)
        seen.extend(one.name for one in Path(folders["data_folder_in"]).glob("*.msg"))
        return done

    monkeypatch.setattr(Path, "write_bytes", look)
    channel = channel_on(folders)
    channel._put("work", {"number": 1})
    assert seen == []
    assert channel._size("work") == 1
    assert channel._get("work") == {"number": 1}


def test_a_damaged_message_is_put_aside_and_the_next_one_comes(folders, caplog):
    channel = channel_on(folders)
    broken = Path(folders["data_folder_in"]) / "0_cut-short.work.msg"
    broken.write_bytes(b'{"number": ')
    channel._put("work", {"number": 2})
    with pytest.raises(Empty):
        channel._get("work")
    assert "put aside" in caplog.text
    assert channel._get("work") == {"number": 2}


def test_a_folder_that_cannot_be_written_leaves_nothing_behind(tmp_path, monkeypatch):
    def full(path, target):
        raise OSError("no space left on the device")

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(OSError, match="no space"):
        folder_broker.write_whole(tmp_path / "one.msg", b"{}")
    assert list(tmp_path.iterdir()) == []


def test_queues_bound_at_the_same_time_are_all_kept(folders):
    spawn = multiprocessing.get_context("spawn")
    binders = [
        spawn.Process(target=bind_some, args=(folders, 10 * number))
        for number in range(BINDERS)
    ]
    for binder in binders:
        binder.start()
    for binder in binders:
        binder.join()
    rows = channel_on(folders).get_table("shared")
    assert {row.queue for row in rows} == {f"queue-{n}" for n in range(10 * BINDERS)}


def test_an_unbound_queue_leaves_the_list(folders):
    channel = channel_on(folders)
    bind_some(folders, 0)
    channel._delete("queue-3", "shared", "", "")
    assert "queue-3" not in {row.queue for row in channel.get_table("shared")}
    assert len(channel.get_table("shared")) == 9
