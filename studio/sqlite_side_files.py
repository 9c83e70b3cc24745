"""Keeps SQLite's two side files in place while a process serves.

The last connection that closes removes them, and the next one must make them again: on a
full or read-only disk it cannot, and nothing could even be read. A connection that is
open and idle holds no lock.
"""

import sqlite3

from django.db import connection

_kept: list[sqlite3.Connection] = []


def keep_side_files() -> None:
    """Open the database once more, and leave it open."""
    if connection.vendor != "sqlite" or _kept:
        return
    opened = sqlite3.connect(
        connection.settings_dict["NAME"], check_same_thread=False, timeout=20
    )
    # Opening alone touches no file.
    opened.execute("SELECT count(*) FROM sqlite_master")
    _kept.append(opened)
