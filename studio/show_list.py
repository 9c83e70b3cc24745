"""A list of works for a show, with wall labels: its words, their hash, its paper."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass

from studio.documents import PaperKey, words_sha256
from studio.models import PieceEventKind, Studio
from studio.selectors.finished import Work, works
from studio.selectors.piece_record import edition_words, final_size_words
from studio.selectors.pieces import PieceView, finished_pieces, view_pieces
from studio.viewer import Viewer, count_words

KIND = "list of works"
TEMPLATE = "pdf/show_list.html"
RENDER_JOB = "studio.render_show_list"
# Raise this when the paper's layout changes, so that papers are made again.
LAYOUT = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedWork:
    """The words of one work on the list and on its wall label."""

    title: str
    maker: str
    year: str
    made_of: str
    size: str
    edition: str
    price: str
    picture: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ShowList:
    """Every text on the list, already written out."""

    title: str
    studio_name: str
    works: tuple[ListedWork, ...]
    has_prices: bool
    has_labels: bool
    size: str
    is_demo: bool

    @property
    def sha256(self) -> str:
        """Return the hash under which the PDF is filed."""
        return words_sha256(asdict(self), layout=LAYOUT)


def made_of_words(view: PieceView) -> str:
    """Say what a work is: "Kiln-formed glass, 20 layers, painted and decal"."""
    techniques = dict.fromkeys(
        one.layer.get_technique_display().lower()
        for one in view.layers
        if one.layer.planned_passes
    )
    words = f"Kiln-formed glass, {count_words(len(view.layers), 'layer')}"
    return f"{words}, {' and '.join(techniques)}" if techniques else words


def show_list(
    studio: Studio,
    pieces: Sequence[int],
    *,
    title: str,
    has_prices: bool,
    has_labels: bool,
) -> ShowList:
    """Write the list of some of a studio's finished works."""
    viewer = Viewer.of_studio(studio)
    views = view_pieces(finished_pieces(studio).filter(pk__in=pieces))
    by_key = {view.piece.pk: view for view in views}
    found = works(studio, [view.piece for view in views])
    return ShowList(
        title=title,
        studio_name=studio.name,
        works=tuple(
            _listed(one, by_key[one.piece.pk], viewer, has_prices=has_prices)
            for one in sorted(found, key=lambda one: one.piece.title.casefold())
        ),
        has_prices=has_prices,
        has_labels=has_labels,
        size=studio.paper_size,
        is_demo=studio.is_demo,
    )


def _listed(
    work: Work, view: PieceView, viewer: Viewer, *, has_prices: bool
) -> ListedWork:
    piece, record = work.piece, work.record
    ends = [one.at for one in view.events if one.kind == PieceEventKind.FINISHED]
    price = "on request"
    if record.value is not None:
        price = viewer.money(record.value)
    return ListedWork(
        title=piece.title,
        maker=str(piece.maker or piece.studio.name),
        year=str(ends[-1].astimezone(viewer.zone).year) if ends else "",
        made_of=made_of_words(view),
        size=final_size_words(view, record, viewer),
        edition=edition_words(record),
        price=price if has_prices else "",
        picture=f"slowcool:media/{piece.face.name}" if piece.face else "",
    )


def list_key(studio: Studio, paper: ShowList) -> PaperKey:
    """Return the key of a list with these words."""
    return PaperKey(studio=studio, kind=KIND, subject_id=studio.pk, sha256=paper.sha256)
