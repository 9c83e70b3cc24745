"""Everything open to a client without an account: the pages behind a link.

The link's token is the only authority, so no cookie or cross-site token is needed:
anybody forging such a request would have to know the token first. It could not be
otherwise, as browsers send the origin "null" with forms from a page whose referrer
policy is "no-referrer".
"""

from collections.abc import Callable
from functools import wraps
from typing import TYPE_CHECKING, Any

from django.core.cache import cache
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from commissions import documents, invoice_papers
from commissions.forms.answer import AcceptForm, DeclineForm
from commissions.selectors.client_invoices import sent_invoices, shared_receipts
from commissions.selectors.client_page import (
    client_page,
    client_pictures,
    is_all_answered,
)
from commissions.selectors.commissions import view_commission
from commissions.selectors.quotes import (
    acceptance_words,
    accepted_words,
    day_of,
    quotes,
)
from commissions.selectors.share_links import find_link
from commissions.services.client_answers import accept_by_link, decline_by_link
from commissions.services.invoice_orders import ask_for_invoice, ask_for_receipt
from commissions.services.papers import ask_for_accepted_paper, ask_for_paper
from commissions.services.sharing import note_opened
from studio.documents import PaperState
from studio.errors import StudioError
from studio.http import HtmxRequest, client_address, public, send_document, send_picture
from studio.viewer import Viewer

if TYPE_CHECKING:
    from collections.abc import Callable

    from django.http import QueryDict

    from commissions.models import Quote, ShareLink
    from studio.models import Picture

WRONG_TOKENS = 20
WRONG_FOR_S = 600
PRIVATE = {
    "Referrer-Policy": "no-referrer",
    "X-Robots-Tag": "noindex, nofollow, noarchive",
    "Cache-Control": "no-store",
    "X-Content-Type-Options": "nosniff",
}

SharedView = Callable[..., HttpResponseBase]


def behind_link(view: SharedView) -> SharedView:
    """Open a view to anybody with a valid link; otherwise say kindly why not."""

    @csrf_exempt
    @public
    @wraps(view)
    def opened(request: HttpRequest, token: str, **kwargs: Any) -> HttpResponseBase:
        link = find_link(token)
        response: HttpResponseBase
        if link is None:
            response = _wrong_token(request)
        elif link.revoked_at is not None or link.expires_at <= timezone.now():
            why = "closed" if link.revoked_at is not None else "run out"
            response = _closed(request, why, link, status=410)
        else:
            try:
                response = view(request, link=link, token=token, **kwargs)
            except Http404:
                response = _closed(request, "nothing", link, status=404)
        for name, value in PRIVATE.items():
            response[name] = value
        return response

    return opened


def _wrong_token(request: HttpRequest) -> HttpResponse:
    """Answer a wrong token. A right one always works, however many people guess nearby."""
    key = f"wrong-share-token-{client_address(request)}"
    cache.add(key, 0, WRONG_FOR_S)
    try:
        count = cache.incr(key)
    except ValueError:  # It ran out between the two calls.
        count = 1
    if count > WRONG_TOKENS:
        return HttpResponse(
            "Too many links that do not exist. Please wait ten minutes.\n",
            status=429,
            content_type="text/plain; charset=utf-8",
        )
    return render(
        request, "commissions/shared_closed.html", {"why": "wrong"}, status=404
    )


def _closed(
    request: HttpRequest, why: str, link: "ShareLink", *, status: int
) -> HttpResponse:
    context = {
        "why": why,
        "studio": link.studio,
        "viewer": Viewer.of_studio(link.studio),
    }
    return render(request, "commissions/shared_closed.html", context, status=status)


@behind_link
@require_safe
def shared_page(request: HttpRequest, *, link: "ShareLink", token: str) -> HttpResponse:
    """Show the client the state of their commission."""
    note_opened(link=link, at=timezone.now())
    return _page(request, link, token)


def _depth_address(token: str) -> "Callable[[Picture], str]":
    """Return where a picture for the depth view is sent to the holder of this link."""
    return lambda picture: reverse(
        "commissions:shared_picture", args=[token, picture.pk, "depth"]
    )


def _page(
    request: HttpRequest,
    link: "ShareLink",
    token: str,
    *,
    accept_data: "QueryDict | None" = None,
    decline_form: DeclineForm | None = None,
    problem: str = "",
    status: int = 200,
) -> HttpResponse:
    now = timezone.now()
    viewer = Viewer.of_studio(link.studio)
    page = client_page(
        link.commission,
        viewer=viewer,
        at=now,
        address=_depth_address(token),
    )
    asked = page.to_answer
    meant = {"quote": asked.quote.pk} if asked is not None else {}
    context = {
        "page": page,
        "token": token,
        "studio": link.studio,
        "viewer": viewer,
        "now": now,
        "problem": problem,
        "again": accepted_words(page.quote.quote)
        if page.quote is not None and request.GET.get("again")
        else "",
        "accept_form": AcceptForm(
            accept_data,
            initial=meant,
            is_addendum=asked is not None and asked.quote.adds_to_id is not None,
        ),
        "decline_form": decline_form or DeclineForm(initial=meant),
        "care": documents.CARE,
        "options": [
            texts
            | {
                "is_chosen": accept_data is not None
                and accept_data.get("quote") == str(texts["quote"].pk)
            }
            for texts in documents.option_texts(page.view.options, viewer)
        ],
        **documents.client_texts(page.view, page.quote, page.work, viewer),
        **documents.answer_texts(asked, viewer),
        "invoices": invoice_papers.shared_invoices(
            link.commission, today=day_of(link.studio, now)
        ),
        "contracts": [
            (one.quote, acceptance_words(one.quote)) for one in page.view.contracts
        ],
    }
    return render(request, "commissions/shared_page.html", context, status=status)


def _meant_quote(link: "ShareLink", form: AcceptForm | DeclineForm) -> "Quote":
    """Return the quote a form was shown with: of this very commission, and sent."""
    found = quotes(link.studio).filter(
        commission_id=link.commission_id, sent_at__isnull=False
    )
    return get_object_or_404(found, pk=form.cleaned_data["quote"])


@behind_link
@require_POST
def shared_quote_accept(
    request: HttpRequest, *, link: "ShareLink", token: str
) -> HttpResponse:
    """Accept the quote that was read, never a newer one that arrived meanwhile.

    What is accepted already stays as it is, and the page says by whom and when.
    """
    address = reverse("commissions:shared_page", args=[token])
    # Looked at before the form: a page from earlier may hold any version or name.
    if is_all_answered(link.commission, at=timezone.now()):
        return redirect(f"{address}?again=1")
    form = AcceptForm(request.POST)
    if not form.is_valid():
        return _page(request, link, token, accept_data=request.POST, status=422)
    quote, now = _meant_quote(link, form), timezone.now()
    try:
        accepted = accept_by_link(quote=quote, name=form.cleaned_data["name"], at=now)
    except StudioError as problem:
        return _page(request, link, token, problem=str(problem), status=409)
    was_first = accepted.accepted_at == now
    return redirect(address if was_first else f"{address}?again=1")


@behind_link
@require_POST
def shared_quote_decline(
    request: HttpRequest, *, link: "ShareLink", token: str
) -> HttpResponse:
    """Decline the quote that was read."""
    form = DeclineForm(request.POST)
    if not form.is_valid():
        return _page(request, link, token, decline_form=form, status=422)
    quote = _meant_quote(link, form)
    try:
        decline_by_link(
            quote=quote, reason=form.cleaned_data["reason"], at=timezone.now()
        )
    except StudioError as problem:
        return _page(request, link, token, problem=str(problem), status=409)
    return redirect(reverse("commissions:shared_page", args=[token]))


@behind_link
@require_http_methods(["GET", "HEAD", "POST"])
def shared_quote_pdf(
    request: HtmxRequest, *, link: "ShareLink", token: str
) -> HttpResponse | FileResponse:
    """Send the PDF of the client's quote, or say how far it is. POST has it made."""
    shown = view_commission(link.commission, at=timezone.now()).client_quote
    if shown is None:
        raise Http404("There is no quote yet.")
    quote = quotes(link.studio).get(pk=shown.quote.pk)
    address = reverse("commissions:shared_quote_pdf", args=[token])
    return _send_or_make(request, link, token, quote, address)


@behind_link
@require_http_methods(["GET", "HEAD", "POST"])
def shared_version_pdf(
    request: HtmxRequest, *, link: "ShareLink", token: str, pk: int
) -> HttpResponse | FileResponse:
    """Send the PDF of any version that was sent."""
    found = quotes(link.studio).filter(commission_id=link.commission_id)
    quote = get_object_or_404(found, pk=pk, sent_at__isnull=False)
    address = reverse("commissions:shared_version_pdf", args=[token, pk])
    return _send_or_make(request, link, token, quote, address)


@behind_link
@require_http_methods(["GET", "HEAD", "POST"])
def shared_accepted_pdf(
    request: HtmxRequest, *, link: "ShareLink", token: str, pk: int
) -> HttpResponse | FileResponse:
    """Send the PDF of an accepted version with its acceptance."""
    found = quotes(link.studio).filter(commission_id=link.commission_id)
    quote = get_object_or_404(found, pk=pk, accepted_at__isnull=False)
    address = reverse("commissions:shared_accepted_pdf", args=[token, pk])
    return _send_or_make(request, link, token, quote, address, is_accepted=True)


def _send_or_make(
    request: HtmxRequest,
    link: "ShareLink",
    token: str,
    quote: "Quote",
    address: str,
    *,
    is_accepted: bool = False,
) -> HttpResponse | FileResponse:
    state_now, ask = (
        (documents.accepted_state, ask_for_accepted_paper)
        if is_accepted
        else (documents.paper_state, ask_for_paper)
    )
    return _answer_paper(
        request,
        link,
        token,
        state_now(quote),
        address,
        ask=lambda: ask(quote=quote),
        name=quote.name.replace(" ", "-"),
    )


@behind_link
@require_http_methods(["GET", "HEAD", "POST"])
def shared_invoice_pdf(
    request: HtmxRequest, *, link: "ShareLink", token: str, pk: int
) -> HttpResponse | FileResponse:
    """Send the PDF of an invoice that was sent to this client."""
    invoice = get_object_or_404(sent_invoices(link.commission), pk=pk)
    return _answer_paper(
        request,
        link,
        token,
        invoice_papers.paper_state(invoice),
        reverse("commissions:shared_invoice_pdf", args=[token, pk]),
        ask=lambda: ask_for_invoice(invoice=invoice),
        name=invoice.name.replace(" ", "-"),
        title="Your invoice",
    )


@behind_link
@require_http_methods(["GET", "HEAD", "POST"])
def shared_receipt_pdf(
    request: HtmxRequest, *, link: "ShareLink", token: str, pk: int
) -> HttpResponse | FileResponse:
    """Send the PDF of a receipt for an invoice that was sent to this client."""
    receipt = get_object_or_404(shared_receipts(link.commission), pk=pk)
    return _answer_paper(
        request,
        link,
        token,
        invoice_papers.receipt_state(receipt),
        reverse("commissions:shared_receipt_pdf", args=[token, pk]),
        ask=lambda: ask_for_receipt(receipt=receipt),
        name=f"receipt-{receipt.number}",
        title="Your receipt",
    )


def _answer_paper(
    request: HtmxRequest,
    link: "ShareLink",
    token: str,
    state: PaperState,
    address: str,
    *,
    ask: "Callable[[], None]",
    name: str,
    title: str = "Your quote",
) -> HttpResponse | FileResponse:
    """Send a PDF, have it made, or say how far it is."""
    if request.method == "POST":
        if state.name == "none":
            ask()
        return redirect(address)
    is_asking_again = bool(request.htmx)
    if state.document is not None and not is_asking_again:
        return send_document(state.document, name=f"{name}.pdf")
    return _paper(
        request,
        link,
        token,
        state,
        address,
        is_fragment=is_asking_again,
        title=title,
    )


def _paper(
    request: HttpRequest,
    link: "ShareLink",
    token: str,
    state: PaperState,
    address: str,
    *,
    is_fragment: bool,
    title: str,
) -> HttpResponse:
    texts = {
        "none": "The PDF is not made yet.",
        "ready": "The PDF is ready.",
        "making": "The PDF is being made.",
        "failed": (
            "The PDF cannot be made at present. Everything it says is on your page; "
            "the studio can send you the PDF later."
        ),
        "lost": f"{state.problem} Please ask the studio.",
    }
    context = {
        "studio": link.studio,
        "viewer": Viewer.of_studio(link.studio),
        "now": timezone.now(),
        "title": title,
        "back_url": reverse("commissions:shared_page", args=[token]),
        "job": {
            "state": "failed" if state.lost is not None else state.name,
            "text": texts[state.name],
            "poll_url": address,
            "result_url": address,
            "is_public": True,
        },
    }
    template = "_paper.html" if is_fragment else "shared_paper.html"
    return render(request, f"commissions/{template}", context)


@behind_link
@require_safe
def shared_picture(
    request: HttpRequest, *, link: "ShareLink", token: str, pk: int, size: str
) -> FileResponse:
    """Send a picture that this client may see."""
    picture = get_object_or_404(client_pictures(link.commission), pk=pk)
    return send_picture(picture, size=size)
