"""The page that changes the studio's currency."""

from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from studio.answers import FormPage, WayBack, answer_form, answer_undo
from studio.forms.currency import CurrencyForm
from studio.http import StudioRequest, posted, requires
from studio.roles import Can
from studio.selectors.prices_held import (
    kept_words,
    last_currency_change,
    prices_held,
    prices_words,
)
from studio.services.currency import change_currency, take_back_currency


@require_http_methods(["GET", "POST"])
@requires(Can.MANAGE_STUDIO)
def currency_edit(request: StudioRequest) -> HttpResponse:
    """Change the currency, and convert every price that is held in it."""
    studio = request.studio
    was, now = studio.currency, timezone.now()
    form = CurrencyForm(posted(request), was=was, count=len(prices_held(studio)))
    kept = "; ".join(kept_words(studio))
    page = FormPage(
        title="Currency",
        submit="Change the currency",
        intro=f"Prices are in {was}. "
        + (f"What keeps its currency: {kept}." if kept else ""),
        caution_title=f"Held in {was}" if prices_words(studio) else "",
        caution_points=tuple(prices_words(studio)),
        **_back(),
    )
    return answer_form(
        request,
        page,
        form,
        lambda: change_currency(
            studio=studio,
            was=form.cleaned_data["was"],
            currency=form.cleaned_data["currency"],
            rate=form.cleaned_data.get("rate"),
            by=request.user,
            at=now,
        ),
        told="The currency is changed.",
        undo_url=reverse("studio:currency_take_back"),
    )


@require_http_methods(["GET", "POST"])
@requires(Can.MANAGE_STUDIO)
def currency_take_back(request: StudioRequest) -> HttpResponse:
    """Take the last change of currency back, with every price it converted."""
    now = timezone.now()
    change = last_currency_change(request.studio)
    page = FormPage(
        title="Take the currency back",
        submit="Take it back",
        is_danger=True,
        intro=(
            f"Changed from {change.before} to {change.after}. Every price is what it was "
            "before."
            if change is not None
            else "The currency was not changed."
        ),
        **_back(),
    )
    return answer_undo(
        request,
        page,
        lambda reason: take_back_currency(
            studio=request.studio, reason=reason, by=request.user, at=now
        ),
        recorded_at=change.made_at if change is not None else now,
        now=now,
        told="The currency and every price are what they were.",
    )


def _back() -> WayBack:
    return {"back_url": reverse("studio:settings"), "back_label": "Settings"}
