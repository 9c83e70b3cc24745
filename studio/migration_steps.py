"""The steps by which databases were brought to the tables of this code.

Each app's tables are made in one step that replaces older ones; the names of those stay
in databases, backups and archives.
"""

from collections.abc import Collection

from django.db.migrations.loader import MigrationLoader

# App and name.
Step = tuple[str, str]
# The last state of the code that still holds the single steps.
STEPS_AT = "e875d96"
TOO_OLD = (
    "was made by an older version and lacks steps that this one no longer has. Nothing "
    f"was changed. Fetch that version (git checkout {STEPS_AT})"
)


def known_steps() -> set[Step]:
    """Return every step that this code has, or that one of its own replaces."""
    known: set[Step] = set()
    for step, migration in MigrationLoader(None).disk_migrations.items():
        known |= {step, *migration.replaces}
    return known


def is_half_way(taken: Collection[Step]) -> bool:
    """Return whether a database has some but not all of the steps replaced here."""
    for migration in MigrationLoader(None).disk_migrations.values():
        found = [step in taken for step in migration.replaces]
        if any(found) and not all(found):
            return True
    return False


def newer_steps(taken: Collection[Step]) -> list[Step]:
    """Return the steps of our apps that a database has taken and this code lacks."""
    known = known_steps()
    ours = {app for app, _ in known}
    return sorted(step for step in taken if step[0] in ours and step not in known)
