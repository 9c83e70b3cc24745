"""The root of the errors that people may read: every message says what to do.

Pure: no framework. Views, tasks and commands turn these into a form error or a 409; any
other exception is a fault of the program.
"""


class StudioError(Exception):
    """Something somebody asked for cannot be done as asked."""

    def __init__(self, message: str) -> None:
        super().__init__(message)
        self.message = message

    def __str__(self) -> str:
        return self.message


class Refused(StudioError):
    """A rule of the work refuses it: a kiln already taken, glass that does not match."""
