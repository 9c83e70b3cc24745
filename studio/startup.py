"""What a serving process does once when it starts, beside its first requests.

Higher apps register here in `AppConfig.ready`; `wsgi` and the worker begin it. Commands
such as migrate do not, and so stay quick.
"""

import gc
import logging
import threading
from collections.abc import Callable

from django.core.signals import request_finished
from django.urls import get_resolver

log = logging.getLogger(__name__)

# More than a page makes: what it leaves in circles is collected after its answer.
MOST = 100_000

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

    Looking through it again and again would hold up every few pages for a long time, and
    so would what pages leave behind; that is looked through once an answer is sent.
    """
    get_resolver().url_patterns  # noqa: B018 - every view is loaded with it
    gc.collect()
    gc.freeze()
    gc.set_threshold(MOST, 5, 20)
    request_finished.connect(tidy)


def tidy(**_: object) -> None:
    """Collect what the page just sent left in circles; nobody waits for it any more."""
    gc.collect(1)


def begin_beside() -> threading.Thread:
    """Do the registered work in a thread, while requests are already answered."""
    thread = threading.Thread(target=begin, name="start-up", daemon=True)
    thread.start()
    return thread
