"""How log lines are written: without the links that let somebody in.

Whoever has a client's link can open and accept a quote; whoever has a link to set a
password, or to accept an invitation, can sign in as its person. Logs are read by more people, and kept longer, than
a link should be.
"""

import logging
import re

LINK = re.compile(r"(/c/|/invitation/|/password/new/\w+/)[\w-]{8,}")


class WithoutLinks(logging.Formatter):
    """Writes a line, and the traceback under it, with every private link shortened."""

    def format(self, record: logging.LogRecord) -> str:
        """Return the line as it goes into the log."""
        return LINK.sub(r"\1...", super().format(record))
