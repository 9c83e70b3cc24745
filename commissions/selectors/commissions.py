"""Reads of commissions: the stage of each, what is next, and its money."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum

from django.db.models import OuterRef, Prefetch, Subquery

from commissions.models import (
    ClosedMoney,
    Commission,
    CommissionedPiece,
    Payment,
    Post,
    PromiseCheck,
    Quote,
    ShareLink,
)
from commissions.selectors.money import MoneyView, settled_words, view_money
from commissions.selectors.promise_checks import PromiseNews, news_of
from commissions.selectors.quotes import QuoteState, QuoteView, day_of, view_quotes
from commissions.selectors.rates import is_as_quoted
from commissions.selectors.work import CommissionWork
from studio.models import PieceEvent, PieceEventKind, Studio
from studio.selectors import pieces as piece_selectors
from studio.selectors.pieces import PieceView, in_work
from studio.stages import Stage
from studio.tenancy import StudioQuerySet


class CommissionStage(StrEnum):
    """The stage of a commission, in the order of the work; derived."""

    REQUEST = "request"
    QUOTED = "quoted"
    ACCEPTED = "accepted"
    LAYERS = "layers"
    FUSED = "fused"
    FINISHED = "finished"


STAGE_LABELS = {
    CommissionStage.REQUEST: "Request",
    CommissionStage.QUOTED: "Quoted",
    CommissionStage.ACCEPTED: "Accepted",
    CommissionStage.LAYERS: "Layers",
    CommissionStage.FUSED: "Fused and cooled",
    CommissionStage.FINISHED: "Finished",
}
STAGE_OF_PIECE = {
    Stage.PLANNED: CommissionStage.ACCEPTED,
    Stage.PAINTING: CommissionStage.LAYERS,
    Stage.READY_TO_STACK: CommissionStage.LAYERS,
    Stage.STACKED: CommissionStage.LAYERS,
    Stage.FINISHED: CommissionStage.FINISHED,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Loss:
    """A lost piece of a commission, and what was done about it."""

    row: CommissionedPiece
    view: PieceView

    @property
    def is_replaced(self) -> bool:
        """Return whether another piece is made instead."""
        return self.row.replaced_at is not None

    @property
    def is_told(self) -> bool:
        """Return whether the client was told; nobody is told of a lost maquette.

        What was told of a loss that was taken back says nothing of the next one.
        """
        told_at = self.row.loss_told_at
        is_of_this = told_at is not None and told_at >= self._event.at
        return is_of_this or self.row.is_maquette

    @property
    def reason(self) -> str:
        """Return how it was lost, as it was recorded."""
        return self._event.note

    @property
    def _event(self) -> PieceEvent:
        lost = [e for e in self.view.events if e.kind == PieceEventKind.LOST]
        return lost[-1]


@dataclass(frozen=True, slots=True, kw_only=True)
class CommissionView:
    """A commission with its quotes, pieces and money, read together."""

    commission: Commission
    quotes: tuple[QuoteView, ...]
    piece: PieceView | None
    maquette: PieceView | None
    money: MoneyView
    losses: "tuple[Loss, ...]" = ()

    @property
    def newest(self) -> QuoteView | None:
        return self.quotes[0] if self.quotes else None

    @property
    def accepted(self) -> QuoteView | None:
        return self._in_state(QuoteState.ACCEPTED)

    @property
    def waiting(self) -> QuoteView | None:
        """Return the quote that the client may answer."""
        return self._in_state(QuoteState.WAITING)

    @property
    def options(self) -> list[QuoteView]:
        """Return what the client may choose among; nothing where there is no choice."""
        found = [view for view in self.quotes if view.state is QuoteState.WAITING]
        return found if len(found) > 1 else []

    @property
    def contracts(self) -> list[QuoteView]:
        """Return the accepted quote and its accepted addenda in their order."""
        return [v for v in reversed(self.quotes) if v.state is QuoteState.ACCEPTED]

    @property
    def addendum(self) -> QuoteView | None:
        """Return the newest addendum to what is accepted that may be sent or answered."""
        accepted, newest = self.accepted, self.newest
        if accepted is None or newest is None:
            return None
        return newest if newest.quote.adds_to_id == accepted.quote.pk else None

    @property
    def is_changed_since_accepted(self) -> bool:
        """Return whether something else is asked for than what is accepted."""
        accepted = self.accepted
        return accepted is not None and not is_as_quoted(
            self.commission, accepted.quote
        )

    @property
    def wants_addendum(self) -> bool:
        """Return whether a change of accepted work still has to be put to the client."""
        if not self.is_changed_since_accepted or self.is_closed:
            return False
        addendum = self.addendum
        if addendum is None or addendum.state not in {
            QuoteState.DRAFT,
            QuoteState.WAITING,
        }:
            return True
        return not is_as_quoted(self.commission, addendum.quote)

    @property
    def shown_quote(self) -> QuoteView | None:
        """Return the quote whose price counts: accepted, else newest."""
        return self.accepted or self.newest

    @property
    def client_quote(self) -> QuoteView | None:
        """Return the quote that the client sees: accepted, else newest sent."""
        sent = [view for view in self.quotes if view.quote.sent_at]
        return self.accepted or (sent[0] if sent else None)

    @property
    def promise_news(self) -> PromiseNews | None:
        """Return whether the promised day of the quote that counts still holds."""
        shown = self.accepted or self.waiting
        return None if shown is None or self.is_made else news_of(shown.quote)

    @property
    def is_made(self) -> bool:
        """Return whether nothing more is to be made: finished or closed."""
        return self.is_closed or self.stage is CommissionStage.FINISHED

    @property
    def is_closed(self) -> bool:
        return self.commission.closed_at is not None

    @property
    def settled_words(self) -> str:
        """Say what became of the money of a closed commission."""
        commission, money = self.commission, self.money
        if not self.is_closed or not commission.closed_money:
            return ""
        return settled_words(
            commission, kept=money.paid - self.credit_left, currency=money.currency
        )

    @property
    def credit_left(self) -> Decimal:
        """Return what was credited when it was closed, and is not used yet."""
        commission = self.commission
        is_credit = commission.closed_money == ClosedMoney.CREDITED
        if commission.closed_at is None or not is_credit:
            return Decimal(0)
        used = (
            payment.amount
            for payment in commission.payments.all()
            if payment.amount < 0
            and payment.taken_back_at is None
            and payment.recorded_at > commission.closed_at
        )
        given = commission.closed_money_amount or Decimal(0)
        return max(given + sum(used, Decimal(0)), Decimal(0))

    @property
    def is_over(self) -> bool:
        """Return whether nothing is left to do: closed, or finished and paid."""
        is_done = self.stage is CommissionStage.FINISHED and self.money.open <= 0
        return self.is_closed or is_done

    @property
    def is_changed_since_quote(self) -> bool:
        """Return whether the newest quote was made from facts that have changed since."""
        if self.newest is None:
            return False
        return bool(
            self.newest.quote.inputs["work"]
            != CommissionWork.of(self.commission).as_json()
        )

    @property
    def stage(self) -> CommissionStage:
        if self.piece is not None:
            reached = in_work(self.piece).stage
            return STAGE_OF_PIECE.get(reached, CommissionStage.FUSED)
        if self.client_quote is not None:
            return CommissionStage.QUOTED
        return CommissionStage.REQUEST

    @property
    def stage_words(self) -> str:
        """Say its stage in a few words for the studio."""
        if self.is_closed:
            return "Closed"
        if self.is_over:
            return "Done"
        if self.piece is not None:
            return self.piece.stage_words
        return "Quoted" if self.stage is CommissionStage.QUOTED else "Request"

    @property
    def stage_kind(self) -> str:
        """Return the stage's shape for `_status.html`."""
        if self.is_closed:
            return "stopped"
        if self.piece is not None and self.piece.stage in {Stage.CRACKED, Stage.LOST}:
            return "problem"
        if self.piece is not None and self.piece.stage is Stage.IN_KILN:
            return "hot"
        return {
            CommissionStage.REQUEST: "planned",
            CommissionStage.QUOTED: "waiting",
            CommissionStage.FINISHED: "done",
        }.get(self.stage, "doing")

    @property
    def next_step(self) -> str:
        """Say what the studio has to do, or is waiting for."""
        if self.is_closed:
            return self.commission.closed_reason
        if self.is_over:
            return "Finished and paid"
        if self.piece is not None and self.piece.stage is Stage.LOST:
            return "Lost: start the remake"
        if self.piece is not None:
            return "Ask for what is due" if self.money.due_now else self._step_of_piece
        if self.newest is None:
            return "Make a quote"
        version = self.newest.quote.version
        return {
            QuoteState.DRAFT: f"Send quote {version}",
            QuoteState.WAITING: f"Wait for the answer to quote {version}",
            QuoteState.DECLINED: "Declined: make another quote, or close it",
            QuoteState.RUN_OUT: f"Quote {version} has expired: ask, or make another",
        }.get(self.newest.state, "Make a quote")

    @property
    def _step_of_piece(self) -> str:
        piece = self.piece
        if piece is None or piece.stage is Stage.FINISHED:
            return "Hand it over"
        if piece.stage in {Stage.PLANNED, Stage.PAINTING}:
            return f"{piece.done_count} of {len(piece.layers)} layers done"
        return piece.stage_words

    def _in_state(self, state: QuoteState) -> QuoteView | None:
        return next((view for view in self.quotes if view.state is state), None)


def commissions(studio: Studio) -> StudioQuerySet[Commission]:
    """Return the studio's commissions, newest first."""
    return (
        Commission.owned.for_studio(studio)
        .select_related(
            "client", "gallery", "glass", "reference", "studio", "created_by"
        )
        .order_by("-created_at", "-pk")
    )


def was_sent_before(studio: Studio, request_key: str) -> bool:
    """Return whether a form with this key already made a commission."""
    return (
        bool(request_key)
        and Commission.owned.for_studio(studio).filter(request_key=request_key).exists()
    )


def view_commissions(
    studio: Studio,
    found: StudioQuerySet[Commission],
    *,
    at: datetime,
    read: Sequence[PieceView] = (),
) -> list[CommissionView]:
    """Return views of several commissions in a fixed number of queries.

    Pieces that were `read` already are not read again; layers of others that are done
    come then as in `open_work`.
    """
    last = (
        PromiseCheck.across_studios.filter(quote=OuterRef("quote"))
        .order_by("-asked_at", "-pk")
        .values("pk")[:1]
    )
    rows: list[Commission] = list(
        found.prefetch_related(
            Prefetch(
                "quotes",
                queryset=Quote.across_studios.prefetch_related(
                    "instalments",
                    Prefetch(
                        "promise_checks",
                        queryset=PromiseCheck.across_studios.filter(
                            pk=Subquery(last)
                        ).select_related("job"),
                    ),
                )
                .defer("promise_facts", "paper")
                .order_by("-version", "-pk"),
            )
        )
        .prefetch_related(Prefetch("payments", queryset=Payment.across_studios.all()))
        .prefetch_related(
            Prefetch(
                "commissioned_pieces",
                queryset=CommissionedPiece.across_studios.all(),
            ),
        )
    )
    ids = {link.piece_id for row in rows for link in row.commissioned_pieces.all()}
    views = {view.piece.pk: view for view in read}
    if left := ids - views.keys():
        views |= pieces_by_id(studio, left, done_too=not read)
    today = day_of(studio, at)
    for row in rows:
        row.studio = studio
    return [_view(row, views, today) for row in rows]


def view_commission(commission: Commission, *, at: datetime) -> CommissionView:
    """Return one commission's view, read again."""
    studio = commission.studio
    found = commissions(studio).filter(pk=commission.pk)
    return view_commissions(studio, found, at=at)[0]


def credits_for(commission: Commission, *, at: datetime) -> list[CommissionView]:
    """Return the client's closed commissions with a credit in this one's currency."""
    studio = commission.studio
    closed = commissions(studio).filter(
        client=commission.client_id,
        closed_at__isnull=False,
        closed_money=ClosedMoney.CREDITED,
    )
    found = view_commissions(studio, closed, at=at) if closed.exists() else []
    own = view_commission(commission, at=at).money.currency if found else ""
    return [one for one in found if one.credit_left and one.money.currency == own]


def pieces_by_id(
    studio: Studio, ids: Iterable[int], *, done_too: bool = True
) -> dict[int, PieceView]:
    """Return views of pieces by their id."""
    found = piece_selectors.pieces(studio).filter(pk__in=list(ids))
    views = piece_selectors.view_pieces(found, done_too=done_too)
    return {view.piece.pk: view for view in views}


def _view(
    commission: Commission, pieces: dict[int, PieceView], today: date
) -> CommissionView:
    quotes = view_quotes(commission.quotes.all(), today=today)
    accepted = next((v.quote for v in quotes if v.quote.accepted_at), None)
    rows = sorted(commission.commissioned_pieces.all(), key=lambda row: row.pk)
    current = {r.is_maquette: pieces[r.piece_id] for r in rows if not r.replaced_at}
    piece, maquette = current.get(False), current.get(True)
    return CommissionView(
        commission=commission,
        quotes=quotes,
        piece=piece,
        maquette=maquette,
        money=view_money(
            accepted=accepted,
            payments=list(commission.payments.all()),
            # Nothing is due for work that will not be made.
            stage=None if piece is None or commission.closed_at else piece.stage,
            currency=commission.studio.currency,
        ),
        losses=tuple(
            Loss(row=row, view=pieces[row.piece_id])
            for row in rows
            if pieces[row.piece_id].stage is Stage.LOST
        ),
    )


def stage_steps(view: CommissionView) -> list[dict[str, str]]:
    """Return the six stages for `_stages.html`: done, now, still to come."""
    order = list(CommissionStage)
    now = order.index(view.stage)
    is_all_done = view.stage is CommissionStage.FINISHED
    return [
        {
            "label": STAGE_LABELS[stage],
            "state": (
                "done"
                if number < now or is_all_done
                else "now"
                if number == now
                else "next"
            ),
            "note": (view.next_step if number == now and not view.is_closed else ""),
        }
        for number, stage in enumerate(order)
    ]


def commission_of_piece(studio: Studio, piece_id: int) -> Commission | None:
    """Return the commission that a piece is made for, or none."""
    found: Commission | None = (
        commissions(studio).filter(commissioned_pieces__piece_id=piece_id).first()
    )
    return found


def payments(studio: Studio) -> StudioQuerySet[Payment]:
    """Return the studio's payments, including those taken back."""
    return (
        Payment.owned.for_studio(studio)
        .select_related(
            "commission__studio", "invoice__client", "studio", "recorded_by"
        )
        .order_by("received_date", "pk")
    )


def posts(studio: Studio) -> StudioQuerySet[Post]:
    """Return the studio's news for clients, newest first, including withdrawn ones."""
    return (
        Post.owned.for_studio(studio)
        .select_related("commission__studio", "by")
        .prefetch_related("pictures")
        .order_by("-at", "-pk")
    )


def share_links(studio: Studio) -> StudioQuerySet[ShareLink]:
    """Return the studio's share links, newest first."""
    return (
        ShareLink.owned.for_studio(studio)
        .select_related("commission__studio")
        .order_by("-made_at", "-pk")
    )
