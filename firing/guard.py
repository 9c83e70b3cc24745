"""What the database itself guards with triggers, besides its constraints.

- SQLite's share of "never two bookings in one kiln": it has no exclusion constraints.
- A firing has the kiln of its booking and is cancelled with it, on both databases. When
  the booking changes its firing follows; any other value is refused.

Django rebuilds an SQLite table to change it and so drops its triggers, and no database
drops a column that a trigger names. So they are dropped before every migrate and put
back after it.
"""

from django.db import connections

BOOKINGS, FIRINGS = "firing_booking", "firing_firing"
MESSAGE = "one_booking_at_a_time_per_kiln"
AS_BOOKED = "firing_is_as_its_booking"

OVERLAP = """
CREATE TRIGGER {name} BEFORE {event} ON firing_booking
WHEN NEW.cancelled_at IS NULL AND EXISTS (
    SELECT 1 FROM firing_booking AS other
    WHERE other.kiln_id = NEW.kiln_id
      AND other.cancelled_at IS NULL
      AND other.id IS NOT NEW.id
      AND other.starts_at < NEW.ends_at
      AND NEW.starts_at < other.ends_at
)
BEGIN SELECT RAISE(ABORT, 'one_booking_at_a_time_per_kiln'); END
"""
AS_BOOKED_ON_SQLITE = """
CREATE TRIGGER {name} BEFORE {event} ON firing_firing
WHEN EXISTS (
    SELECT 1 FROM firing_booking AS booking
    WHERE booking.id = NEW.booking_id
      AND (booking.kiln_id IS NOT NEW.kiln_id
           OR booking.cancelled_at IS NOT NEW.cancelled_at)
)
BEGIN SELECT RAISE(ABORT, 'firing_is_as_its_booking'); END
"""
FOLLOW_ON_SQLITE = """
CREATE TRIGGER {name} AFTER {event} ON firing_booking
BEGIN
    UPDATE firing_firing SET kiln_id = NEW.kiln_id, cancelled_at = NEW.cancelled_at
    WHERE booking_id = NEW.id
      AND (kiln_id IS NOT NEW.kiln_id OR cancelled_at IS NOT NEW.cancelled_at);
END
"""
OF_BOOKING = "UPDATE OF kiln_id, cancelled_at"
OF_FIRING = "UPDATE OF booking_id, kiln_id, cancelled_at"
ON_SQLITE = (
    ("booking_overlap_on_insert", BOOKINGS, "INSERT", OVERLAP),
    ("booking_overlap_on_update", BOOKINGS, "UPDATE", OVERLAP),
    ("firing_as_booked_on_insert", FIRINGS, "INSERT", AS_BOOKED_ON_SQLITE),
    ("firing_as_booked_on_update", FIRINGS, OF_FIRING, AS_BOOKED_ON_SQLITE),
    ("firing_follows_booking", BOOKINGS, OF_BOOKING, FOLLOW_ON_SQLITE),
)

# The booking is locked while it is compared: it must not change before the commit.
FUNCTIONS = """
CREATE OR REPLACE FUNCTION firing_as_booked() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF TG_OP = 'UPDATE' AND NEW.booking_id = OLD.booking_id
            AND NEW.kiln_id = OLD.kiln_id
            AND NEW.cancelled_at IS NOT DISTINCT FROM OLD.cancelled_at THEN
        RETURN NEW;
    END IF;
    PERFORM 1 FROM firing_booking WHERE id = NEW.booking_id FOR SHARE;
    IF EXISTS (
        SELECT 1 FROM firing_booking WHERE id = NEW.booking_id
            AND (kiln_id <> NEW.kiln_id OR cancelled_at IS DISTINCT FROM NEW.cancelled_at)
    ) THEN
        RAISE EXCEPTION 'firing_is_as_its_booking' USING ERRCODE = 'integrity_constraint_violation';
    END IF;
    RETURN NEW;
END $$;
CREATE OR REPLACE FUNCTION firing_follows_booking() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    UPDATE firing_firing SET kiln_id = NEW.kiln_id, cancelled_at = NEW.cancelled_at
    WHERE booking_id = NEW.id
        AND (kiln_id <> NEW.kiln_id OR cancelled_at IS DISTINCT FROM NEW.cancelled_at);
    RETURN NULL;
END $$;
"""
AS_BOOKED_ON_POSTGRESQL = """
CREATE TRIGGER {name} BEFORE {event} ON firing_firing
FOR EACH ROW EXECUTE FUNCTION firing_as_booked()
"""
FOLLOW_ON_POSTGRESQL = """
CREATE TRIGGER {name} AFTER {event} ON firing_booking
FOR EACH ROW EXECUTE FUNCTION firing_follows_booking()
"""
ON_POSTGRESQL = (
    (
        "firing_as_booked",
        FIRINGS,
        f"INSERT OR {OF_FIRING}",
        AS_BOOKED_ON_POSTGRESQL,
    ),
    ("firing_follows_booking", BOOKINGS, OF_BOOKING, FOLLOW_ON_POSTGRESQL),
)


def drop_triggers(*, using: str, **_: object) -> None:
    """Drop the triggers, so that migrations may change the tables."""
    connection = connections[using]
    with connection.cursor() as cursor:
        there = connection.introspection.table_names(cursor)
        if connection.vendor == "sqlite":
            for name, *_rest in ON_SQLITE:
                cursor.execute(f"DROP TRIGGER IF EXISTS {name}")
        elif connection.vendor == "postgresql":
            for name, table, *_rest in ON_POSTGRESQL:
                if table in there:
                    cursor.execute(f"DROP TRIGGER IF EXISTS {name} ON {table}")


def create_triggers(*, using: str, **_: object) -> None:
    """Create the triggers, if the tables exist."""
    drop_triggers(using=using)
    connection = connections[using]
    with connection.cursor() as cursor:
        if not {BOOKINGS, FIRINGS} <= set(connection.introspection.table_names(cursor)):
            return
        if connection.vendor == "postgresql":
            cursor.execute(FUNCTIONS)
        triggers = ON_SQLITE if connection.vendor == "sqlite" else ON_POSTGRESQL
        for name, _table, event, text in triggers:
            cursor.execute(text.format(name=name, event=event))
