"""Labels and registration sheets of a piece: chosen, laid out by the worker, sent."""

from typing import TYPE_CHECKING

from django.http import FileResponse, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from studio.forms.labels import LabelForm
from studio.forms.registration import RegistrationForm
from studio.http import StudioRequest, origin_of, piece_or_404, requires
from studio.label_papers import RENDER_JOB as LABEL_JOB
from studio.label_papers import WHOLE, label_key, label_paper, usual_stock
from studio.label_sheets import stock_of
from studio.registration_papers import RENDER_JOB as REGISTRATION_JOB
from studio.registration_papers import (
    registration_key,
    registration_paper,
    tiling_of,
)
from studio.roles import Can
from studio.views.papers import ChosenPage, Order, answer_chosen, chosen

if TYPE_CHECKING:
    from studio.models import Piece

TRUE_SCALE = "Print at 100 %, without fitting to the page."


def _page(piece: "Piece", title: str, intro: str) -> ChosenPage:
    name = title.lower().replace(" ", "-")
    return ChosenPage(
        title=title,
        intro=intro,
        back_url=reverse("studio:piece_detail", args=[piece.pk]),
        back_label=piece.title,
        file_name=f"{name}-{piece.pk}.pdf",
        hint=TRUE_SCALE,
    )


@require_http_methods(["GET", "HEAD", "POST"])
@requires(Can.SEE_WORK)
def piece_labels(request: StudioRequest, pk: int) -> HttpResponse | FileResponse:
    """Choose labels; the address then says which, and POST has them made."""
    view = piece_or_404(request, pk)
    form = LabelForm(
        chosen(request, "numbers"),
        view=view,
        initial={
            "numbers": [WHOLE, *(one.layer.number for one in view.layers)],
            "stock": usual_stock(request.studio).key,
            "first": 1,
        },
    )

    def order() -> Order:
        given = form.cleaned_data | {"origin": origin_of(request)}
        stock = stock_of(given["stock"])
        assert stock is not None  # noqa: S101 - the form has no other
        paper = label_paper(view, **(given | {"stock": stock}))
        return Order(
            key=label_key(view, paper),
            job_name=LABEL_JOB,
            arguments={"piece_id": pk} | given,
        )

    page = _page(
        view.piece,
        "Labels",
        "Each label has a code that a phone's camera opens: the layer's own page, "
        "after signing in.",
    )
    return answer_chosen(request, page, form, order)


@require_http_methods(["GET", "HEAD", "POST"])
@requires(Can.SEE_WORK)
def piece_registration(request: StudioRequest, pk: int) -> HttpResponse | FileResponse:
    """Choose registration sheets; POST has them made."""
    view = piece_or_404(request, pk)
    painted = [one.layer.number for one in view.layers if one.layer.planned_passes]
    form = RegistrationForm(
        chosen(request, "numbers"),
        view=view,
        initial={"numbers": painted, "face": "front"},
    )

    def order() -> Order:
        given = form.cleaned_data
        paper = registration_paper(view, given["numbers"], face=given["face"])
        return Order(
            key=registration_key(view, paper),
            job_name=REGISTRATION_JOB,
            arguments={"piece_id": pk} | given,
        )

    sheets = len(tiling_of(registration_paper(view, [], face="front")).tiles)
    spread = f" Each layer takes {sheets} sheets of paper." if sheets > 1 else ""
    page = _page(
        view.piece,
        "Registration sheets",
        "True scale: the outline, four marks in the same place on every sheet, and "
        f"the layer's newest picture.{spread}",
    )
    return answer_chosen(request, page, form, order)
