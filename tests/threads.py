"""Several people who do something at the same moment, each in a thread."""

import threading

from django.db import connection

from tests.patience import LONG_S


def at_once(*acts):
    """Do several things at the same moment; return what each gave or raised, in order."""
    start = threading.Barrier(len(acts))
    ends: dict[int, object] = {}

    def do(number, act):
        try:
            start.wait(timeout=LONG_S)
            ends[number] = act()
        except Exception as problem:  # noqa: BLE001 - looked at by the caller
            ends[number] = problem
        finally:
            connection.close()

    threads = [threading.Thread(target=do, args=row) for row in enumerate(acts)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=LONG_S)
    return [ends.get(number) for number in range(len(acts))]
