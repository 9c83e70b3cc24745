"""Sections and warnings that higher apps add to the studio's own pages.

Dependencies point downwards, yet Today and a piece's page must show firings and money.
So a higher app registers a function here when it starts, and the page calls whatever is
registered. The page stays whole without scripts, and this app imports none above.
"""

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from typing import Any, TypeVar

from studio.models import Closure, Piece
from studio.selectors.pieces import PieceView, open_work
from studio.viewer import Viewer


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """A section of a page: a template and what it needs. Lowest `order` first.

    `action` is the address and the verb of the next step it asks for. A piece's page
    shows the first one on top, where the thumb is, unless the bench has one of its own.
    """

    template: str
    context: dict[str, Any] = field(default_factory=dict)
    order: int = 50
    action: tuple[str, str] | None = None


# Ranks up to this one wait for a hand now, before whatever has an hour.
NOW = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class TodayItem:
    """One thing to do, in the one list of Today.

    `what` says it with its verb; `verb` is what its button says, where the viewer may do
    it. What must be done by an hour comes first, by that hour; the rest by `rank`.
    `piece` is shown by its picture, `curve` is a firing's in miniature. What can be done
    without another page has `done`: its button's word, the address that takes the POST,
    and the fields.
    """

    what: str
    href: str
    verb: str = ""
    by: datetime | None = None
    rank: int = 50
    note: str = ""
    state: str = ""
    kind: str = ""
    warning: str = ""
    piece: int | None = None
    curve: object = None
    done: tuple[str, str, dict[str, str]] | None = None
    timer: tuple[str, str, str] | None = None
    """What its timer is for, the address that starts it, and the key of the task."""


Found = TypeVar("Found")


@dataclass(frozen=True, kw_only=True)
class PanelRequest:
    """Who is looking at the page, and when; what several sections need is read once."""

    viewer: Viewer
    now: datetime
    shared: dict[Hashable, Any] = field(default_factory=dict, compare=False)

    def once(self, read: Callable[["PanelRequest"], Found]) -> Found:
        """Return what a function reads for this page, read only the first time."""
        if read not in self.shared:
            self.shared[read] = read(self)
        found: Found = self.shared[read]
        return found

    @cached_property
    def open_pieces(self) -> list[PieceView]:
        """Return every piece with work left, newest first, for what is left to do."""
        return open_work(self.viewer.studio)


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchHit:
    """Something found by its name; a picture's address, or a firing's curve."""

    title: str
    href: str
    note: str = ""
    picture: str = ""
    curve: object = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchGroup:
    """What was found of one kind, the best first."""

    title: str
    hits: tuple[SearchHit, ...]


SearchProvider = Callable[[PanelRequest, Sequence[str]], SearchGroup]

TodayProvider = Callable[[PanelRequest], list[Panel]]
TodayItemsProvider = Callable[[PanelRequest], list[TodayItem]]
# By when each of some pieces wants its paint, and why, by the piece's key.
PaintProvider = Callable[
    [PanelRequest, Sequence[Piece]], dict[int, tuple[datetime, str]]
]
PieceProvider = Callable[[PanelRequest, Piece], list[Panel]]

# The next step of each of some painted passes: address and verb, by the pass's key.
BurnProvider = Callable[[PanelRequest, Sequence[int]], dict[int, tuple[str, str]]]

StyleGuideProvider = Callable[[str], Panel]

ClosureProvider = Callable[[PanelRequest, Closure], list[str]]

SettingsProvider = Callable[[PanelRequest], list[Panel]]

# What higher apps say of each of some pieces, by its key.
PieceWordsProvider = Callable[[PanelRequest, Sequence[Piece]], dict[int, str]]

_closure: list[ClosureProvider] = []
_style_guide: list[StyleGuideProvider] = []
_settings: list[SettingsProvider] = []
_today: list[TodayProvider] = []
_today_items: list[TodayItemsProvider] = []
_paint: list[PaintProvider] = []
_burn: list[BurnProvider] = []
_search: list[SearchProvider] = []
_piece: list[PieceProvider] = []
_kiln: list[PieceWordsProvider] = []
_inspection: list[PieceWordsProvider] = []


def on_today(provider: TodayProvider) -> TodayProvider:
    """Register a provider of sections above the list of Today."""
    _today.append(provider)
    return provider


def on_today_items(provider: TodayItemsProvider) -> TodayItemsProvider:
    """Register a provider of things to do today."""
    _today_items.append(provider)
    return provider


def today_items(asked: PanelRequest) -> list[TodayItem]:
    """Return what higher apps have to do today."""
    return [item for provider in _today_items for item in provider(asked)]


def on_search(provider: SearchProvider) -> SearchProvider:
    """Register a provider of what has certain words in its name."""
    _search.append(provider)
    return provider


def search_groups(asked: PanelRequest, words: Sequence[str]) -> list[SearchGroup]:
    """Return what was found, without the kinds of which there is nothing."""
    found = [provider(asked, words) for provider in _search]
    return [group for group in found if group.hits]


def on_paint(provider: PaintProvider) -> PaintProvider:
    """Register a provider of hours by which pieces want their paint."""
    _paint.append(provider)
    return provider


def paint_hours(
    asked: PanelRequest, pieces: Sequence[Piece]
) -> dict[int, tuple[datetime, str]]:
    """Return by when each piece wants its paint, and why."""
    found: dict[int, tuple[datetime, str]] = {}
    for provider in _paint:
        found |= provider(asked, pieces)
    return found


def on_burn(provider: BurnProvider) -> BurnProvider:
    """Register a provider of the way into the kiln for painted passes."""
    _burn.append(provider)
    return provider


def burn_actions(
    asked: PanelRequest, passes: Sequence[int]
) -> dict[int, tuple[str, str]]:
    """Return the address and the verb of the next step of each of these passes."""
    found: dict[int, tuple[str, str]] = {}
    for provider in _burn if passes else ():
        found |= provider(asked, passes)
    return found


def on_piece(provider: PieceProvider) -> PieceProvider:
    """Register a provider of sections for a piece's page."""
    _piece.append(provider)
    return provider


def on_settings(provider: SettingsProvider) -> SettingsProvider:
    """Register a provider of sections for the studio's settings."""
    _settings.append(provider)
    return provider


def settings_panels(asked: PanelRequest) -> list[Panel]:
    """Return the added sections of the settings in order."""
    found = [panel for provider in _settings for panel in provider(asked)]
    return sorted(found, key=lambda panel: panel.order)


def on_closure(provider: ClosureProvider) -> ClosureProvider:
    """Register a provider of sentences about what a closure gets in the way of."""
    _closure.append(provider)
    return provider


def closure_warnings(asked: PanelRequest, closure: Closure) -> list[str]:
    """Return what falls into the time of a closure, one sentence each."""
    return [told for provider in _closure for told in provider(asked, closure)]


def on_kiln(provider: PieceWordsProvider) -> PieceWordsProvider:
    """Register a provider of what is known of the kilns that hold pieces."""
    _kiln.append(provider)
    return provider


def on_inspection(provider: PieceWordsProvider) -> PieceWordsProvider:
    """Register a provider of what to know before a piece is inspected."""
    _inspection.append(provider)
    return provider


def kiln_words(asked: PanelRequest, pieces: Sequence[Piece]) -> dict[int, str]:
    """Return what is known of the kiln that holds each piece."""
    return _said(_kiln, asked, pieces)


def inspection_warnings(asked: PanelRequest, pieces: Sequence[Piece]) -> dict[int, str]:
    """Return what is to be known before each piece is inspected, where there is any."""
    return _said(_inspection, asked, pieces)


def _said(
    providers: Sequence[PieceWordsProvider],
    asked: PanelRequest,
    pieces: Sequence[Piece],
) -> dict[int, str]:
    found: dict[int, str] = {}
    for provider in providers if pieces else ():
        found |= provider(asked, pieces)
    return found


def on_style_guide(provider: StyleGuideProvider) -> StyleGuideProvider:
    """Register a provider of samples; it is given the start of its ids."""
    _style_guide.append(provider)
    return provider


def style_guide_panels(key: str) -> list[Panel]:
    """Return the style guide's added sections in order; their ids start with `key`."""
    found = [provider(key) for provider in _style_guide]
    return sorted(found, key=lambda panel: panel.order)


def today_panels(asked: PanelRequest) -> list[Panel]:
    """Return Today's added sections in order."""
    found = [panel for provider in _today for panel in provider(asked)]
    return sorted(found, key=lambda panel: panel.order)


def piece_panels(asked: PanelRequest, piece: Piece) -> list[Panel]:
    """Return a piece page's added sections in order."""
    found = [panel for provider in _piece for panel in provider(asked, piece)]
    return sorted(found, key=lambda panel: panel.order)
