"""What to do about commissions today: answers, payments, quotes to make."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from commissions.selectors.commissions import (
    CommissionStage,
    CommissionView,
    commissions,
    view_commissions,
)
from commissions.selectors.done import done
from commissions.selectors.promise_checks import PromiseNews, PromiseStanding
from commissions.selectors.quotes import QuoteState
from studio.selectors.pieces import PieceView
from studio.viewer import Viewer, day_words

# Common practice, no source: after a week without an answer, people ask.
PATIENCE = timedelta(days=7)
NEWS_FOR = timedelta(days=2)


class Wanted(StrEnum):
    """Why a commission is on Today."""

    ACCEPTED = "accepted"
    LOST = "lost"
    OVERDUE = "overdue"
    DAY = "day"
    TIGHT = "tight"
    DUE = "due"
    ASK = "ask"
    SEND = "send"
    QUOTE = "quote"


KINDS = {
    Wanted.ACCEPTED: "done",
    Wanted.LOST: "problem",
    Wanted.OVERDUE: "problem",
    Wanted.DAY: "problem",
    Wanted.TIGHT: "waiting",
    Wanted.DUE: "problem",
    Wanted.ASK: "waiting",
    Wanted.SEND: "doing",
    Wanted.QUOTE: "planned",
}

WANTED = {
    PromiseStanding.OVERDUE: Wanted.OVERDUE,
    PromiseStanding.BROKEN: Wanted.DAY,
    PromiseStanding.TIGHT: Wanted.TIGHT,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class WaitingItem:
    """One line on Today."""

    view: CommissionView
    why: Wanted
    words: str

    @property
    def kind(self) -> str:
        """Return the shape for `_status.html`."""
        return KINDS[self.why]


def waiting_today(
    viewer: Viewer, *, at: datetime, in_work: Sequence[PieceView] = ()
) -> list[WaitingItem]:
    """Return what needs doing, the news first; `in_work` are pieces read already."""
    unclosed = commissions(viewer.studio).filter(closed_at__isnull=True)
    found = unclosed.exclude(pk__in=done(viewer.studio).values("pk"))
    found = found.select_related(None).select_related("client", "glass")
    order = list(Wanted)
    items = [
        item
        for view in view_commissions(viewer.studio, found, at=at, read=in_work)
        for item in _items(view, viewer, at)
    ]
    return sorted(items, key=lambda item: order.index(item.why))


def _items(view: CommissionView, viewer: Viewer, at: datetime) -> list[WaitingItem]:
    items = []

    def add(why: Wanted, words: str) -> None:
        items.append(WaitingItem(view=view, why=why, words=words))

    if any(not loss.is_replaced for loss in view.losses):
        add(Wanted.LOST, "Lost: start the remake")
    news = view.promise_news
    if news is not None and news.wants_a_hand:
        add(WANTED[news.standing], _day_words(news))
    if view.accepted is not None:
        quote = view.accepted.quote
        if quote.accepted_at is not None and at - quote.accepted_at < NEWS_FOR:
            add(Wanted.ACCEPTED, f"Accepted {viewer.moment(quote.accepted_at, at)}")
        if view.money.due_now:
            due = viewer.money(view.money.due_now, view.money.currency)
            add(Wanted.DUE, f"{due} is due")
        addendum = view.addendum
        if addendum is not None and addendum.state is QuoteState.DRAFT:
            add(Wanted.SEND, f"Addendum {addendum.quote.version} is not sent yet")
        elif view.wants_addendum:
            add(Wanted.QUOTE, "The brief changed: make an addendum")
    elif view.newest is None:
        add(Wanted.QUOTE, "Waits for its first quote")
    elif view.newest.state is QuoteState.DRAFT:
        add(Wanted.SEND, f"Quote {view.newest.quote.version} is not sent yet")
    elif view.newest.state in {QuoteState.RUN_OUT, QuoteState.DECLINED}:
        add(Wanted.ASK, view.next_step)
    elif (
        view.stage is CommissionStage.QUOTED
        and view.newest.quote.sent_at is not None
        and at - view.newest.quote.sent_at > PATIENCE
    ):
        sent = viewer.day(view.newest.quote.sent_at)
        add(Wanted.ASK, f"No answer to quote {view.newest.quote.version} since {sent}")
    return items


def _day_words(news: PromiseNews) -> str:
    """Say what became of the promised day, and which day is possible now."""
    told = f"{news.in_short}: promised for {day_words(news.promised_date)}"
    if news.standing is PromiseStanding.TIGHT:
        return told
    return f"{told}, {news.new_date_words}"
