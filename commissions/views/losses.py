"""What is done about a lost piece: a remake, and words to the client."""

from typing import TYPE_CHECKING

from django.forms import Form
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from commissions.forms.loss import TellForm
from commissions.selectors.remakes import commissioned, remake_words, words_to_client
from commissions.services.remakes import (
    start_remake,
    take_back_remake,
    take_back_telling,
    tell_client,
)
from studio.answers import FormPage, WayBack, answer_form, answer_undo
from studio.http import StudioRequest, piece_or_404, posted, requires
from studio.roles import Can

if TYPE_CHECKING:
    from commissions.models import CommissionedPiece

SOME_SURVIVED = (
    " If some layers survived, take the loss back and make only the others again."
)


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def lost_remake(request: StudioRequest, pk: int) -> HttpResponse:
    """Start the remake of a lost piece; say what it takes first."""
    row = _row_or_404(request, pk)
    view = piece_or_404(request, pk)
    page = FormPage(
        title=f"Make {row.piece.title} again",
        submit="Start the remake",
        intro="A new piece is planned in this commission, and its day is worked out. "
        "The lost one stays on record. The client reads none of it before you tell "
        f"them.{'' if view.is_fused else SOME_SURVIVED}",
        facts=tuple(remake_words(row, view)),
        **_back(row),
    )
    return answer_form(
        request,
        page,
        Form(posted(request)),
        lambda: start_remake(piece=row.piece, by=request.user, at=timezone.now()),
        told="The remake is planned. Its day is being worked out.",
        undo_url=reverse("commissions:lost_remake_take_back", args=[pk]),
    )


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def lost_remake_take_back(request: StudioRequest, pk: int) -> HttpResponse:
    """Take back a remake on which no work has begun."""
    row = _row_or_404(request, pk)
    now = timezone.now()
    page = FormPage(
        title=f"Take back the remake of {row.piece.title}",
        submit="Take it back",
        is_danger=True,
        **_back(row),
    )
    return answer_undo(
        request,
        page,
        lambda reason: take_back_remake(
            lost=row.piece, reason=reason, by=request.user, at=now
        ),
        recorded_at=row.replaced_at or now,
        now=now,
        told="The remake is taken back.",
    )


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def lost_tell(request: StudioRequest, pk: int) -> HttpResponse:
    """Tell the client that their piece is lost, in the maker's words."""
    row = _row_or_404(request, pk)
    page = FormPage(
        title="Tell the client",
        submit="Put it on their page",
        intro="From then on their page says that the piece was lost, and how far the "
        "remake is.",
        **_back(row),
    )
    form = TellForm(posted(request), initial={"text": words_to_client(row)})
    return answer_form(
        request,
        page,
        form,
        lambda: tell_client(
            piece=row.piece, by=request.user, at=timezone.now(), **form.cleaned_data
        ),
        told="The client's page says so now. Send them its link.",
        undo_url=reverse("commissions:lost_tell_take_back", args=[pk]),
    )


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def lost_tell_take_back(request: StudioRequest, pk: int) -> HttpResponse:
    """Take what the client was told off their page."""
    row = _row_or_404(request, pk)
    now = timezone.now()
    page = FormPage(
        title="Take it off the client's page",
        submit="Take it off",
        is_danger=True,
        **_back(row),
    )
    return answer_undo(
        request,
        page,
        lambda reason: take_back_telling(
            piece=row.piece, reason=reason, by=request.user, at=now
        ),
        recorded_at=row.loss_told_at or now,
        now=now,
        told="The client's page no longer says so.",
    )


def _row_or_404(request: StudioRequest, pk: int) -> "CommissionedPiece":
    return get_object_or_404(commissioned(request.studio), piece=pk)


def _back(row: "CommissionedPiece") -> WayBack:
    commission = row.commission
    return {
        "back_url": reverse("commissions:commission_detail", args=[commission.pk]),
        "back_label": commission.title,
    }
