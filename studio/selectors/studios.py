"""Finds a studio for whoever runs the server."""

from studio.errors import Refused
from studio.models import Studio


def find_studio(asked: str) -> Studio:
    """Return the studio of a name or number.

    Raises
    ------
    Refused
        When there is none, or several share the name; the message lists them.
    """
    if asked.isascii() and asked.isdigit():
        found = list(Studio.objects.filter(pk=int(asked)))
    else:
        found = list(Studio.objects.filter(name=asked.strip()))
    if len(found) == 1:
        return found[0]
    there = Studio.objects.order_by("name", "pk")
    names = ", ".join(f"{one.pk} {one.name}" for one in there) or "none at all"
    if found:
        raise Refused(f"Several studios are called that. Say a number: {names}.")
    raise Refused(f"There is no studio {asked!r}. There are: {names}.")
