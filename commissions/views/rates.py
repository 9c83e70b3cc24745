"""The page of the studio's rates."""

from dataclasses import asdict

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from commissions.forms.quote import RatesForm
from commissions.selectors.rates import StudioRates, studio_rates
from commissions.services.rates import set_rates
from studio.http import (
    OK,
    StudioRequest,
    attempt,
    render_page,
    requires,
)
from studio.roles import Can


@require_http_methods(["GET", "POST"])
@requires(Can.MANAGE_STUDIO)
def rates_edit(request: StudioRequest) -> HttpResponse:
    """Set the rates that the next quote starts from."""
    currency = request.studio.currency
    if request.method != "POST":
        shown = asdict(studio_rates(request.studio))
        form = RatesForm(currency=currency, initial=RatesForm.tidy(shown))
        return _page(request, form)
    form = RatesForm(request.POST, currency=currency)
    status = attempt(
        form,
        lambda: set_rates(
            studio=request.studio,
            rates=StudioRates(**form.cleaned_data),
            by=request.user,
            at=timezone.now(),
        ),
    )
    if status != OK:
        return _page(request, form, status=status)
    messages.success(request, "The rates are saved. Quotes already made keep theirs.")
    return redirect("commissions:rates_edit")


def _page(request: StudioRequest, form: RatesForm, status: int = OK) -> HttpResponse:
    return render_page(
        request, "commissions/rates_form.html", {"form": form}, status=status
    )
