"""The one rule for matching typed words with names."""

from collections.abc import Sequence

from django.db.models import Q

MOST_HITS = 20


def has_words(words: Sequence[str], *fields: str) -> Q:
    """Return the condition that each word is in one of the fields, in either case."""
    condition = Q()
    for word in words:
        anywhere = Q()
        for field in fields:
            anywhere |= Q(**{f"{field}__icontains": word})
        condition &= anywhere
    return condition
