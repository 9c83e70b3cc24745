"""The one rule for matching typed words with names."""

from collections.abc import Sequence

from django.db.models import Q

MOST_HITS = 20
MOST_LETTERS = 100


def typed_words(text: str) -> list[str]:
    """Return the words of a text typed to search by; none for a blank one."""
    # PostgreSQL stores no NUL, and refuses to look for one.
    return text.replace("\x00", "").strip()[:MOST_LETTERS].split()


def has_words(words: Sequence[str], *fields: str) -> Q:
    """Return the condition that each word is in one of the fields, in either case.

    No words let everything through.
    """
    condition = Q()
    for word in words:
        anywhere = Q()
        for field in fields:
            anywhere |= Q(**{f"{field}__icontains": word})
        condition &= anywhere
    return condition
