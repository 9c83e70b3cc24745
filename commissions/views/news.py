"""The client's link, made and revoked, and the news they read there."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from commissions.forms.post import PostForm
from commissions.selectors import commissions as selectors
from commissions.selectors.client_page import pictures_of_pieces
from commissions.services.posts import post_news, withdraw_post
from commissions.services.sharing import make_share_link, revoke_share_link
from commissions.views.found import commission_or_404
from studio.http import (
    OK,
    StudioRequest,
    attempt,
    render_page,
    requires,
)
from studio.roles import Can


@require_POST
@requires(Can.SEE_MONEY)
def share_new(request: StudioRequest, pk: int) -> HttpResponse:
    """Make the client's private link."""
    commission = commission_or_404(request, pk)
    make_share_link(commission=commission, by=request.user, at=timezone.now())
    messages.success(request, "The private link is ready to be sent.")
    return redirect("commissions:commission_detail", pk)


@require_POST
@requires(Can.SEE_MONEY)
def share_revoke(request: StudioRequest, pk: int) -> HttpResponse:
    """Revoke a link for good."""
    link = get_object_or_404(selectors.share_links(request.studio), pk=pk)
    revoke_share_link(link=link, by=request.user, at=timezone.now())
    messages.success(
        request, "The link is closed. Whoever opens it reads that it no longer works."
    )
    return redirect("commissions:commission_detail", link.commission_id)


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def post_new(request: StudioRequest, pk: int) -> HttpResponse:
    """Post news for the client."""
    commission = commission_or_404(request, pk)
    pictures = pictures_of_pieces(commission)
    if request.method != "POST":
        return _page(request, commission, PostForm(pictures=pictures))
    form = PostForm(request.POST, request.FILES, pictures=pictures)
    status = attempt(
        form,
        lambda: post_news(
            commission=commission,
            text=form.cleaned_data["text"],
            pictures=list(form.cleaned_data.get("pictures") or []),
            uploads=form.cleaned_data["uploads"],
            by=request.user,
            at=timezone.now(),
        ),
    )
    if status != OK:
        return _page(request, commission, form, status=status)
    messages.success(request, "The news is on the client's page.")
    return redirect("commissions:commission_detail", pk)


def _page(
    request: StudioRequest, commission: object, form: PostForm, *, status: int = OK
) -> HttpResponse:
    context = {
        "commission": commission,
        "form": form,
        "must_choose_file_again": bool(request.FILES),
    }
    return render_page(request, "commissions/post_form.html", context, status=status)


@require_POST
@requires(Can.SEE_MONEY)
def post_withdraw(request: StudioRequest, pk: int) -> HttpResponse:
    """Take news off the client's page."""
    post = get_object_or_404(selectors.posts(request.studio), pk=pk)
    withdraw_post(post=post, by=request.user, at=timezone.now())
    messages.success(request, "The client no longer sees this news.")
    return redirect("commissions:commission_detail", post.commission_id)
