"""What a serving process does once when it starts, beside its first requests.

Higher apps register here in `AppConfig.ready`; `wsgi` and the worker begin it. Commands
such as migrate do not, and so stay quick.
"""

import logging
import threading
from collections.abc import Callable

log = logging.getLogger(__name__)

_work: list[Callable[[], None]] = []


def at_start(work: Callable[[], None]) -> None:
    """Register work for the start of every serving process."""
    _work.append(work)


def begin() -> None:
    """Do the registered work now; a failure is logged and stops nothing."""
    for work in _work:
        try:
            work()
        except Exception:
            log.exception("Starting up: %s failed.", work)


def begin_beside() -> threading.Thread:
    """Do the registered work in a thread, while requests are already answered."""
    thread = threading.Thread(target=begin, name="start-up", daemon=True)
    thread.start()
    return thread
