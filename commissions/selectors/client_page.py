"""What the client's page shows: the stage in plain words, the layers, news, pictures.

Nothing private to the studio comes through here: no costs, notes, people or history.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from django.db.models import Q

from commissions.models import Commission, Post
from commissions.selectors.commissions import CommissionView, view_commission
from commissions.selectors.quotes import QuoteState, QuoteView
from commissions.selectors.work import CommissionWork
from firing.loads.selectors.firings import running_firing_of
from firing.loads.selectors.known import Known, known_of
from firing.models import Firing
from studio.drawings.depth_view import DepthView
from studio.drawings.edge_view import EdgeLayer, EdgeView, build_edge_view
from studio.models import Picture, Technique
from studio.selectors.depth import depth_of
from studio.selectors.edges import BAND_STATES
from studio.selectors.pieces import PieceView, in_work
from studio.stages import Stage
from studio.tenancy import StudioQuerySet
from studio.viewer import Viewer

# A kiln this close to the hottest of its plan is not cooling yet [K].
HOT_K = 20.0
WORDS_OF_STAGE = {
    Stage.PLANNED: "You have accepted. Work on your piece starts next.",
    Stage.READY_TO_STACK: "All layers are done. Next they are stacked.",
    Stage.STACKED: "The layers are stacked and checked, ready for the kiln.",
    Stage.TACKED: "The layers hold together. Next they are fused into one block.",
    Stage.FIRE_AGAIN: "Your piece goes into the kiln once more.",
    # What went wrong is told by the maker, never by this page.
    Stage.CRACKED: "Your piece is out of the kiln and is being inspected.",
    Stage.LOST: "Your piece was lost in the making. The studio will write to you.",
    Stage.STOPPED: "This commission is closed.",
    Stage.TO_INSPECT: "Your piece is out of the kiln and is being inspected.",
    Stage.FINISHED: "Your piece is finished.",
}
# What comes after that, where there is something to come.
NEXT_OF_STAGE = {
    Stage.PLANNED: "painting the first layers",
    Stage.PAINTING: "stacking and fusing",
    Stage.READY_TO_STACK: "stacking",
    Stage.STACKED: "fusing",
    Stage.TACKED: "fusing",
    Stage.IN_KILN: "unloading and inspection",
    Stage.TO_INSPECT: "inspection and finishing",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ClientPage:
    """Everything on the page of one commission."""

    view: CommissionView
    sentence: str
    next_step: str
    edge: EdgeView | None
    depth: DepthView | None
    posts: tuple[Post, ...]
    pictures: tuple[Picture, ...]
    work: CommissionWork

    @property
    def quote(self) -> QuoteView | None:
        return self.view.client_quote

    @property
    def to_answer(self) -> QuoteView | None:
        """Return the quote, or the addendum to it, that waits for the client's answer."""
        return None if self.view.is_closed else self.view.waiting


def is_all_answered(commission: Commission, *, at: datetime) -> bool:
    """Return whether something is accepted and nothing else waits for an answer."""
    view = view_commission(commission, at=at)
    return view.accepted is not None and view.waiting is None


def client_page(
    commission: Commission,
    *,
    viewer: Viewer,
    at: datetime,
    address: Callable[[Picture], str],
) -> ClientPage:
    """Gather the client's page; `address` is where a picture is sent to them."""
    view = _as_told(view_commission(commission, at=at))
    quote = view.client_quote
    posts = tuple(shown_posts(commission).prefetch_related("pictures"))
    in_posts = {picture.pk for post in posts for picture in post.pictures.all()}
    seen = list(client_pictures(commission))
    piece = None if has_secret(view) else view.piece
    depth = (
        None
        if piece is None
        else depth_of(piece, seen, address=address, has_titles=False)
    )
    has_depth = depth is not None and depth.has_pictures
    return ClientPage(
        view=view,
        sentence=sentence(view, viewer=viewer, at=at),
        next_step=next_step(view),
        edge=None if piece is None or has_depth else edge_of(piece, key="piece"),
        depth=depth if has_depth else None,
        posts=posts,
        pictures=tuple(
            picture
            for picture in seen
            if picture.pk not in in_posts
            and not (has_depth and picture.layer_id is not None)
        ),
        work=(
            CommissionWork.of(commission)
            if quote is None
            else CommissionWork.from_json(quote.quote.inputs["work"])
        ),
    )


def has_secret(view: CommissionView) -> bool:
    """Return whether a piece is lost that the client was not told about yet."""
    return any(not loss.is_told for loss in view.losses)


def _as_told(view: CommissionView) -> CommissionView:
    """Return the commission as the client knows it: a lost piece as before its loss."""
    secret = next((loss for loss in view.losses if not loss.is_told), None)
    return view if secret is None else replace(view, piece=in_work(secret.view))


def shown_posts(commission: Commission) -> StudioQuerySet[Post]:
    """Return the news that the client may read, newest first."""
    found: StudioQuerySet[Post] = Post.owned.for_studio(commission.studio)
    return found.filter(commission=commission, withdrawn_at__isnull=True).order_by(
        "-at", "-pk"
    )


def client_pictures(commission: Commission) -> StudioQuerySet[Picture]:
    """Return the pictures that the client may see, newest first: nobody else's."""
    posted = shown_posts(commission).values("pictures")
    ids = commission.commissioned_pieces.values("piece_id")
    of_pieces = Q(piece_id__in=ids, is_shown_to_client=True)
    found: StudioQuerySet[Picture] = Picture.owned.for_studio(commission.studio)
    return found.filter(Q(pk__in=posted) | of_pieces).order_by("-at", "-pk")


def pictures_of_pieces(commission: Commission) -> StudioQuerySet[Picture]:
    """Return every picture of the commission's pieces, to choose from for news."""
    ids = commission.commissioned_pieces.values("piece_id")
    found: StudioQuerySet[Picture] = Picture.owned.for_studio(commission.studio)
    of_them = found.filter(piece_id__in=ids).select_related("piece", "layer")
    return of_them.order_by("-at", "-pk")


def edge_of(piece: PieceView, *, key: str, large: bool = True) -> EdgeView:
    """Return the stack from its edge, without links and without the layers' names."""
    return build_edge_view(
        [
            EdgeLayer(
                number=layer.number,
                thickness_mm=layer.layer.glass.sheet_thickness_mm,
                state=BAND_STATES[layer.state],
            )
            for layer in piece.layers
        ],
        key=key,
        large=large,
        fused=piece.is_fused,
    )


def sentence(view: CommissionView, *, viewer: Viewer, at: datetime) -> str:
    """Say in one or two sentences how far the client's piece is."""
    if view.is_closed:
        return "This commission is closed. Please ask the studio if you have questions."
    if view.piece is None:
        return _quote_sentence(view.client_quote)
    if has_secret(view):
        return "Your piece is being made. We will write to you."
    again = any(loss.is_replaced and not loss.row.is_maquette for loss in view.losses)
    first = "Your first piece was lost, and it is being made again. " if again else ""
    return first + _piece_sentence(view, view.piece, viewer, at)


def next_step(view: CommissionView) -> str:
    """Say what comes next; nothing when that is not the client's to know."""
    if view.is_closed or has_secret(view):
        return ""
    if view.waiting is not None:
        return f"your answer, by {view.waiting.quote.valid_until_date:%A %-d %B %Y}"
    return "" if view.piece is None else NEXT_OF_STAGE.get(view.piece.stage, "")


def _piece_sentence(
    view: CommissionView, piece: PieceView, viewer: Viewer, at: datetime
) -> str:
    trial = view.maquette
    if piece.stage is Stage.PLANNED and trial is not None and not trial.is_closed:
        return (
            "The maquette, a smaller trial, is being made first: "
            f"{_layers_done(trial)}."
        )
    if piece.stage is Stage.PAINTING:
        return f"Your piece is being painted: {_layers_done(piece)}."
    if piece.stage is Stage.IN_KILN:
        return _kiln_sentence(piece, viewer, at)
    return WORDS_OF_STAGE[piece.stage]


def _quote_sentence(quote: QuoteView | None) -> str:
    if quote is None:
        return "We are preparing your quote. It will appear here."
    return {
        QuoteState.WAITING: "Your quote is ready. Please read it and answer below.",
        QuoteState.RUN_OUT: "This quote has expired. Please ask us for a new one.",
        QuoteState.DECLINED: "You have declined the quote. Thank you for your answer.",
    }.get(quote.state, "We are preparing a new quote. It will appear here.")


def _layers_done(piece: PieceView) -> str:
    """Count the finished layers with an image; a clear cap is never in the making."""
    images = [x for x in piece.layers if x.layer.technique != Technique.CLEAR]
    done = sum(x.is_done for x in images)
    kind = str(images[0].layer.get_technique_display()).lower() if images else ""
    return f"{done} of {len(images)} {kind} layers are done"


def _kiln_sentence(piece: PieceView, viewer: Viewer, at: datetime) -> str:
    firing = running_firing_of(piece.piece)
    if firing is None:
        return "Your piece is in the kiln."
    known = known_of(piece.piece.studio, [firing], now=at)[firing.pk]
    if known.is_cold:
        return "Your piece is in the kiln, which should be cool by now and opens next."
    is_cooling = _is_cooling(firing, known, at)
    doing = "cooling in the kiln" if is_cooling else "being fused"
    if known.is_due:
        return f"Your piece is {doing}. The kiln stays closed until it is cool."
    when = viewer.moment(known.about, at)
    return f"Your piece is {doing}. The kiln stays closed until about {when}."


def _is_cooling(firing: Firing, known: Known, at: datetime) -> bool:
    """Return whether a firing is past the hottest part of its plan, and not hotter."""
    curve = firing.booking.planned_curve
    if not curve or firing.started_at is None:
        return False
    hottest = max(celsius for _, celsius in curve)
    last_hot_s = max(seconds for seconds, celsius in curve if celsius == hottest)
    is_past = at >= firing.started_at + timedelta(seconds=last_hot_s)
    is_still_hot = (
        known.last is not None and known.last.temperature_c >= hottest - HOT_K
    )
    return is_past and not is_still_hot
