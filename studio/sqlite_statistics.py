"""Tells SQLite how many rows each of its indexes tells apart; PostgreSQL finds out itself.

Without that it takes a studio's index where a firing's would find the row at once.
"""

from django.db import connection

ROWS_LOOKED_AT = 1000


def look_at_indexes() -> None:
    """Have SQLite look at some rows of every index."""
    if connection.vendor != "sqlite":
        return
    with connection.cursor() as cursor:
        cursor.execute(f"PRAGMA analysis_limit={ROWS_LOOKED_AT}")
        cursor.execute("ANALYZE")
