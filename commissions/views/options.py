"""Options of a draft, of which the client picks one, and the lines they see."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from commissions.forms.option import OptionForm
from commissions.selectors.quotes import quotes
from commissions.selectors.work import CommissionWork
from commissions.services.options import draft_option, remove_option, show_lines
from studio.answers import FormPage, answer_form
from studio.errors import StudioError
from studio.http import StudioRequest, posted, requires, viewer_for
from studio.roles import Can


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def quote_option_new(request: StudioRequest, pk: int) -> HttpResponse:
    """Offer the same work in another size beside a draft."""
    quote = get_object_or_404(quotes(request.studio), pk=pk)
    work = CommissionWork.from_json(quote.inputs["work"])
    form = OptionForm(
        posted(request),
        viewer=viewer_for(request),
        is_promised=quote.promised_date is not None,
        initial={
            "promised_date": quote.promised_date,
            "width_mm": work.width_mm,
            "height_mm": work.height_mm,
            "layer_count": work.layer_count,
            "has_maquette": work.maquette is not None,
        },
    )
    page = FormPage(
        title="Another option",
        submit="Add the option",
        back_url=reverse("commissions:quote_detail", args=[pk]),
        back_label=f"Quote {quote.version}",
        place="commissions",
        is_paired=True,
    )
    return answer_form(
        request,
        page,
        form,
        lambda: draft_option(
            quote=quote, **form.cleaned_data, by=request.user, at=timezone.now()
        ),
        told="The option is added.",
    )


@require_POST
@requires(Can.SEE_MONEY)
def quote_option_remove(request: StudioRequest, pk: int) -> HttpResponse:
    """Remove an option that was not sent."""
    quote = get_object_or_404(quotes(request.studio), pk=pk)
    try:
        left = remove_option(quote=quote, by=request.user, at=timezone.now())
    except StudioError as problem:
        messages.error(request, str(problem))
        return redirect("commissions:quote_detail", pk)
    return redirect("commissions:quote_detail", left.pk)


@require_POST
@requires(Can.SEE_MONEY)
def quote_lines(request: StudioRequest, pk: int) -> HttpResponse:
    """Choose the lines that the client sees, one by one."""
    quote = get_object_or_404(quotes(request.studio), pk=pk)
    chosen = {
        int(n) for n in request.POST.getlist("line") if n.isascii() and n.isdigit()
    }
    try:
        show_lines(quote=quote, numbers=chosen, at=timezone.now())
    except StudioError as problem:
        messages.error(request, str(problem))
    else:
        messages.success(request, "The client sees the lines you ticked.")
    return redirect("commissions:quote_detail", pk)
