"""What SQLite knows of its indexes."""

import pytest
from django.db import connection

from studio.sqlite_statistics import look_at_indexes
from tests import make


@pytest.mark.django_db
def test_sqlite_is_told_how_much_an_index_tells_apart(cast):
    make.piece(studio=cast.studio, glass=cast.glass, title="Low water")
    look_at_indexes()
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("SELECT stat FROM sqlite_stat1 WHERE tbl = 'studio_piece'")
            assert cursor.fetchall()
