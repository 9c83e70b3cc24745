"""Several people at one kiln at once: they queue, and nobody waits forever."""

import threading

import pytest
from django.db import connection, transaction

from firing.locks import lock_kiln, lock_pieces
from tests.firing import build
from tests.patience import LONG_S


@pytest.mark.django_db(transaction=True)
def test_computing_a_schedule_and_booking_its_kiln_do_not_wait_for_each_other(cast):
    """One holds the piece and names the kiln, the other holds the kiln and asks for it."""
    piece = build.stacked(studio=cast.studio, glass=cast.glass)
    has_piece, has_kiln = threading.Event(), threading.Event()
    faults: list[Exception] = []

    def compute():
        with transaction.atomic():
            lock_pieces([piece])
            has_piece.set()
            # SQLite lets nobody else begin to write; there the wait runs out.
            has_kiln.wait(timeout=1)
            build.schedule(piece=piece, kiln=cast.kiln)

    def book():
        has_piece.wait(timeout=LONG_S)
        with transaction.atomic():
            lock_kiln(cast.kiln)
            has_kiln.set()
            lock_pieces([piece])

    def run(work):
        try:
            work()
        except Exception as fault:  # noqa: BLE001 - shown by the assertion
            faults.append(fault)
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(work,)) for work in (compute, book)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=LONG_S)
    assert faults == []
