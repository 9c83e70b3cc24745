"""What a serving process does once when it starts, beside its first requests.

Higher apps register here in `AppConfig.ready`; `wsgi` and the worker begin it. Commands
such as migrate do not, and so stay quick.
"""

import gc
import logging
import threading
from collections.abc import Callable

from django.urls import get_resolver

log = logging.getLogger(__name__)

# A page makes thousands of objects, and hardly any in a circle.
FEWER = 20_000

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
    keep_what_is_loaded()


def keep_what_is_loaded() -> None:
    """Leave the program itself out of garbage collection.

    Looking through it again and again would hold up every few pages for a long time.
    """
    get_resolver().url_patterns  # noqa: B018 - every view is loaded with it
    gc.collect()
    gc.freeze()
    gc.set_threshold(FEWER, 20, 20)


def begin_beside() -> threading.Thread:
    """Do the registered work in a thread, while requests are already answered."""
    thread = threading.Thread(target=begin, name="start-up", daemon=True)
    thread.start()
    return thread
