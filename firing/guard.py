"""SQLite's share of "never two bookings in one kiln": triggers that abort.

Django rebuilds an SQLite table to change it and so drops its triggers, and refuses to
drop a column that a trigger names. Hence: taken away before every migrate, put back
after it.
"""

from typing import Any

from django.db import connections

TABLE = "firing_booking"
NAMES = ("booking_overlap_on_insert", "booking_overlap_on_update")
MESSAGE = "one_booking_at_a_time_per_kiln"

TRIGGER = """
CREATE TRIGGER IF NOT EXISTS {name} BEFORE {event} ON {table}
WHEN NEW.cancelled_at IS NULL AND EXISTS (
    SELECT 1 FROM {table} AS other
    WHERE other.kiln_id = NEW.kiln_id
      AND other.cancelled_at IS NULL
      AND other.id IS NOT NEW.id
      AND other.starts_at < NEW.ends_at
      AND NEW.starts_at < other.ends_at
)
BEGIN SELECT RAISE(ABORT, '{message}'); END
"""


def drop_triggers(*, using: str, **_: Any) -> None:
    """Take the triggers away, so that migrations may change the table."""
    connection = connections[using]
    if connection.vendor != "sqlite":
        return
    with connection.cursor() as cursor:
        for name in NAMES:
            cursor.execute(f"DROP TRIGGER IF EXISTS {name}")


def create_triggers(*, using: str, **_: Any) -> None:
    """Put the triggers in place, if the table is there."""
    connection = connections[using]
    if connection.vendor != "sqlite":
        return
    with connection.cursor() as cursor:
        if TABLE not in connection.introspection.table_names(cursor):
            return
        for name, event in zip(NAMES, ("INSERT", "UPDATE"), strict=True):
            cursor.execute(
                TRIGGER.format(name=name, event=event, table=TABLE, message=MESSAGE)
            )
