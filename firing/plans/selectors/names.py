"""Names of a plan's kilns, people, pieces and layers."""

from collections.abc import Iterable, Sequence

from firing.loads.selectors.names import firing_name
from firing.plans.selectors.record import Record
from studio.models import Kiln, Layer, Person, Piece, Studio
from studio.viewer import count_words


class Names:
    """Names of kilns, people, pieces and layers, read once for a page.

    `pieces` are the keys of those that are to be named; every piece without them.
    """

    def __init__(self, studio: Studio, pieces: Iterable[int] | None = None) -> None:
        named = Piece.owned.for_studio(studio)
        layers = Layer.owned.for_studio(studio)
        if pieces is not None:
            keys = set(pieces)
            named, layers = named.filter(pk__in=keys), layers.filter(piece__in=keys)
        self.kilns = {kiln.pk: kiln for kiln in Kiln.owned.for_studio(studio)}
        self.pieces = {one.pk: one for one in named}
        self.people: dict[int, str] = {
            person.pk: str(person)
            for person in Person.objects.filter(memberships__studio=studio)
        }
        self.layers = dict(layers.values_list("pk", "number").order_by("pk"))

    def piece(self, pk: int) -> str:
        found = self.pieces.get(pk)
        return str(found) if found is not None else "A piece that is gone"

    def kiln(self, pk: int) -> str:
        found = self.kilns.get(pk)
        return str(found) if found is not None else "a kiln that is gone"

    def firing(self, kind: str, items: Iterable[Record]) -> str:
        """Name a firing by what is in it; an item without a layer is a stack."""
        rows = [(self.piece(item["piece"]), item.get("layer")) for item in items]
        return firing_name(
            kind,
            stacks=[title for title, layer in rows if layer is None],
            layers=[
                (title, self.layers.get(layer, 0))
                for title, layer in rows
                if layer is not None
            ],
        )

    def fill(self, items: Sequence[Record], kiln: int) -> str:
        """Say how much of the shelf a load covers."""
        shelf = self.kilns.get(kiln)
        if shelf is None:
            return ""
        return fill_words([self.pieces.get(item["piece"]) for item in items], shelf)


def fill_words(sheets: Sequence[Piece | None], kiln: Kiln) -> str:
    """Say how much of a shelf sheets of these pieces cover; one may be gone."""
    area = sum(one.width_mm * one.height_mm for one in sheets if one is not None)
    share = area / (kiln.shelf_width_mm * kiln.shelf_depth_mm)
    return f"{count_words(len(sheets), 'layer')}, {share * 100:.0f} % of the shelf"
