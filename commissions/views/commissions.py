"""The list of commissions, a new one, and the page of one commission."""

from typing import TYPE_CHECKING, Any
from uuid import uuid4

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from commissions.forms.closing import CloseForm
from commissions.forms.commission import AgreedDayForm, CommissionForm
from commissions.selectors import commissions as selectors
from commissions.selectors.beside_the_quote import beside_the_quote
from commissions.selectors.clients import clients
from commissions.selectors.done import done
from commissions.selectors.owing import owing_of
from commissions.selectors.parts import (
    asked_too_much,
    commission_invoices,
    parts_of,
)
from commissions.selectors.quotes import day_of
from commissions.selectors.share_links import closed_links, live_link
from commissions.selectors.work import CommissionWork, work_facts
from commissions.services import intake
from commissions.services.promises import agree_date, check_again
from commissions.views.client_page import share_url
from commissions.views.found import commission_or_404
from studio.errors import StudioError
from studio.http import (
    OK,
    StudioRequest,
    attempt,
    render_page,
    requires,
    viewer_for,
)
from studio.roles import Can
from studio.selectors.edges import edge_of
from studio.selectors.named import has_words, typed_words
from studio.selectors.pictures import looks_of_pieces
from studio.viewer import Viewer, day_words

if TYPE_CHECKING:
    from django.http import QueryDict

    from commissions.models import Commission

ON_A_PAGE = 20


@require_safe
@requires(Can.SEE_MONEY)
def commission_list(request: StudioRequest) -> HttpResponse:
    """List the open commissions, those that are done, or the closed ones, or a search."""
    now = timezone.now()
    asked = request.GET.get("show", "")
    words = typed_words(request.GET.get("q", ""))
    everything = selectors.commissions(request.studio).filter(
        has_words(words, "title", "client__name")
    )
    finished = done(request.studio).values("pk")
    unclosed = everything.filter(closed_at__isnull=True)
    tabs = {
        "": unclosed.exclude(pk__in=finished),
        "done": unclosed.filter(pk__in=finished),
        "closed": everything.filter(closed_at__isnull=False),
    }
    show = asked if asked in tabs else ""
    page = Paginator(tabs[show], ON_A_PAGE).get_page(request.GET.get("page"))
    ids = [commission.pk for commission in page.object_list]
    found = selectors.commissions(request.studio).filter(pk__in=ids)
    address = reverse("commissions:commission_list")
    context = {
        "rows": selectors.view_commissions(request.studio, found, at=now),
        "page_obj": page,
        "q": " ".join(words),
        "show": show,
        "tabs": [
            {
                "label": label,
                "href": address
                + (f"?{query}" if (query := _query(name, " ".join(words))) else ""),
                "current": show == name,
                "count": tabs[name].count(),
            }
            for label, name in (("Open", ""), ("Done", "done"), ("Closed", "closed"))
        ],
    }
    return render_page(request, "commissions/commission_list.html", context)


def _query(show: str, text: str) -> str:
    asked = {"show": show, "q": text}
    return urlencode({name: value for name, value in asked.items() if value})


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def commission_new(request: StudioRequest) -> HttpResponse:
    """Make a new commission; its quote comes next."""
    viewer = viewer_for(request)
    if request.method != "POST":
        asked = request.GET.get("client", "")
        is_id = asked.isascii() and asked.isdigit() and len(asked) < 19
        chosen = clients(request.studio).filter(pk=asked if is_id else 0).first()
        form = CommissionForm(
            studio=request.studio,
            viewer=viewer,
            initial={
                "client": chosen.pk if chosen else None,
                "request_key": uuid4().hex,
            },
        )
        return _form_page(request, form)
    form = CommissionForm(
        request.POST, request.FILES, studio=request.studio, viewer=viewer
    )
    taken_in: list[Commission] = []
    status = attempt(
        form,
        lambda: taken_in.append(
            intake.take_in(
                studio=request.studio,
                **_from(form),
                by=request.user,
                at=timezone.now(),
                request_key=form.cleaned_data["request_key"],
            )
        ),
    )
    if status != OK:
        return _form_page(request, form, status=status)
    return redirect("commissions:quote_new", taken_in[0].pk)


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def commission_edit(request: StudioRequest, pk: int) -> HttpResponse:
    """Change the brief; what is accepted stands until an addendum to it is."""
    commission = commission_or_404(request, pk)
    viewer = viewer_for(request)
    if request.method != "POST":
        form = CommissionForm(
            studio=request.studio,
            viewer=viewer,
            initial=CommissionForm.initial_of(commission),
        )
        return _form_page(request, form, commission=commission)
    form = CommissionForm(
        request.POST,
        request.FILES,
        studio=request.studio,
        viewer=viewer,
        initial=CommissionForm.initial_of(commission),
    )
    status = attempt(
        form,
        lambda: intake.change(
            commission=commission, **_from(form), by=request.user, at=timezone.now()
        ),
    )
    if status != OK:
        return _form_page(request, form, commission=commission, status=status)
    messages.success(request, "The commission is changed.")
    return redirect("commissions:commission_detail", pk)


def _from(form: CommissionForm) -> dict[str, Any]:
    data = form.cleaned_data
    return {
        "client": data["client"],
        "new_client": {
            "name": data["client_name"],
            "email": data["client_email"],
            "phone": data["client_phone"],
        },
        "reference_file": data["reference_file"] or None,
        "facts": form.facts,
    }


def _form_page(
    request: StudioRequest,
    form: CommissionForm,
    *,
    commission: "Commission | None" = None,
    status: int = OK,
) -> HttpResponse:
    context = {
        "form": form,
        "commission": commission,
        "has_clients": clients(request.studio).exists(),
        "has_glass": form.glasses.exists(),
        "must_choose_file_again": bool(request.FILES),
    }
    return render_page(
        request, "commissions/commission_form.html", context, status=status
    )


@require_safe
@requires(Can.SEE_MONEY)
def commission_detail(request: StudioRequest, pk: int) -> HttpResponse:
    """Show one commission: facts, stage, quotes, pieces, money, link, news."""
    return detail_page(request, commission_or_404(request, pk))


def detail_page(
    request: StudioRequest,
    commission: "Commission",
    *,
    close_form: CloseForm | None = None,
    day_form: AgreedDayForm | None = None,
    status: int = OK,
) -> HttpResponse:
    """Show the page, perhaps with a form on it to be corrected."""
    now = timezone.now()
    viewer = viewer_for(request)
    view = selectors.view_commission(commission, at=now)
    commission = view.commission
    link = live_link(commission, at=now)
    work = CommissionWork.of(commission)
    accepted = view.accepted
    agreed = (
        CommissionWork.from_json(accepted.quote.inputs["work"]) if accepted else work
    )
    today = day_of(request.studio, now)
    invoices = commission_invoices(commission)
    parts = parts_of(view.money, invoices, today=today)
    context = {
        "parts": parts,
        "asked_too_much": asked_too_much(view.money, invoices),
        "open_invoices": [
            one for part in parts for one in part.invoices if one.open > 0
        ],
        "pressing": None
        if view.is_closed
        else next((one for one in parts if one.is_pressing), None),
        "notes": [one for one in invoices if one.is_credit],
        "view": view,
        "commission": commission,
        "agreed": agreed,
        "differs": beside_the_quote(commission, view.piece.piece)
        if accepted and accepted.quote.adds_to_id and view.piece
        else [],
        "owing": []
        if view.shown_quote is None
        else owing_of(view.shown_quote.quote, Viewer.of_studio(request.studio)),
        "facts": _facts(commission, work, viewer),
        "stages": selectors.stage_steps(view),
        "stacks": _stacks(view),
        "payments": commission.payments.select_related("receipt"),
        "credits": [] if view.is_closed else selectors.credits_for(commission, at=now),
        "closed_links": [] if link else closed_links(commission, at=now),
        "posts": selectors.posts(request.studio).filter(commission=commission),
        "link": link,
        "share_url": share_url(request, link) if link else "",
        "close_form": close_form or close_form_of(view),
        "news": view.promise_news,
        "day_form": day_form or _day_form(view),
        "today": today,
    }
    return render_page(
        request, "commissions/commission_detail.html", context, status=status
    )


def close_form_of(
    view: selectors.CommissionView, data: "QueryDict | None" = None
) -> CloseForm:
    """Return the form that closes it; it asks about money only where some came in."""
    return CloseForm(data, paid=view.money.paid, currency=view.money.currency)


def _day_form(view: selectors.CommissionView) -> AgreedDayForm:
    """Start with the day that could be promised now."""
    news = view.promise_news
    return AgreedDayForm(initial={"day": news.new_date if news else None})


@require_POST
@requires(Can.SEE_MONEY)
def commission_check_day(request: StudioRequest, pk: int) -> HttpResponse:
    """Have the promised day checked again."""
    commission = commission_or_404(request, pk)
    try:
        check_again(commission=commission, by=request.user, at=timezone.now())
    except StudioError as problem:
        messages.error(request, str(problem))
    else:
        messages.success(request, "The day is being worked out again.")
    return redirect("commissions:commission_detail", pk)


@require_POST
@requires(Can.SEE_MONEY)
def commission_agree_day(request: StudioRequest, pk: int) -> HttpResponse:
    """Save another day that was agreed with the client."""
    commission = commission_or_404(request, pk)
    form = AgreedDayForm(request.POST)
    status = attempt(
        form,
        lambda: agree_date(
            commission=commission,
            by=request.user,
            at=timezone.now(),
            **form.cleaned_data,
        ),
    )
    if status != OK:
        return detail_page(request, commission, day_form=form, status=status)
    messages.success(request, f"Ready by {day_words(form.cleaned_data['day'])}.")
    return redirect("commissions:commission_detail", pk)


def _stacks(view: selectors.CommissionView) -> list[tuple[str, dict[str, object]]]:
    """Return the pieces that were made, the maquette after the piece."""
    found = (("The piece", view.piece), ("Its maquette", view.maquette))
    made = [(name, piece) for name, piece in found if piece is not None]
    looks = looks_of_pieces(
        view.commission.studio, [piece.piece.pk for _, piece in made]
    )
    return [
        (name, {"piece": piece, "picture": picture})
        if (picture := looks.get(piece.piece.pk))
        else (name, {"piece": piece, "edge": edge_of(piece)})
        for name, piece in made
    ]


def _facts(
    commission: "Commission", work: CommissionWork, viewer: Viewer
) -> list[tuple[object, ...]]:
    client = reverse("commissions:client_detail", args=[commission.client_id])
    facts: list[tuple[object, ...]] = [("Client", commission.client, client)]
    facts += work_facts(work, viewer)
    facts.append(("Dams", "yes" if commission.is_dammed else "no"))
    if commission.gallery_cut_percent:
        percent = commission.gallery_cut_percent.normalize()
        who = commission.gallery or "Gallery"
        facts.append((f"{who} keeps", f"{percent:f} %"))
    if commission.gallery_sells:
        facts.append(("Sold by", commission.gallery or "the gallery"))
    if commission.gallery_returns_date:
        back = f"{commission.gallery_returns_date:%a %-d %b %Y}"
        facts.append(("Unsold, back on", back))
    if commission.wanted_by_date:
        facts.append(("Wanted by", f"{commission.wanted_by_date:%a %-d %b %Y}"))
    return facts
