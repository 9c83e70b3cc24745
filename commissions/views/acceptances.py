"""Recording that a client accepted by letter, on the phone or at the bench."""

from typing import TYPE_CHECKING

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.utils.text import capfirst
from django.views.decorators.http import require_http_methods

from commissions.forms.answer import AcceptanceForm
from commissions.selectors.quotes import acceptance_words, day_of, quotes
from commissions.services.acceptances import record_acceptance, take_back_acceptance
from studio.answers import FormPage, WayBack, answer_form, answer_undo
from studio.http import StudioRequest, posted, requires
from studio.roles import Can
from studio.viewer import Viewer

if TYPE_CHECKING:
    from commissions.models import Quote


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def quote_acceptance_new(request: StudioRequest, pk: int) -> HttpResponse:
    """Record an acceptance; it has the same effect as on the client's page."""
    quote = get_object_or_404(quotes(request.studio), pk=pk)
    now = timezone.now()
    total = Viewer.of_studio(request.studio).money(quote.total, quote.currency)
    form = AcceptanceForm(
        posted(request),
        initial={
            "name": quote.commission.client.name,
            "day": day_of(request.studio, now),
        },
    )
    page = FormPage(
        title=f"Record an acceptance of {quote.name}",
        submit="Record it",
        facts=(str(quote.commission.client), total),
        **_back(quote),
    )
    return answer_form(
        request,
        page,
        form,
        lambda: record_acceptance(
            quote=quote, by=request.user, at=now, **form.cleaned_data
        ),
        told=f"{capfirst(quote.name)} is accepted.",
        undo_url=reverse("commissions:quote_acceptance_take_back", args=[pk]),
    )


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def quote_acceptance_take_back(request: StudioRequest, pk: int) -> HttpResponse:
    """Take back an acceptance that was recorded by mistake."""
    quote = get_object_or_404(quotes(request.studio), pk=pk)
    now = timezone.now()
    page = FormPage(
        title="Take the acceptance back",
        submit="Take it back",
        is_danger=True,
        intro=f"{acceptance_words(quote) or 'Nobody accepted it'}. "
        f"{capfirst(quote.name)} waits for an answer again.",
        **_back(quote),
    )
    return answer_undo(
        request,
        page,
        lambda reason: take_back_acceptance(
            quote=quote, reason=reason, by=request.user, at=now
        ),
        recorded_at=quote.acceptance_recorded_at or now,
        now=now,
        told="The acceptance is taken back.",
    )


def _back(quote: "Quote") -> WayBack:
    return {
        "back_url": reverse("commissions:quote_detail", args=[quote.pk]),
        "back_label": capfirst(quote.name),
    }
