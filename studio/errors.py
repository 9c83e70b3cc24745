"""The root of the errors that a person may read: every message says what to do.

Pure: no framework. Doors (views, tasks, commands) turn these into a form error or a
409; anything else that is raised is a fault of the program.
"""


class StudioError(Exception):
    """Something a person asked for cannot be done as asked."""

    def __init__(self, message: str) -> None:
        super().__init__(message)
        self.message = message

    def __str__(self) -> str:
        return self.message


class Refused(StudioError):
    """A rule of the work refuses it: a kiln already taken, a glass that misfits."""
