"""The folder that carries wake-up messages on one machine, made safe for readers.

kombu's own transport opens a file under its final name before it writes it, so a worker
that looks at that moment reads an empty message and dies. Here a file gets its name
once it is whole. The same goes for the list of queues that an exchange feeds.
"""

import fcntl
import logging
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from queue import Empty
from time import monotonic
from typing import Any

from kombu.exceptions import ChannelError
from kombu.transport import filesystem
from kombu.utils.encoding import str_to_bytes
from kombu.utils.json import dumps

log = logging.getLogger(__name__)

SCHEME = "folder"
TRANSPORT = "studio.folder_broker:Transport"


def write_whole(path: Path, content: bytes) -> None:
    """Write a file so that nobody ever sees an incomplete one under its name.

    Raises
    ------
    OSError
        When the folder cannot be written; the name is then as it was.
    """
    draft = path.with_name(f".{uuid.uuid4().hex}.draft")
    try:
        draft.write_bytes(content)
        draft.replace(path)
    except OSError:
        draft.unlink(missing_ok=True)
        raise


class Channel(filesystem.Channel):
    """kombu's channel with whole files, and a reader that survives a damaged one."""

    _exchange_file: Callable[[str], Path]  # kombu's; its stubs do not know it.

    # Both as in kombu's own, which differ from its abstract channel.
    def _put(self, queue: str, payload: Any, **_: Any) -> None:  # type: ignore[override]
        name = f"{round(monotonic() * 1000)}_{uuid.uuid4()}.{queue}.msg"
        try:
            write_whole(Path(self.data_folder_out) / name, str_to_bytes(dumps(payload)))
        except OSError as problem:
            raise ChannelError(f"Cannot write the message {name}") from problem

    def _get(self, queue: str) -> dict[str, Any]:  # type: ignore[override]
        try:
            return super()._get(queue)
        except ValueError as problem:
            # Cut short by a power cut, say. Its job is in the database and is sent
            # again.
            log.warning("A message that cannot be read was put aside: %s", problem)
            raise Empty from problem

    def _queue_bind(
        self, exchange: str, routing_key: str, pattern: str | None, queue: str
    ) -> None:
        file = self._exchange_file(exchange)
        row = filesystem.exchange_queue_t(routing_key or "", pattern or "", queue or "")
        with self._changing(file):
            rows = self.get_table(exchange)
            if row not in rows:
                write_whole(file, str_to_bytes(dumps([row, *rows])))

    def _delete(
        self,
        queue: str,
        exchange: str,
        routing_key: str,
        pattern: str,
        *args: Any,
        **kwargs: Any,
    ) -> None:
        super(filesystem.Channel, self)._delete(
            queue, exchange, routing_key, pattern, *args, **kwargs
        )
        file = self._exchange_file(exchange)
        row = filesystem.exchange_queue_t(routing_key or "", pattern or "", queue or "")
        with self._changing(file):
            rows = self.get_table(exchange)
            if row in rows:
                left = [one for one in rows if one != row]
                write_whole(file, str_to_bytes(dumps(left)))

    @contextmanager
    def _changing(self, file: Path) -> Iterator[None]:
        """Keep others from changing the same list meanwhile."""
        try:
            file.parent.mkdir(exist_ok=True)
            with file.with_suffix(".lock").open("wb") as held:
                fcntl.flock(held.fileno(), fcntl.LOCK_EX)  # Closing releases it.
                yield
        except OSError as problem:
            raise ChannelError(f"Cannot change {file}") from problem


class Transport(filesystem.Transport):
    """Messages as files in one folder."""

    Channel = Channel
