"""Search by name over what this studio has, in one field."""

from collections.abc import Sequence

from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from studio.http import StudioRequest, render_page, requires, viewer_for
from studio.panels import PanelRequest, SearchGroup, SearchHit, search_groups
from studio.roles import Can
from studio.selectors.named import MOST_HITS, has_words, typed_words
from studio.selectors.pictures import looks_of_pieces
from studio.selectors.pieces import piece_titles


@require_safe
@requires(Can.SEE_WORK)
def search(request: StudioRequest) -> HttpResponse:
    """Show what has these words in its name, by kind; nothing without words."""
    words = typed_words(request.GET.get("q", ""))
    asked = PanelRequest(viewer=viewer_for(request), now=timezone.now())
    context = {
        "typed": " ".join(words),
        "groups": _found(asked, words) if words else [],
    }
    return render_page(request, "studio/search.html", context)


def _found(asked: PanelRequest, words: Sequence[str]) -> list[SearchGroup]:
    own = pieces_named(asked, words)
    return [*([own] if own.hits else []), *search_groups(asked, words)]


def pieces_named(asked: PanelRequest, words: Sequence[str]) -> SearchGroup:
    """Return the pieces with these words in their titles."""
    studio = asked.viewer.studio
    found = list(piece_titles(studio).filter(has_words(words, "title"))[:MOST_HITS])
    looks = looks_of_pieces(studio, [piece.pk for piece in found])
    return SearchGroup(
        title="Pieces",
        hits=tuple(
            SearchHit(
                title=piece.title,
                href=reverse("studio:piece_detail", args=[piece.pk]),
                picture=looks.get(piece.pk, ""),
            )
            for piece in found
        ),
    )
