"""How log lines are written: without anybody's private link.

Whoever has a client's link can open and accept a quote; whoever has a password's, can
sign in. Logs are read by more people, and kept longer, than a link should be.
"""

import logging
import logging.config
import re
import traceback
from textwrap import indent
from typing import Any
from urllib.parse import unquote

# What an address may spell in another way: /, -, _, digits and letters.
_SPELT = re.compile(r"%(?:2[df]|3\d|[46][1-9a-f]|5[0-9af]|7[0-9a])", re.IGNORECASE)
# Addresses whose rest is a secret.
_LINKS = (
    r"(/c/)[\w%.~-]{8,}",
    r"(/(?:password/new|invitations?|messages/(?:letters/)?stop|calendar)/)[^\s\"'<>]+",
)
# And whatever else looks like one of our tokens: long, with letters of both sizes.
_TOKEN = r"()\b(?=[\w-]*[a-z])(?=[\w-]*[A-Z])[\w-]{40,}"
SECRETS = [
    *(re.compile(pattern, re.IGNORECASE) for pattern in _LINKS),
    re.compile(_TOKEN),
]


def without_secrets(text: str) -> str:
    """Return a text with every private link and token shortened, however it is spelt."""
    text = _SPELT.sub(lambda spelt: unquote(spelt[0]), text)
    for secret in SECRETS:
        text = secret.sub(r"\1...", text)
    return text


class PrivateRecord(logging.LogRecord):
    """A line for the log that tells no secret, whoever writes and formats it."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.exc_info and self.exc_info[1] is not None:
            # Formatters write this as it is, and make no text of their own.
            told = "".join(traceback.format_exception(self.exc_info[1]))
            # Set in, so that no line of it looks like an entry of its own.
            self.exc_text = indent(without_secrets(told.rstrip()), "  ")

    def getMessage(self) -> str:  # noqa: N802 - the name it has in logging
        """Return the message as it goes into any log."""
        return _in_one_line(without_secrets(super().getMessage()))


def _in_one_line(text: str) -> str:
    """Return a text whose line ends are written out: what is sent forges no entry."""
    return "".join(c if c.isprintable() else repr(c)[1:-1] for c in text)


def set_up(config: dict[str, Any]) -> None:
    """Set logging up for the whole process: a web server's and a worker's own lines too."""
    logging.setLogRecordFactory(PrivateRecord)
    logging.config.dictConfig(config)
