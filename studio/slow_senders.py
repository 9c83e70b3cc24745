"""gunicorn's threads, which wait for nobody who sends or reads without end.

There are eight: as many requests that never end would stop the studio for everybody.
"""

import errno
import socket
import time
from typing import Any

from gunicorn.workers.gthread import TConn, ThreadWorker

# A request may take as long as it needs at two kilobytes a second, and this much more,
# but no longer than a file of 64 MB takes at a tenth of a megabyte a second.
GRACE_S = 20.0
SLOWEST_BYTES_PER_S = 2_000
LONGEST_S = 600.0
# Whoever reads nothing of an answer for so long is gone.
READS_WITHIN_S = 60.0


class TimedSocket(socket.socket):
    """A connection that ends when a request comes too slowly."""

    _began = 0.0
    _bytes = 0

    def begin(self) -> None:
        """Begin to wait for a request."""
        self._began, self._bytes = time.monotonic(), 0

    def recv(self, *args: Any) -> bytes:
        """Receive what has come; as if cut off when the time is over."""
        allowed_s = min(GRACE_S + self._bytes / SLOWEST_BYTES_PER_S, LONGEST_S)
        self.settimeout(max(self._began + allowed_s - time.monotonic(), 0.001))
        try:
            received = super().recv(*args)
        except TimeoutError as problem:
            raise ConnectionResetError(errno.ECONNRESET, "Sent too slowly") from problem
        self._bytes += len(received)
        self.settimeout(READS_WITHIN_S)
        return received


class Worker(ThreadWorker):  # type: ignore[misc] # it has no types
    """Gives every request its time."""

    def handle(self, conn: TConn) -> Any:
        """Handle a request, on a connection that is timed."""
        if not isinstance(conn.sock, TimedSocket):
            conn.sock = TimedSocket(fileno=conn.sock.detach())
        conn.sock.begin()
        return super().handle(conn)
