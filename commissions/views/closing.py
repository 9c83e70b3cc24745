"""Closing a commission that will not be made, and putting that right."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from commissions.selectors.commissions import view_commission
from commissions.services.closing import (
    close_again,
    close_commission,
    reopen_commission,
)
from commissions.views.commissions import close_form_of, detail_page
from commissions.views.found import commission_or_404
from studio.answers import FormPage, answer_undo
from studio.http import OK, StudioRequest, attempt, requires, say_done
from studio.roles import Can


@require_POST
@requires(Can.SEE_MONEY)
def commission_close(request: StudioRequest, pk: int) -> HttpResponse:
    """Close a commission: work stops, its money is settled, and its kilns are freed."""
    commission = commission_or_404(request, pk)
    now = timezone.now()
    form = close_form_of(view_commission(commission, at=now), request.POST)
    told: list[str] = []
    status = attempt(
        form,
        lambda: told.extend(
            close_commission(
                commission=commission, by=request.user, at=now, **form.cleaned_data
            ).sentences
        ),
    )
    if status != OK:
        return detail_page(request, commission, close_form=form, status=status)
    undo_url = reverse("commissions:commission_reopen", args=[pk])
    say_done(request, "The commission is closed.", undo_url=undo_url)
    for sentence in told:
        messages.info(request, sentence)
    return redirect("commissions:commission_detail", pk)


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def commission_reopen(request: StudioRequest, pk: int) -> HttpResponse:
    """Reopen a closed commission: at once if it was just closed, later with a reason."""
    commission = commission_or_404(request, pk)
    if commission.closed_at is None:
        return redirect("commissions:commission_detail", pk)
    now = timezone.now()
    page = FormPage(
        title=f"Reopen {commission.title}",
        submit="Reopen it",
        intro="The work goes on where it was left. Kilns have to be booked anew, and "
        "money that was paid back stays paid back.",
        back_url=reverse("commissions:commission_detail", args=[pk]),
        back_label=commission.title,
    )
    return answer_undo(
        request,
        page,
        lambda reason: reopen_commission(
            commission=commission, reason=reason, by=request.user, at=now
        ),
        recorded_at=commission.closed_at,
        now=now,
        told="The commission is open again. Book its kilns anew.",
        undo_url=reverse("commissions:commission_close_again", args=[pk]),
    )


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def commission_close_again(request: StudioRequest, pk: int) -> HttpResponse:
    """Close again what was reopened by mistake, on the same terms."""
    commission = commission_or_404(request, pk)
    if commission.reopened_at is None:
        return redirect("commissions:commission_detail", pk)
    now = timezone.now()
    page = FormPage(
        title=f"Close {commission.title} again",
        submit="Close it again",
        is_danger=True,
        intro=f"As before: {commission.closed_reason}.",
        back_url=reverse("commissions:commission_detail", args=[pk]),
        back_label=commission.title,
    )
    return answer_undo(
        request,
        page,
        lambda reason: close_again(
            commission=commission, reason=reason, by=request.user, at=now
        ),
        recorded_at=commission.reopened_at,
        now=now,
        told="The commission is closed again.",
        undo_url=reverse("commissions:commission_reopen", args=[pk]),
    )
