"""Drafting a quote whose price is computed while typing, showing it, sending it."""

from collections.abc import Callable
from dataclasses import fields
from datetime import date, timedelta
from decimal import Decimal
from typing import TYPE_CHECKING, Any
from uuid import uuid4

from django.contrib import messages
from django.http import FileResponse, Http404, HttpResponse, QueryDict
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.text import capfirst
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from commissions import documents
from commissions.forms.quote import AddendumForm, QuoteForm
from commissions.pricing import Section
from commissions.selectors import quotes as selectors
from commissions.selectors.commissions import CommissionView, view_commission
from commissions.selectors.letters import quote_draft
from commissions.selectors.owing import owing_of, owing_words
from commissions.selectors.price_parts import price_parts
from commissions.selectors.prices import Priced, price_work, rule_minutes
from commissions.selectors.promise_checks import day_of_quote
from commissions.selectors.quote_changes import quote_changes
from commissions.selectors.rates import (
    OF_THE_QUOTE,
    OF_THE_REQUEST,
    QuoteChoices,
    RatesFrom,
    base_quote,
    choices_for,
    must_choose,
    price_book,
)
from commissions.selectors.share_links import live_link
from commissions.selectors.work import CommissionWork, work_facts
from commissions.services.addenda import draft_addendum, keep_as_agreed
from commissions.services.papers import ask_for_accepted_paper, ask_for_paper
from commissions.services.quotes import draft_quote, send_quote
from commissions.views.client_page import share_url
from commissions.views.found import commission_or_404, quote_or_404
from commissions.views.papers import paper_job
from commissions.views.promise_part import (
    choices_typed,
    when_context,
    when_context_of_quote,
)
from firing.schedules.selectors.fits import kilns
from studio.errors import StudioError
from studio.http import (
    OK,
    REFUSED,
    StudioRequest,
    attempt,
    render_page,
    requires,
    send_document,
    viewer_for,
)
from studio.money import plain_number
from studio.roles import Can
from studio.viewer import Viewer

if TYPE_CHECKING:
    from commissions.models import Commission, Quote

# What the page can be asked for without saving, and the part that answers.
FRAGMENTS = {
    "recompute": "price",
    "when": "when",
    "use_promised": "promised",
    "fill": "",
}


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def quote_new(request: StudioRequest, pk: int) -> HttpResponse:
    """Draft a quote.

    With ``recompute`` only show the price of what is typed, with ``when`` the date it
    could be ready; ``use_promised`` puts a date into its field. None of them saves
    anything.
    """
    commission = commission_or_404(request, pk)
    view = view_commission(commission, at=timezone.now())
    if view.is_closed:
        messages.warning(
            request, "This commission is closed. Reopen it before you quote."
        )
        return redirect("commissions:commission_detail", pk)
    if view.accepted is not None:
        messages.warning(
            request,
            f"{capfirst(view.accepted.quote.name)} is accepted already, so its "
            "price stands. A change is an addendum to it.",
        )
        return redirect("commissions:commission_detail", pk)
    return _draft(request, view, QuoteForm, draft_quote)


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def addendum_new(request: StudioRequest, pk: int) -> HttpResponse:
    """Draft an addendum to the accepted quote, as `quote_new` does a quote."""
    commission = commission_or_404(request, pk)
    view = view_commission(commission, at=timezone.now())
    if view.is_closed or view.accepted is None:
        messages.warning(
            request,
            "This commission is closed. Reopen it first."
            if view.is_closed
            else "Nothing is accepted yet: make another version of the quote.",
        )
        return redirect("commissions:commission_detail", pk)

    def draft(**typed: Any) -> "Quote":
        # The form's own field, so never another word than these.
        terms = RatesFrom(request.POST["rates_from"])
        return draft_addendum(terms=terms, **typed)

    return _draft(request, view, AddendumForm, draft)


@require_POST
@requires(Can.SEE_MONEY)
def commission_as_agreed(request: StudioRequest, pk: int) -> HttpResponse:
    """Set the request back to what was accepted."""
    commission = commission_or_404(request, pk)
    try:
        keep_as_agreed(commission=commission, by=request.user, at=timezone.now())
    except StudioError as problem:
        messages.error(request, str(problem))
    else:
        messages.success(request, "The brief is back to what was accepted.")
    return redirect("commissions:commission_detail", pk)


def _draft(
    request: StudioRequest,
    view: CommissionView,
    kind: type[QuoteForm],
    draft: "Callable[..., Quote]",
) -> HttpResponse:
    commission = view.commission
    if request.method != "POST":
        return _draft_page(request, view, _form(commission, kind))
    typed = request.POST.copy()
    if typed.get("use_promised"):
        typed["promised_date"] = str(typed["use_promised"])
    filled = _fill_rates(commission, typed)
    form = _form(commission, kind, typed)
    form.fields["rates_from"].required |= must_choose(commission)
    if filled or any(typed.get(ask) for ask in FRAGMENTS):
        return _draft_page(request, view, form, filled=filled)
    drafted: list[Quote] = []
    status = attempt(
        form,
        lambda: drafted.append(
            draft(
                commission=commission,
                by=request.user,
                at=timezone.now(),
                choices=form.choices,
                **form.words,
            )
        ),
    )
    if status != OK:
        return _draft_page(request, view, form, status=status)
    return redirect("commissions:quote_detail", drafted[0].pk)


def _form(
    commission: "Commission", kind: type[QuoteForm], typed: QueryDict | None = None
) -> QuoteForm:
    """Return the form, with the tasks of the rates that it was filled from."""
    filled_from = "" if typed is None else typed.get("filled_from", "")
    is_known = filled_from in set(RatesFrom)
    base = choices_for(
        commission, RatesFrom(filled_from) if is_known else RatesFrom.VERSION
    )
    try:
        rules = rule_minutes(commission, base)
    except StudioError:  # no kiln can take it; the price says so
        rules = {}
    return kind(
        typed,
        currency=commission.studio.currency,
        base=base,
        rules=rules,
        kilns=kilns(commission.studio),
        viewer=Viewer.of_studio(commission.studio),
        initial=None if typed is not None else _initial(commission, base),
    )


def _fill_rates(commission: "Commission", typed: QueryDict) -> bool:
    """Put the rates chosen on the page into their fields; return whether they moved.

    Also done on saving, so that no quote is kept with a choice that was not seen.
    """
    chosen = typed.get("rates_from", "")
    if chosen not in set(RatesFrom) or chosen == typed.get("filled_from"):
        return False
    rates = QuoteForm.tidy(_shown(choices_for(commission, RatesFrom(chosen))))
    for name, value in rates.items():
        if name in {*OF_THE_REQUEST, *OF_THE_QUOTE}:
            continue
        if value is False:
            typed.pop(name, None)
        else:
            typed[name] = "on" if value is True else str(value)
    for name in [one for one in typed if one.startswith("minutes_")]:
        del typed[name]
    typed["filled_from"] = chosen
    return True


def _changes_context(
    commission: "Commission", form: QuoteForm, priced: Priced | None, viewer: Viewer
) -> dict[str, Any]:
    """Return what differs from the last version, and the choice of rates."""
    labels = {name: str(field.label) for name, field in form.fields.items()}
    changes = quote_changes(commission, priced=priced, labels=labels, viewer=viewer)
    is_addendum = isinstance(form, AddendumForm)
    if changes is None or not (changes or is_addendum):
        return {}
    filled_from = form.data.get("filled_from")
    usual = "" if is_addendum else RatesFrom.VERSION
    return {
        "changes": changes,
        "prices_caption": (
            "Prices of glass, materials and kilns"
            if is_addendum
            else "Prices of glass, materials and kilns, always today's"
        ),
        "has_choice": is_addendum or changes.has_choice,
        "filled_from": filled_from if filled_from in set(RatesFrom) else usual,
        "rates_choices": (
            (RatesFrom.TODAY, "At today's rates" if is_addendum else "Today's rates"),
            (
                RatesFrom.VERSION,
                f"At the terms of version {changes.version}"
                if is_addendum
                else f"As in version {changes.version}",
            ),
        ),
    }


def _shown(choices: QuoteChoices) -> dict[str, Any]:
    """Return rates as the form's fields show them; each task has a field of its own."""
    return {
        f.name: getattr(choices, f.name) for f in fields(choices) if f.name != "tasks"
    }


def _initial(commission: "Commission", base: QuoteChoices) -> dict[str, Any]:
    """Start from the last version if there is one: nothing is asked twice."""
    now = timezone.now()
    today = selectors.day_of(commission.studio, now)
    last = base_quote(commission)
    days = price_book(commission.studio).quote_valid_days
    return QuoteForm.tidy(_shown(base)) | {
        "form_key": uuid4().hex,
        "valid_until_date": today + timedelta(days=days),
        "promised_date": _promised_before(commission, last),
        "message": last.message if last and not last.accepted_at else "",
        "shows_lines": last.shows_lines if last else False,
    }


def _promised_before(commission: "Commission", last: "Quote | None") -> date | None:
    """Return the day to start from; none if the brief changed since."""
    if last is None:
        return commission.wanted_by_date
    if last.accepted_at is not None:
        return day_of_quote(last)
    is_same = last.inputs["work"] == CommissionWork.of(commission).as_json()
    return last.promised_date if is_same else None


def _draft_page(
    request: StudioRequest,
    view: CommissionView,
    form: QuoteForm,
    *,
    filled: bool = False,
    status: int = OK,
) -> HttpResponse:
    asked = next((ask for ask in FRAGMENTS if request.POST.get(ask)), "")
    priced, problem = _price(view.commission, form)
    # Until the prices of an addendum are chosen, there is nothing wrong with the page.
    is_new = request.method != "POST" and isinstance(form, AddendumForm)
    if problem and status == OK and asked in {"", "recompute"} and not is_new:
        status = REFUSED
    context = {
        "form": form,
        "view": view,
        "commission": view.commission,
        "work": work_facts(CommissionWork.of(view.commission), viewer_for(request)),
        "problem": problem,
        "is_addendum": isinstance(form, AddendumForm),
        "filled": filled,
        **(_price_context(priced) if priced else {}),
    }
    if not (FRAGMENTS.get(asked) and request.htmx):
        viewer = viewer_for(request)
        context |= _changes_context(view.commission, form, priced, viewer)
    if asked == "when" or request.GET.get("when"):
        context |= when_context(
            view.commission, form, viewer=viewer_for(request), now=timezone.now()
        )
    response = render_page(
        request,
        "commissions/quote_form.html",
        context,
        fragment=FRAGMENTS.get(asked, ""),
        status=status,
    )
    if "promise" in context:  # the price goes by its kilns
        response["HX-Trigger-After-Settle"] = "planned"
    return response


def _price(commission: "Commission", form: QuoteForm) -> tuple[Priced | None, str]:
    """Price what the form says; a draft just opened has the studio's usual choices."""
    then = None
    if isinstance(form, AddendumForm):
        chosen = form.data.get("filled_from")
        if chosen not in set(RatesFrom):
            return None, "Choose above at which prices the change is made."
        then = base_quote(commission) if chosen == RatesFrom.VERSION else None
    choices = choices_typed(form)
    if choices is None:
        return None, "Put right what is marked below."
    try:
        priced = price_work(commission=commission, choices=choices, at_prices_of=then)
        return priced, ""
    except StudioError as problem:
        return None, str(problem)


def _price_context(priced: Priced) -> dict[str, Any]:
    price, viewer = priced.price, Viewer.of_studio(priced.studio)

    def money(amount: Decimal) -> str:
        return viewer.money(amount, price.currency)

    return {
        "sections": selectors.line_sections(
            price.lines, viewer=viewer, currency=price.currency
        ),
        "totals": selectors.totals(
            price.lines, net=price.net, total=price.total, write=money
        ),
        "total": money(price.total),
        "earned": money(price.earned_per_hour) if price.earned_per_hour else "",
        "hours": viewer.labour(int(price.minutes)),
        "margin": plain_number(round(price.margin_percent, 1)),
        "owing": owing_words(
            priced.commission,
            gallery_sells=priced.choices.gallery_sells,
            total=price.total,
            tax=price.tax,
            keeps=price.gallery_keeps,
            to_studio=price.to_studio,
            write=money,
        ),
        "parts": price_parts(price.lines, viewer=viewer, currency=price.currency),
        "warnings": priced.warnings,
        "kilns": _kiln_words(priced),
        "plan": [(part.label, money(part.amount)) for part in priced.plan],
    }


def _kiln_words(priced: Priced) -> str:
    """Say in which kilns the price has the work."""
    found = {
        f"{time.item.kind_words.lower()} in {time.item.kiln}"
        for time in priced.kiln_times
    }
    return ", ".join(sorted(found))


@require_safe
@requires(Can.SEE_MONEY)
def quote_detail(request: StudioRequest, pk: int) -> HttpResponse:
    """Show a quote: its lines, its paper, and how to send it.

    With ``?when=1`` also when its work could be ready now, and why not sooner.
    """
    quote = quote_or_404(request, pk)
    now = timezone.now()
    viewer = Viewer.of_studio(request.studio)
    view = selectors.view_quote(quote, at=now)
    # An addendum is for work that is in the plan already: its day is not reckoned anew.
    is_open = quote.adds_to_id is None and (view.may_be_sent or view.may_be_answered)
    wants_when = is_open and bool(request.GET.get("when"))
    when: dict[str, Any] = {}
    if wants_when:
        when = when_context_of_quote(quote, viewer=viewer_for(request), now=now)
    if wants_when and request.htmx:
        context = {"quote": quote, "is_open": is_open, **when}
        return render_page(
            request, "commissions/quote_detail.html", context, fragment="when"
        )
    paper = documents.paper_state(quote)
    link = live_link(quote.commission, at=now)
    url = share_url(request, link) if link and quote.sent_at else ""

    def money(amount: Decimal) -> str:
        return viewer.money(amount, quote.currency)

    context = {
        "view": view,
        "quote": quote,
        "commission": quote.commission,
        "facts": work_facts(
            CommissionWork.from_json(quote.inputs["work"]), viewer_for(request)
        ),
        "sections": selectors.line_sections(
            quote.lines.all(), viewer=viewer, currency=quote.currency
        ),
        "totals": selectors.totals_of(quote, viewer),
        "options": _options(quote, viewer),
        "shown": [
            (line.number, line.label, money(line.amount), line.is_shown)
            for line in quote.lines.all()
            if line.section != Section.TAX
        ],
        "owing": owing_of(quote, viewer),
        "parts": price_parts(quote.lines.all(), viewer=viewer, currency=quote.currency),
        "share_url": url,
        "link": link,
        "job": paper_job(
            paper,
            result_url=reverse("commissions:quote_pdf", args=[quote.pk]),
            poll_url=reverse("commissions:quote_paper_state", args=[quote.pk]),
        ),
        "contract_sha256": (
            paper.document.pdf_sha256 if quote.accepted_at and paper.document else ""
        ),
        "is_open": is_open,
        "may_record_acceptance": view.may_be_recorded
        and quote.commission.closed_at is None,
        "addendum": documents.addendum_texts(quote, viewer),
        "acceptance": selectors.acceptance_words(quote),
        **when,
        **(_letter(quote, url) if url and view.may_be_answered else {}),
    }
    return render_page(request, "commissions/quote_detail.html", context)


def _options(quote: "Quote", viewer: Viewer) -> list[dict[str, Any]]:
    """Return the options of a quote side by side; none where it is the only one."""
    every = selectors.options_of(quote) if quote.option else []
    return [
        {
            "quote": one,
            "is_this": one.pk == quote.pk,
            "total": viewer.money(one.total, one.currency),
            "facts": selectors.option_facts(one, viewer),
        }
        for one in every
    ]


def _letter(quote: "Quote", url: str) -> dict[str, str]:
    """Return words to send with the link, and a mailto address with them."""
    draft = quote_draft(quote, url)
    return {"letter": draft.text, "mailto": draft.mailto(quote.commission.client)}


@require_POST
@requires(Can.SEE_MONEY)
def quote_send(request: StudioRequest, pk: int) -> HttpResponse:
    """Put the quote on the client's page and order its PDF."""
    quote = quote_or_404(request, pk)
    try:
        send_quote(quote=quote, by=request.user, at=timezone.now())
    except StudioError as problem:
        messages.error(request, str(problem))
        return redirect("commissions:quote_detail", pk)
    messages.success(
        request, "The quote is on the client's page. Now send them the link below."
    )
    return redirect("commissions:quote_detail", pk)


@require_http_methods(["GET", "HEAD", "POST"])
@requires(Can.SEE_MONEY)
def quote_pdf(request: StudioRequest, pk: int) -> HttpResponse | FileResponse:
    """Send the PDF if it is there. POST has it made; looking never does."""
    quote = quote_or_404(request, pk)
    state = documents.paper_state(quote)
    if request.method == "POST":
        ask_for_paper(quote=quote)
    elif state.document is not None:
        return send_document(state.document, name=f"{_file_name(quote)}.pdf")
    return redirect("commissions:quote_paper_state", pk)


@require_http_methods(["GET", "HEAD", "POST"])
@requires(Can.SEE_MONEY)
def quote_accepted_pdf(request: StudioRequest, pk: int) -> HttpResponse | FileResponse:
    """Send the PDF with the acceptance, or say how far it is. POST has it made."""
    quote = quote_or_404(request, pk)
    if quote.accepted_at is None:
        raise Http404("This quote is not accepted.")
    if request.method == "POST":
        ask_for_accepted_paper(quote=quote)
        return redirect("commissions:quote_accepted_pdf", pk)
    state = documents.accepted_state(quote)
    if state.document is not None and not request.htmx:
        return send_document(state.document, name=f"{_file_name(quote)}-accepted.pdf")
    address = reverse("commissions:quote_accepted_pdf", args=[quote.pk])
    context = {
        "quote": quote,
        "commission": quote.commission,
        "job": paper_job(state, result_url=address, poll_url=address),
    }
    template = "_paper.html" if request.htmx else "quote_paper.html"
    return render_page(request, f"commissions/{template}", context)


def _file_name(quote: "Quote") -> str:
    return quote.name.replace(" ", "-")


@require_safe
@requires(Can.SEE_MONEY)
def quote_paper_state(request: StudioRequest, pk: int) -> HttpResponse:
    """Say whether the PDF is ready; the fragment asks again by itself."""
    quote = quote_or_404(request, pk)
    pdf_url = reverse("commissions:quote_pdf", args=[quote.pk])
    context = {
        "quote": quote,
        "commission": quote.commission,
        "job": paper_job(
            documents.paper_state(quote),
            result_url=pdf_url,
            poll_url=reverse("commissions:quote_paper_state", args=[quote.pk]),
        ),
    }
    if request.htmx:
        return render_page(request, "commissions/_paper.html", context)
    return render_page(request, "commissions/quote_paper.html", context)
