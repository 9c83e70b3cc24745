"""What the quote's paper says, its hash, and whether its PDF exists yet."""

from collections.abc import Iterable
from dataclasses import asdict, dataclass, replace
from decimal import Decimal
from typing import Any, Self

from commissions.models import Quote
from commissions.pricing import Section
from commissions.selectors.business import (
    business_address,
    business_details,
    business_name,
)
from commissions.selectors.commissions import CommissionView, stage_steps
from commissions.selectors.money import MoneyView
from commissions.selectors.owing import gallery_sells
from commissions.selectors.promise_checks import day_of_quote, shown_day
from commissions.selectors.quote_changes import addendum_changes
from commissions.selectors.quotes import (
    LineSection,
    QuoteView,
    acceptance_words,
    day_of,
    line_sections,
    option_facts,
    options_of,
    totals_of,
)
from commissions.selectors.work import CommissionWork, work_facts
from studio.documents import PaperKey, PaperState, order, state_of, words_sha256
from studio.drawings.edge_view import BandState, EdgeLayer, build_edge_view
from studio.drawings.paper_style import drawing_style
from studio.models import Document, PaperSize
from studio.pdf import pdf_available
from studio.viewer import Viewer

KIND = "quote"
TEMPLATE = "pdf/quote.html"
RENDER_JOB = "commissions.render_quote"
ACCEPTED_KIND = "accepted quote"
RENDER_ACCEPTED_JOB = "commissions.render_accepted_quote"
# Raise this when the paper's layout changes, so that papers are made again.
LAYOUT = 3
FIRST_WITH_SIZE = 2
FIRST_WITH_OPTIONS = 3

CARE = (
    "Made to be looked at: not for food or drink, as enamels may hold lead or cadmium.",
    "Lift it with two hands or two people, and hang or stand it on fittings made for "
    "its weight.",
    "Keep it from sudden heat and cold. Wipe it with a soft damp cloth.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class QuotePaper:
    """Every text on the paper, already written out."""

    number: str
    studio_name: str
    studio_address: str
    client_name: str
    client_address: str
    title: str
    made_on: str
    valid_until: str
    promised_for: str
    message: str
    facts: tuple[tuple[str, str], ...]
    sections: tuple[LineSection, ...]
    totals: tuple[tuple[str, str], ...]
    instalments: tuple[tuple[str, str, str], ...]
    care: tuple[str, ...]
    is_demo: bool
    size: str = PaperSize.A4
    layout: int = LAYOUT
    options: tuple[tuple[str, str, str], ...] = ()
    tax_number: str = ""
    tax_note: str = ""
    terms: str = ""

    @classmethod
    def from_json(cls, stored: dict[str, Any]) -> Self:
        """Return the texts as they were sent."""
        rows = ("facts", "totals", "instalments", "options")
        pairs = {
            name: tuple(tuple(row) for row in stored.get(name, ())) for name in rows
        }
        lists = {name: tuple(stored[name]) for name in ("sections", "care")}
        return cls(**stored | pairs | lists)

    def as_json(self) -> dict[str, Any]:
        """Return the texts for the quote to keep when it is sent."""
        return asdict(self)

    @property
    def sha256(self) -> str:
        """Return the hash under which the PDF is filed."""
        words = asdict(self)
        if self.layout < FIRST_WITH_SIZE:
            del words["size"]
        if self.layout < FIRST_WITH_OPTIONS:
            for name in ("options", "tax_number", "tax_note", "terms"):
                del words[name]
        return words_sha256(words, layout=self.layout)


@dataclass(frozen=True, slots=True, kw_only=True)
class AddendumPaper(QuotePaper):
    """The texts of a quote that changes an accepted one."""

    adds_to: str
    difference: str
    changes: tuple[tuple[str, str, str], ...]

    @classmethod
    def from_json(cls, stored: dict[str, Any]) -> Self:
        changes = tuple(tuple(row) for row in stored["changes"])
        # Named, as a dataclass with slots is another class than the one `super` knows.
        return super(AddendumPaper, cls).from_json(stored | {"changes": changes})


def quote_paper(quote: Quote) -> QuotePaper:
    """Return the paper of a quote: as it was sent, or what a draft says now."""
    if not quote.paper:
        return written_paper(quote)
    kind = QuotePaper if quote.adds_to_id is None else AddendumPaper
    return kind.from_json(quote.paper)


def written_paper(quote: Quote) -> QuotePaper:
    """Write the paper of a quote; reads its lines and instalments."""
    viewer = Viewer.of_studio(quote.studio)
    texts = _texts(quote, viewer)
    if quote.adds_to is None:
        return QuotePaper(**texts)
    return AddendumPaper(**texts, **addendum_texts(quote, viewer))


def addendum_texts(quote: Quote, viewer: Viewer) -> dict[str, Any]:
    """Say what an addendum changes, by how much, and what was accepted before."""
    before = quote.adds_to
    if before is None or before.accepted_at is None:
        return {}
    rows = [(one.what, one.old, one.new) for one in addendum_changes(quote, viewer)]
    was, now = (
        f"{day:%a %-d %b %Y}" if day else "none"
        for day in (day_of_quote(before), quote.promised_date)
    )
    if was != now:
        rows.append(("Promised for", was, now))
    more = quote.total - before.total
    amount = viewer.money(abs(more), quote.currency)
    return {
        "adds_to": (
            f"Addendum to {before.name}, accepted {viewer.day(before.accepted_at)} by "
            f"{before.accepted_by_name}"
        ),
        "difference": (
            f"{amount} {'more' if more > 0 else 'less'} than accepted so far: "
            f"{viewer.money(quote.total, quote.currency)} in all instead of "
            f"{viewer.money(before.total, before.currency)}"
            if more
            else f"The price stays {viewer.money(quote.total, quote.currency)} in all"
        ),
        "changes": tuple(rows),
    }


def _texts(quote: Quote, viewer: Viewer) -> dict[str, Any]:
    details = business_details(quote.studio)
    work = CommissionWork.from_json(quote.inputs["work"])

    def money(amount: Decimal) -> str:
        return viewer.money(amount, quote.currency)

    return {
        "number": f"{quote.commission_id}-{quote.version}{quote.option}",
        "studio_name": business_name(details),
        "studio_address": business_address(details),
        "client_name": quote.commission.client.name,
        "client_address": quote.commission.client.address,
        "title": work.title,
        "made_on": viewer.day(quote.made_at),
        "valid_until": f"{quote.valid_until_date:%a %-d %b %Y}",
        "promised_for": (
            f"{quote.promised_date:%a %-d %b %Y}" if quote.promised_date else ""
        ),
        "message": quote.message,
        "facts": tuple(work_facts(work, viewer)),
        "sections": tuple(client_sections(quote, viewer)),
        "totals": tuple(totals_of(quote, viewer)),
        "instalments": tuple(
            (part["label"], part["when"], part["amount"])
            for part in _asked_instalments(quote, viewer)
        ),
        "care": CARE,
        "options": tuple(
            (
                f"{one.option}: {one.option_name}",
                option_facts(one, viewer),
                viewer.money(one.total, one.currency),
            )
            for one in (options_of(quote) if quote.option else ())
        ),
        "tax_number": details.tax_number,
        "tax_note": quote.inputs.get("tax_note", ""),
        "terms": details.terms,
        "is_demo": quote.studio.is_demo,
        "size": quote.studio.paper_size,
    }


def client_sections(quote: Quote, viewer: Viewer) -> list[LineSection]:
    """Return the lines that the client sees; the others are the work, as one line."""
    lines = [line for line in quote.lines.all() if line.section != Section.TAX]
    shown = [line for line in lines if line.is_shown]
    sections = line_sections(shown, viewer=viewer, currency=quote.currency)
    if len(shown) == len(lines):
        return sections
    work = CommissionWork.from_json(quote.inputs["work"])
    maquette = ", with a maquette made first" if work.maquette else ""
    rest = quote.net - sum((line.amount for line in shown), Decimal(0))
    amount = viewer.money(rest, quote.currency)
    the_work: LineSection = {
        "title": "",
        "lines": [
            {
                "label": work.title,
                "explanation": (
                    f"{viewer.size(work.width_mm, work.height_mm)}, "
                    f"{work.layer_count} layers{maquette}"
                ),
                "quantity": "1",
                "unit_price": amount,
                "amount": amount,
            }
        ],
    }
    return [the_work, *sections]


def paper_context(quote: Quote) -> dict[str, Any]:
    """Return what the template of the paper needs."""
    work = CommissionWork.from_json(quote.inputs["work"])
    caps_from = work.layer_count - work.cap_count
    edge = build_edge_view(
        [
            EdgeLayer(
                number=number,
                thickness_mm=work.sheet_thickness_mm,
                state=BandState.CLEAR if number > caps_from else BandState.BURNT,
            )
            for number in range(1, work.layer_count + 1)
        ],
        key="stack",
    )
    return {
        "paper": quote_paper(quote),
        "edge": edge,
        "edge_style": drawing_style(),
        "viewer": Viewer.of_studio(quote.studio),
    }


def paper_key(quote: Quote, paper: QuotePaper) -> PaperKey:
    """Return the key of a quote's paper with these words."""
    sha256 = paper.sha256
    if quote.accepted_at is not None and not quote.paper:
        # Sent before its words were kept: the first PDF since then is what was sent.
        sent = Document.owned.for_studio(quote.studio).filter(
            kind=KIND, subject_id=quote.pk, made_at__gte=quote.sent_at
        )
        first = sent.order_by("made_at", "pk").first()
        sha256 = first.inputs_sha256 if first is not None else sha256
    return PaperKey(
        studio=quote.studio,
        kind=KIND,
        subject_id=quote.pk,
        sha256=sha256,
        is_contract=quote.accepted_at is not None,
    )


def paper_state(quote: Quote) -> PaperState:
    """Return whether the PDF of a quote is there, and the last order for it."""
    return state_of(paper_key(quote, quote_paper(quote)))


@dataclass(frozen=True, slots=True, kw_only=True)
class AcceptedPaper:
    """A quote's texts with who accepted it, and the hash of the PDF that was sent.

    What was sent stays as it is: this is another document, filed beside it.
    """

    paper: QuotePaper
    acceptance: str
    sent_sha256: str


def accepted_paper(quote: Quote) -> AcceptedPaper:
    """Return the paper of an accepted quote, with its acceptance."""
    sent = paper_state(quote).document
    return AcceptedPaper(
        paper=quote_paper(quote),
        acceptance=acceptance_words(quote),
        sent_sha256=sent.pdf_sha256 if sent is not None else "",
    )


def accepted_key(quote: Quote, paper: AcceptedPaper) -> PaperKey:
    """Return the key of the paper with the acceptance."""
    return PaperKey(
        studio=quote.studio,
        kind=ACCEPTED_KIND,
        subject_id=quote.pk,
        sha256=words_sha256(asdict(paper), layout=LAYOUT),
    )


def accepted_state(quote: Quote) -> PaperState:
    """Return whether the PDF with the acceptance is there, and the last order for it."""
    return state_of(accepted_key(quote, accepted_paper(quote)))


def order_accepted_paper(quote: Quote) -> None:
    """Ask the worker for the PDF with the acceptance."""
    key = accepted_key(quote, accepted_paper(quote))
    order(key, job_name=RENDER_ACCEPTED_JOB, quote_id=quote.pk)


def may_offer_paper(quote: Quote) -> bool:
    """Return whether a client who asks for the PDF gets one: it exists, or can be made."""
    state = paper_state(quote)
    if state.document is not None:
        return True
    return state.name == "lost" or (state.name != "failed" and pdf_available())


def order_paper(quote: Quote) -> None:
    """Ask the worker for the PDF of a quote."""
    key = paper_key(quote, quote_paper(quote))
    order(key, job_name=RENDER_JOB, quote_id=quote.pk)


def client_texts(
    view: CommissionView, shown: QuoteView | None, work: CommissionWork, viewer: Viewer
) -> dict[str, Any]:
    """Write what the client's page says about the work, the price and the stages."""
    texts: dict[str, Any] = {
        "facts": work_facts(work, viewer),
        "stages": [{**step, "note": ""} for step in stage_steps(view)],
    }
    if shown is None:
        return texts
    quote = shown.quote

    def money(amount: Decimal) -> str:
        return viewer.money(amount, quote.currency)

    if gallery_sells(quote):
        # What the gallery has paid the studio is between the two of them.
        view = replace(view, money=replace(view.money, instalments=(), paid=Decimal(0)))
    due, paid = view.money.due_now, view.money.paid
    advance = "" if view.is_closed or due else _advance_words(view.money, viewer)
    return texts | {
        "sections": client_sections(quote, viewer),
        "totals": totals_of(quote, viewer),
        "total": money(quote.total),
        "has_paper": may_offer_paper(quote),
        "day": "" if view.is_made else _day_for_client(quote),
        "due": money(due) if due else "",
        # Before anything is accepted, the quote's currency may differ from the
        # studio's.
        "paid": viewer.money(paid, view.money.currency) if paid > 0 else "",
        "advance": advance,
        "instalments": [
            {
                "label": part.instalment.label,
                "when": part.instalment.get_due_on_display(),
                "amount": money(part.instalment.amount),
                "state": part.state_words,
                "kind": part.state_kind,
            }
            for part in view.money.instalments
        ]
        or _asked_instalments(quote, viewer),
    }


def _asked_instalments(quote: Quote, viewer: Viewer) -> list[dict[str, str]]:
    """Write when what is paid: to a gallery that sells, the whole price."""
    if gallery_sells(quote):
        gallery = quote.commission.gallery or "the gallery"
        whole = viewer.money(quote.total, quote.currency)
        return [{"label": "Price", "when": f"to {gallery}", "amount": whole}]
    return [
        {
            "label": part.label,
            "when": part.get_due_on_display(),
            "amount": viewer.money(part.amount, quote.currency),
        }
        for part in quote.instalments.all()
    ]


def answer_texts(asked: QuoteView | None, viewer: Viewer) -> dict[str, Any]:
    """Write what the client is asked to accept: a price, or what an addendum changes."""
    if asked is None:
        return {}
    quote = asked.quote
    return {
        "asked": asked,
        "asked_total": viewer.money(quote.total, quote.currency),
        "asked_day": day_of_quote(quote),
        "asked_instalments": _asked_instalments(quote, viewer),
        "addendum": addendum_texts(quote, viewer),
        "is_first_quote": quote.adds_to_id is None,
    }


def option_texts(options: Iterable[QuoteView], viewer: Viewer) -> list[dict[str, Any]]:
    """Write each option that the client may pick, with its price in detail."""
    return [
        {
            "quote": one.quote,
            "facts": option_facts(one.quote, viewer),
            "total": viewer.money(one.quote.total, one.quote.currency),
            "sections": client_sections(one.quote, viewer),
            "totals": totals_of(one.quote, viewer),
            "instalments": _asked_instalments(one.quote, viewer),
        }
        for one in options
    ]


def _advance_words(money: MoneyView, viewer: Viewer) -> str:
    """Say what came in beyond what is due: for the client and the studio alike."""
    if money.credit:
        return f"Your credit: {viewer.money(money.credit, money.currency)}."
    if money.total is not None and money.in_advance:
        return f"Paid in advance: {viewer.money(money.in_advance, money.currency)}."
    return ""


def _day_for_client(quote: Quote) -> str:
    """Say when the work is to be ready, as it is planned, or else as it was told.

    Another day than that is for the maker to tell.
    """
    day = day_of_quote(quote)
    if day is None:
        return ""
    written = f"{day:%A %-d %B %Y}"
    if quote.accepted_at is not None and shown_day(quote) is not None:
        return f"Planned to be ready by {written}."
    what, at = "Promised", quote.sent_at
    if quote.agreed_date is not None:
        what, at = "Agreed", quote.agreed_at
    when = f" on {day_of(quote.studio, at):%-d %B %Y}" if at else ""
    return f"{what}{when} for {written}."
