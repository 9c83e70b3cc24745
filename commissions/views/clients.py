"""The pages of clients."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from commissions.forms.client import ClientForm
from commissions.selectors import commissions as selectors
from commissions.selectors.clients import clients
from commissions.selectors.invoices import invoices, view_invoices
from commissions.selectors.letters import letters_to
from commissions.selectors.quotes import day_of
from commissions.selectors.reminders import with_reminders
from commissions.services.clients import change_client
from studio.http import (
    OK,
    StudioRequest,
    attempt,
    render_page,
    requires,
)
from studio.roles import Can
from studio.selectors.named import has_words, typed_words

ON_A_PAGE = 50
LATEST = 20
FIELDS = ("name", "email", "phone", "address", "tax_status", "tax_number", "note")


@require_safe
@requires(Can.SEE_MONEY)
def client_list(request: StudioRequest) -> HttpResponse:
    """List the clients by name, or those whose name or address holds a text."""
    words = typed_words(request.GET.get("q", ""))
    found = clients(request.studio).filter(has_words(words, "name", "email"))
    page = Paginator(found, ON_A_PAGE).get_page(request.GET.get("page"))
    context = {"page_obj": page, "q": " ".join(words)}
    return render_page(request, "commissions/client_list.html", context)


@require_safe
@requires(Can.SEE_MONEY)
def client_detail(request: StudioRequest, pk: int) -> HttpResponse:
    """Show a client with their commissions."""
    client = get_object_or_404(clients(request.studio), pk=pk)
    found = selectors.commissions(request.studio).filter(client=client)
    now = timezone.now()
    newest = invoices(request.studio).filter(client=client)[:LATEST]
    context = {
        "invoices": with_reminders(
            view_invoices(request.studio, newest, today=day_of(request.studio, now))
        ),
        "client": client,
        "letters": letters_to(client)[:LATEST],
        "facts": [
            (word, value)
            for word, value in (
                ("E-mail address", client.email),
                ("Telephone", client.phone),
                (
                    "Tax",
                    client.get_tax_status_display()
                    if client.tax_status != "taxed"
                    else "",
                ),
                ("Tax number", client.tax_number),
            )
            if value
        ],
        "rows": selectors.view_commissions(request.studio, found, at=now),
    }
    return render_page(request, "commissions/client_detail.html", context)


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def client_edit(request: StudioRequest, pk: int) -> HttpResponse:
    """Correct a client's details."""
    client = get_object_or_404(clients(request.studio), pk=pk)
    if request.method != "POST":
        form = ClientForm(initial={name: getattr(client, name) for name in FIELDS})
        return render_page(
            request, "commissions/client_form.html", {"form": form, "client": client}
        )
    form = ClientForm(request.POST)
    status = attempt(
        form,
        lambda: change_client(
            client=client, **form.cleaned_data, by=request.user, at=timezone.now()
        ),
    )
    if status != OK:
        context = {"form": form, "client": client}
        return render_page(
            request, "commissions/client_form.html", context, status=status
        )
    messages.success(request, "The client's details are saved.")
    return redirect("commissions:client_detail", pk)
