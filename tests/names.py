"""Names that people could give and that code might stumble over, for property tests."""

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
# Of letters PostgreSQL does not store these two kinds.
LETTERS = st.characters(exclude_characters="\0", exclude_categories=["Cs"])
NAMES = st.lists(
    st.one_of(st.sampled_from(AWKWARD), st.text(LETTERS, min_size=1, max_size=9)),
    min_size=1,
    max_size=3,
).map(lambda parts: "".join(parts)[:60])


def call_everything(studio: Studio, name: str) -> None:
    """Call all that a studio has by one name; only kilns and glasses must differ."""
    for model in (Kiln, Glass):
        for number, row in enumerate(model.owned.for_studio(studio).order_by("pk")):
            model.owned.for_studio(studio).filter(pk=row.pk).update(
                name=name + "’" * number
            )
    Piece.owned.for_studio(studio).update(title=name)
    Booking.owned.for_studio(studio).update(title=name)
    Sheet.owned.for_studio(studio).update(set_aside_reason=name)
    Closure.owned.for_studio(studio).update(reason=name)
    Person.objects.filter(memberships__studio=studio).update(name=name)
