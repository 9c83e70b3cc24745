"""Names of a plan's kilns, people, pieces and layers."""

from collections import defaultdict
from collections.abc import Iterable, Sequence

from firing.plans.selectors.record import Record
from firing.plans.selectors.words import layer_words
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

    def load(self, items: Iterable[Record]) -> str:
        """Name the layers and pieces in a firing."""
        rows: dict[int, list[int]] = defaultdict(list)
        for item in items:
            rows[item["piece"]].append(self.layers.get(item["layer"], 0))
        return "; ".join(
            f"{self.piece(pk)}: {layer_words(numbers)}" for pk, numbers in rows.items()
        )

    def fill(self, items: Sequence[Record], kiln: int) -> str:
        """Say how much of the shelf a load covers."""
        shelf = self.kilns.get(kiln)
        if shelf is None:
            return ""
        area = sum(
            one.width_mm * one.height_mm
            for item in items
            if (one := self.pieces.get(item["piece"])) is not None
        )
        share = area / (shelf.shelf_width_mm * shelf.shelf_depth_mm)
        return f"{count_words(len(items), 'layer')}, {share * 100:.0f} % of the shelf"
