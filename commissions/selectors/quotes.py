"""Reads quotes: their state, their lines ready to show, their instalments."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from itertools import groupby
from typing import TypedDict
from zoneinfo import ZoneInfo

from django.db.models import Q

from commissions.models import Commission, Quote, QuoteLine
from commissions.pricing import PriceLine, Section
from commissions.selectors.work import CommissionWork, about_length
from studio.amounts import in_words
from studio.models import Studio
from studio.money import format_unit_price, plain_number
from studio.tenancy import StudioQuerySet
from studio.viewer import Viewer


class QuoteState(StrEnum):
    """The state of a quote; derived, never stored."""

    DRAFT = "draft"
    WAITING = "waiting"
    ACCEPTED = "accepted"
    DECLINED = "declined"
    RUN_OUT = "run out"
    REPLACED = "replaced"


STATE_WORDS = {
    QuoteState.DRAFT: "Draft, not sent yet",
    QuoteState.WAITING: "Sent, waits for an answer",
    QuoteState.ACCEPTED: "Accepted",
    QuoteState.DECLINED: "Declined",
    QuoteState.RUN_OUT: "Expired unanswered",
    QuoteState.REPLACED: "Replaced by a newer one",
}
STATE_KINDS = {
    QuoteState.DRAFT: "planned",
    QuoteState.WAITING: "waiting",
    QuoteState.ACCEPTED: "done",
    QuoteState.DECLINED: "stopped",
    QuoteState.RUN_OUT: "stopped",
    QuoteState.REPLACED: "clear",
}


# Headings of the sections; single lines that belong together share one.
HEADINGS = {
    "kiln time": "Kiln time and energy",
    "energy": "Kiln time and energy",
    "overhead": "On top",
    "risk of remake": "On top",
    "mark-up": "On top",
    "discount": "On top",
    "rounding": "On top",
    "gallery": "On top",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class QuoteView:
    """A quote and its state."""

    quote: Quote
    state: QuoteState

    @property
    def state_words(self) -> str:
        """Say the state in words."""
        return STATE_WORDS[self.state]

    @property
    def state_kind(self) -> str:
        """Return the state's shape for `_status.html`."""
        return STATE_KINDS[self.state]

    @property
    def may_be_sent(self) -> bool:
        return self.state is QuoteState.DRAFT

    @property
    def may_be_answered(self) -> bool:
        return self.state is QuoteState.WAITING

    @property
    def may_be_recorded(self) -> bool:
        """Return whether it may have been accepted by letter: while it stood."""
        return self.state in {QuoteState.WAITING, QuoteState.RUN_OUT}


def day_of(studio: Studio, at: datetime) -> date:
    """Return today's date in the studio."""
    return at.astimezone(ZoneInfo(studio.time_zone)).date()


def acceptance_words(quote: Quote) -> str:
    """Say who accepted a quote, when, and how a member heard of it."""
    if quote.accepted_at is None:
        return ""
    viewer = Viewer.of_studio(quote.studio)
    how = "on the client's page"
    if quote.acceptance_recorded_at is not None:
        by = quote.acceptance_recorded_by or "a member"
        how = (
            f"{quote.accepted_how} (recorded by {by}, "
            f"{viewer.day(quote.acceptance_recorded_at)})"
        )
    when = _accepted_when(quote.accepted_at, quote)
    return f"Accepted by {quote.accepted_by_name}, {when}, {how}"


def accepted_words(quote: Quote) -> str:
    """Say who accepted a quote and when, to whoever would answer it once more."""
    if quote.accepted_at is None:
        return ""
    return (
        f"{quote.accepted_by_name} accepted {quote.name} already, "
        f"{_accepted_when(quote.accepted_at, quote)}. Nothing has changed."
    )


def _accepted_when(at: datetime, quote: Quote) -> str:
    """Return day and time; of an acceptance that a member recorded only its day."""
    viewer = Viewer.of_studio(quote.studio)
    is_day = quote.acceptance_recorded_at is not None
    return viewer.day(at) if is_day else f"{viewer.day(at)}, {viewer.clock(at)}"


def quotes(studio: Studio) -> StudioQuerySet[Quote]:
    """Return the studio's quotes, newest version first within each commission."""
    return (
        Quote.owned.for_studio(studio)
        .select_related(
            "commission__client", "commission__glass", "made_by", "studio", "adds_to"
        )
        .prefetch_related("lines", "instalments")
        .order_by("-commission_id", "-version", "option", "-pk")
    )


def accepted_quote(commission: Commission) -> Quote | None:
    """Return the quote that the client accepted last, or none; its terms count."""
    found: Quote | None = (
        Quote.owned.for_studio(commission.studio)
        .filter(commission=commission, accepted_at__isnull=False)
        .order_by("-version")
        .first()
    )
    return found


def options_of(quote: Quote) -> list[Quote]:
    """Return a quote with the other options of its version, by their letters."""
    found = Quote.owned.for_studio(quote.studio).filter(
        commission_id=quote.commission_id, version=quote.version
    )
    return list(found.order_by("option", "pk"))


def option_facts(quote: Quote, viewer: Viewer) -> str:
    """Say in one line what an option is of, and for which day it is promised."""
    work = CommissionWork.from_json(quote.inputs["work"])
    maquette = ", maquette first" if work.maquette else ""
    day = quote.promised_date
    promised = f", promised for {day:%a %-d %b %Y}" if day else ""
    return (
        f"{viewer.size(work.width_mm, work.height_mm)}, about "
        f"{about_length(work.thickness_mm, viewer)} thick, {work.layer_count} layers"
        f"{maquette}{promised}"
    )


def view_quotes(versions: Iterable[Quote], *, today: date) -> tuple[QuoteView, ...]:
    """Return each of one commission's quotes with its state, newest version first."""
    ordered = sorted(versions, key=lambda quote: (-quote.version, quote.option))
    stands_on = next((quote.pk for quote in ordered if quote.accepted_at), None)
    newest_sent = max((q.version for q in ordered if q.sent_at), default=0)
    return tuple(
        QuoteView(
            quote=quote,
            state=_state(
                quote, newest_sent=newest_sent, stands_on=stands_on, today=today
            ),
        )
        for quote in ordered
    )


def _state(
    quote: Quote, *, newest_sent: int, stands_on: int | None, today: date
) -> QuoteState:
    if quote.accepted_at is not None:
        return QuoteState.ACCEPTED
    if quote.declined_at is not None:
        return QuoteState.DECLINED
    # What was made beside another contract, or before any, is no longer on offer.
    if quote.adds_to_id != stands_on or quote.version < newest_sent:
        return QuoteState.REPLACED
    if quote.sent_at is None:
        return QuoteState.DRAFT
    return QuoteState.RUN_OUT if quote.valid_until_date < today else QuoteState.WAITING


def view_quote(quote: Quote, *, at: datetime) -> QuoteView:
    """Return one quote with its state among its commission's versions of that time."""
    versions = Quote.owned.for_studio(quote.studio).filter(
        Q(pk=quote.pk) | Q(sent_at=None) | Q(sent_at__lte=at),
        commission_id=quote.commission_id,
    )
    today = day_of(quote.studio, at)
    views = view_quotes(versions, today=today)
    state = next(view.state for view in views if view.quote.pk == quote.pk)
    return QuoteView(quote=quote, state=state)


class LineSection(TypedDict):
    """Lines under one heading, every figure written out."""

    title: str
    lines: list[dict[str, str]]


def line_sections(
    lines: Iterable[QuoteLine] | Iterable[PriceLine], *, viewer: Viewer, currency: str
) -> list[LineSection]:
    """Return lines by section with every figure written out; tax is in the totals."""
    shown = [line for line in lines if line.section != Section.TAX]
    return [
        {
            "title": heading,
            "lines": [_written(line, viewer, currency) for line in group],
        }
        for heading, group in groupby(shown, key=_heading)
    ]


def _heading(line: QuoteLine | PriceLine) -> str:
    section = str(line.section)
    return HEADINGS.get(section, section.capitalize())


def _written(
    line: QuoteLine | PriceLine, viewer: Viewer, currency: str
) -> dict[str, str]:
    quantity = in_words(line.quantity, line.unit)
    unit_price = format_unit_price(line.unit_price, currency)
    if line.section == Section.ROUNDING:
        quantity = unit_price = ""
    elif line.unit == "%":
        unit_price = f"of {viewer.money(line.unit_price, currency)}"
    elif str(line.section) == "labour":
        # A third of an hour has no end in decimals; its minutes multiply exactly.
        quantity = viewer.labour(round(line.quantity * 60))
        unit_price += "/h"
    return {
        "label": line.label,
        "explanation": line.explanation,
        "quantity": quantity,
        "unit_price": unit_price,
        "amount": viewer.money(line.amount, currency),
    }


def totals(
    lines: Iterable[QuoteLine] | Iterable[PriceLine],
    *,
    net: Decimal,
    total: Decimal,
    write: Callable[[Decimal], str],
) -> list[tuple[str, str]]:
    """Return net, each tax with its rate, and total; only the total without a tax."""
    taxes = [
        (f"{line.label}, {plain_number(line.quantity)} %", write(line.amount))
        for line in lines
        if line.section == Section.TAX
    ]
    before = [("Before tax", write(net))] if taxes else []
    return [*before, *taxes, ("Total", write(total))]


def totals_of(quote: Quote, viewer: Viewer) -> list[tuple[str, str]]:
    """Return the totals of a quote."""

    def write(amount: Decimal) -> str:
        return viewer.money(amount, quote.currency)

    return totals(quote.lines.all(), net=quote.net, total=quote.total, write=write)
