"""The money page, lists for the bookkeeper, statements, and the studio as a business."""

import csv
from collections.abc import Callable, Iterable
from datetime import date
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.forms import model_to_dict
from django.http import FileResponse, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import require_http_methods, require_safe

from commissions.forms.invoice import BusinessForm, PeriodForm
from commissions.selectors import invoices as invoice_reads
from commissions.selectors import money_page
from commissions.selectors.business import (
    business_address,
    business_details,
    business_name,
)
from commissions.selectors.clients import clients
from commissions.selectors.kiln_months import month_to_invoice
from commissions.selectors.quotes import day_of
from commissions.selectors.reminders import with_reminders
from commissions.selectors.statements import statements
from commissions.services.business import set_business_details
from commissions.services.invoice_orders import ask_for_statement
from commissions.statement_papers import statement_state
from commissions.views.invoices import send_paper
from studio.answers import WayBack
from studio.archive import harmless
from studio.errors import StudioError
from studio.http import (
    FILLED_IN_WRONGLY,
    OK,
    StudioRequest,
    attempt,
    posted,
    render_page,
    requires,
)
from studio.roles import Can
from studio.selectors.named import has_words, typed_words

ON_A_PAGE = 30
LISTS: dict[str, Callable[..., Iterable[list[object]]]] = {
    "invoices": money_page.invoice_lines,
    "payments": money_page.payment_lines,
}


@require_safe
@requires(Can.SEE_MONEY)
def money_list(request: StudioRequest) -> HttpResponse:
    """Show what is owed, worst first, or other invoices; and the lists of a period."""
    return _money_page(request)


def _money_page(
    request: StudioRequest, *, period: PeriodForm | None = None, status: int = OK
) -> HttpResponse:
    now = timezone.now()
    studio, today = request.studio, day_of(request.studio, now)
    waiting = money_page.open_invoices(studio, today=today)
    words = typed_words(request.GET.get("q", ""))
    asked = request.GET.get("show", "")
    everything = invoice_reads.invoices(studio).filter(
        has_words(words, "title", "number", "client__name")
    )
    tabs = {
        "drafts": everything.filter(issued_at__isnull=True),
        "all": everything.filter(issued_at__isnull=False),
    }
    show = asked if asked in tabs else ""
    keys = {one.invoice.pk for one in waiting}
    if words:
        keys = set(everything.filter(pk__in=keys).values_list("pk", flat=True))
    shown = [one for one in waiting if one.invoice.pk in keys]
    counts = {"": len(shown), **{name: tab.count() for name, tab in tabs.items()}}
    listed: Any = tabs.get(show, shown)
    page = Paginator(listed, ON_A_PAGE).get_page(request.GET.get("page"))
    rows = (
        invoice_reads.view_invoices(studio, page.object_list, today=today)
        if show
        else with_reminders(list(page.object_list))
    )
    address = reverse("commissions:money_list")
    context = {
        "kiln_month": month_to_invoice(studio, now=now),
        "owed": money_page.owed_by_age(waiting),
        "rows": rows,
        "page_obj": page,
        "q": " ".join(words),
        "show": show,
        "tabs": [
            {
                "label": label,
                "href": f"{address}?{query}"
                if (query := _query(name, " ".join(words)))
                else address,
                "current": show == name,
                "count": counts[name],
            }
            for label, name in (
                ("Unpaid", ""),
                ("Drafts", "drafts"),
                ("All", "all"),
            )
        ],
        "period": period or PeriodForm(initial=_last_month(today)),
    }
    return render_page(request, "commissions/money_list.html", context, status=status)


def _query(show: str, text: str) -> str:
    asked = {"show": show, "q": text}
    return urlencode({name: value for name, value in asked.items() if value})


def _last_month(today: date) -> dict[str, object]:
    """Start with the month so far: the usual question."""
    return {"what": "invoices", "start": today.replace(day=1), "end": today}


@require_safe
@requires(Can.SEE_MONEY)
def money_csv(request: StudioRequest) -> HttpResponse:
    """Send a period's invoices or payments as a table for the bookkeeper."""
    form = PeriodForm(request.GET)
    if not form.is_valid():
        return _money_page(request, period=form, status=FILLED_IN_WRONGLY)
    what = form.cleaned_data["what"]
    start, end = form.cleaned_data["start"], form.cleaned_data["end"]
    response = HttpResponse(content_type="text/csv; charset=utf-8")
    name = f"{what}-{start:%Y-%m-%d}-to-{end:%Y-%m-%d}.csv"
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    # Spreadsheets take UTF-8 for what it is only behind this mark.
    response.write("\ufeff")
    writer = csv.writer(response)
    for row in LISTS[what](request.studio, start=start, end=end):
        writer.writerow([harmless(cell) for cell in row])
    return response


@require_safe
@requires(Can.SEE_MONEY)
def client_statement(request: StudioRequest, pk: int) -> HttpResponse:
    """Show a client's account, to be read, printed or sent."""
    client = get_object_or_404(clients(request.studio), pk=pk)
    client.studio = request.studio
    details = business_details(request.studio)
    today = day_of(request.studio, timezone.now())
    context = {
        "client": client,
        "statements": statements(client, today=today),
        "business_name": business_name(details),
        "business_address": business_address(details),
        "today": today,
    }
    return render_page(request, "commissions/client_statement.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@requires(Can.SEE_MONEY)
def client_statement_pdf(
    request: StudioRequest, pk: int
) -> HttpResponse | FileResponse:
    """Send the PDF of today's statement, or say how far it is. POST has it made."""
    client = get_object_or_404(clients(request.studio), pk=pk)
    client.studio = request.studio
    today = day_of(request.studio, timezone.now())
    address = reverse("commissions:client_statement", args=[pk])
    try:
        state = statement_state(client, today=today)
    except StudioError as problem:
        messages.error(request, str(problem))
        return redirect(address)
    if request.method == "POST":
        ask_for_statement(client=client, today=today)
        return redirect("commissions:client_statement_pdf", pk)
    back: WayBack = {"back_url": address, "back_label": f"Statement for {client}"}
    return send_paper(request, state, name=f"statement-{today:%Y-%m-%d}", back=back)


@require_http_methods(["GET", "POST"])
@requires(Can.MANAGE_STUDIO)
def business_edit(request: StudioRequest) -> HttpResponse:
    """Change what papers say of the studio, and how it is paid."""
    details = business_details(request.studio)
    form = BusinessForm(
        posted(request), initial=model_to_dict(details, exclude=["id", "studio"])
    )
    status = OK
    if request.method == "POST":
        status = attempt(
            form,
            lambda: set_business_details(
                studio=request.studio,
                **form.cleaned_data,
                by=request.user,
                at=timezone.now(),
            ),
        )
        if status == OK:
            messages.success(request, "The business details are saved.")
            return redirect("studio:settings")
    return render_page(
        request, "commissions/business_form.html", {"form": form}, status=status
    )
