"""What the test's server is answering, whoever asked."""

import time
from threading import Condition, get_ident

from django.core.signals import request_finished, request_started

from tests.patience import LONG_S

# A connection that the browser opened last has its thread by then.
QUIET_S = 0.1


class Answering:
    """Knows which of the server's threads are answering, while it is entered."""

    def __init__(self):
        self.threads = set()
        self.changed = Condition()

    def __enter__(self):
        self.own = get_ident()
        request_started.connect(self._begin)
        request_finished.connect(self._end)
        return self

    def __exit__(self, *_):
        request_started.disconnect(self._begin)
        request_finished.disconnect(self._end)

    def _begin(self, **_):
        with self.changed:
            self.threads.add(get_ident())
            # The test's own client answers where it asks.
            self.threads.discard(self.own)
            self.changed.notify_all()

    def _end(self, **_):
        with self.changed:
            self.threads.discard(get_ident())
            self.changed.notify_all()

    def wait_until_done(self):
        """Return once all is answered and nothing else is asked."""
        until = time.monotonic() + LONG_S
        with self.changed:
            while self.threads or self.changed.wait(QUIET_S):
                left = until - time.monotonic()
                assert left > 0, f"{len(self.threads)} requests are not answered"
                if self.threads:
                    self.changed.wait(left)
