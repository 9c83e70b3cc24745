"""The client's link, opened and closed, and the news they read there."""

from typing import TYPE_CHECKING

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from commissions.forms.post import PostForm
from commissions.selectors import commissions as selectors
from commissions.selectors.client_page import pictures_of_pieces
from commissions.services.posts import post_again, post_news, withdraw_post
from commissions.services.sharing import (
    make_share_link,
    restore_share_link,
    revoke_share_link,
)
from commissions.views.found import commission_or_404
from studio.answers import FormPage, WayBack, answer_undo
from studio.http import (
    OK,
    StudioRequest,
    attempt,
    render_page,
    requires,
    say_done,
)
from studio.roles import Can

if TYPE_CHECKING:
    from commissions.models import Commission, Post


@require_POST
@requires(Can.SEE_MONEY)
def share_new(request: StudioRequest, pk: int) -> HttpResponse:
    """Make the client's private link."""
    commission = commission_or_404(request, pk)
    link = make_share_link(commission=commission, by=request.user, at=timezone.now())
    say_done(
        request,
        "The private link is ready to be sent.",
        undo_url=reverse("commissions:share_revoke", args=[link.pk]),
    )
    return redirect("commissions:commission_detail", pk)


@require_POST
@requires(Can.SEE_MONEY)
def share_revoke(request: StudioRequest, pk: int) -> HttpResponse:
    """Close a link."""
    link = get_object_or_404(selectors.share_links(request.studio), pk=pk)
    revoke_share_link(link=link, by=request.user, at=timezone.now())
    say_done(
        request,
        "The link is closed. Whoever opens it reads that it no longer works.",
        undo_url=reverse("commissions:share_restore", args=[pk]),
    )
    return redirect("commissions:commission_detail", link.commission_id)


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def share_restore(request: StudioRequest, pk: int) -> HttpResponse:
    """Let a closed link work again."""
    link = get_object_or_404(selectors.share_links(request.studio), pk=pk)
    now = timezone.now()
    page = FormPage(
        title="Open the link again",
        submit="Open it again",
        intro="The address that the client has works again.",
        **_back(link.commission),
    )
    return answer_undo(
        request,
        page,
        lambda reason: restore_share_link(
            link=link, reason=reason, by=request.user, at=now
        ),
        recorded_at=link.revoked_at or now,
        now=now,
        told="The link works again.",
    )


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def post_new(request: StudioRequest, pk: int) -> HttpResponse:
    """Post news for the client."""
    commission = commission_or_404(request, pk)
    pictures = pictures_of_pieces(commission)
    if request.method != "POST":
        return _page(request, commission, PostForm(pictures=pictures))
    form = PostForm(request.POST, request.FILES, pictures=pictures)
    posted: list[Post] = []
    status = attempt(
        form,
        lambda: posted.append(
            post_news(
                commission=commission,
                text=form.cleaned_data["text"],
                pictures=list(form.cleaned_data.get("pictures") or []),
                uploads=form.cleaned_data["uploads"],
                by=request.user,
                at=timezone.now(),
            )
        ),
    )
    if status != OK:
        return _page(request, commission, form, status=status)
    undo_url = reverse("commissions:post_withdraw", args=[posted[0].pk])
    say_done(request, "The news is on the client's page.", undo_url=undo_url)
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


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def post_withdraw(request: StudioRequest, pk: int) -> HttpResponse:
    """Take news off the client's page."""
    post = get_object_or_404(selectors.posts(request.studio), pk=pk)
    now = timezone.now()
    page = FormPage(
        title="Withdraw news",
        submit="Withdraw it",
        is_danger=True,
        intro="The client no longer sees it. You still do.",
        **_back(post.commission),
    )
    return answer_undo(
        request,
        page,
        lambda reason: withdraw_post(post=post, reason=reason, by=request.user, at=now),
        recorded_at=post.at,
        now=now,
        told="The client no longer sees this news.",
        undo_url=reverse("commissions:post_restore", args=[pk]),
    )


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def post_restore(request: StudioRequest, pk: int) -> HttpResponse:
    """Put withdrawn news back on the client's page."""
    post = get_object_or_404(selectors.posts(request.studio), pk=pk)
    now = timezone.now()
    page = FormPage(
        title="Post it again",
        submit="Post it again",
        intro="The client sees it again.",
        **_back(post.commission),
    )
    return answer_undo(
        request,
        page,
        lambda reason: post_again(post=post, reason=reason, by=request.user, at=now),
        recorded_at=post.withdrawn_at or now,
        now=now,
        told="The client sees this news again.",
        undo_url=reverse("commissions:post_withdraw", args=[pk]),
    )


def _back(commission: "Commission") -> WayBack:
    return {
        "back_url": reverse("commissions:commission_detail", args=[commission.pk]),
        "back_label": commission.title,
    }
