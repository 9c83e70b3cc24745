"""Names that people could give and code might stumble over, for property tests."""

from collections.abc import Callable
from typing import Any

from hypothesis import strategies as st

from firing.models import Booking
from studio.models import Closure, Glass, Kiln, Person, Piece, Sheet, Studio

AWKWARD = (
    "Heron | front loader",
    "Once more, again",
    "Layer 2 of Reed bed, pass 1",
    "piece:12",
    "kiln:1",
    "new",
    "“Bowls” in Heron (Tue 3 Mar 05:00)",
    "Ann works on Ebb by Bea",
    "in the kiln",
    "It does not fit",
    "a: b; c, d",
    'x\' OR "1"={}%s{0}',
    "\u200b",
    "  two   spaces ",
    "first\nsecond",
    "Ødegård 水 ελιά שלום 🦆",
    "0",
    "None",
)
# The name of a row by its number, and whether no other row may have it.
Call = Callable[..., str]
NAMED: dict[Any, str] = {
    Kiln: "name",
    Glass: "name",
    Piece: "title",
    Booking: "title",
    Sheet: "set_aside_reason",
    Closure: "reason",
}
# These are called differently in one studio.
APART = (Kiln, Glass)
# Of letters PostgreSQL does not store these two kinds.
LETTERS = st.characters(exclude_characters="\0", exclude_categories=["Cs"])
NAMES = st.lists(
    st.one_of(st.sampled_from(AWKWARD), st.text(LETTERS, min_size=1, max_size=9)),
    min_size=1,
    max_size=3,
).map(lambda parts: "".join(parts)[:60])


def call_everything(studio: Studio, call: Call) -> None:
    """Call all that a studio has what `call` says, row by row."""
    number = 0
    for model, field in NAMED.items():
        rows = model.owned.for_studio(studio).order_by("pk")
        for pk in rows.values_list("pk", flat=True):
            number += 1
            name = call(number, model in APART)
            model.owned.for_studio(studio).filter(pk=pk).update(**{field: name})
    for person in Person.objects.filter(memberships__studio=studio).order_by("pk"):
        number += 1
        Person.objects.filter(pk=person.pk).update(name=call(number))


def alike(name: str) -> Call:
    """Return one name for all that may be called the same."""
    return lambda number, apart=False: name + "’" * number if apart else name


def upwards(name: str) -> Call:
    """Return names in the order of the keys."""
    return lambda number, apart=False: f"{name}{number:03}"


def downwards(name: str) -> Call:
    """Return names against the order of the keys."""
    return lambda number, apart=False: f"{name}{999 - number}"
