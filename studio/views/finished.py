"""Finished work: where it is, what comes back when, and lists for a show."""

import re

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import FileResponse, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from studio.answers import FormPage, answer_form, answer_undo
from studio.forms.finished import MoveForm, ShowListForm
from studio.http import (
    StudioRequest,
    piece_or_404,
    posted,
    render_page,
    requires,
    viewer_for,
)
from studio.roles import Can
from studio.selectors import finished
from studio.selectors.task_times import local_day
from studio.selectors.whereabouts import moves, moves_of, whereabouts_words
from studio.services.finished import move_works, take_back_move
from studio.show_list import RENDER_JOB, list_key, show_list
from studio.views.papers import ChosenPage, Order, answer_chosen, chosen

WORKS_ON_A_PAGE = 40
PIECE = re.compile(r"[0-9]{1,9}")
AT_HAND, LEFT = "", "left"


@require_safe
@requires(Can.SEE_WORK)
def work_list(request: StudioRequest) -> HttpResponse:
    """Show where each finished piece is: what is the studio's still, or what left."""
    shown = LEFT if request.GET.get("show") == LEFT else AT_HAND
    address = reverse("studio:work_list")
    tabs = (("Here and out", AT_HAND), ("Sold and given", LEFT))
    context: dict[str, object] = {
        "place": "pieces",
        "shown": shown,
        "today": local_day(request.studio, timezone.now()),
        "tabs": [
            {
                "label": label,
                "href": f"{address}?show={key}" if key else address,
                "current": key == shown,
            }
            for label, key in tabs
        ],
    }
    if shown == LEFT:
        left = finished.pieces_that_left(request.studio)
        page = Paginator(left, WORKS_ON_A_PAGE).get_page(request.GET.get("page"))
        works = finished.works(request.studio, page.object_list)
        context |= {"page_obj": page}
    else:
        works = finished.works(request.studio, finished.pieces_at_hand(request.studio))
        context |= {"coming_back": finished.coming_back(works)}
    context |= {"places": finished.places(works)}
    return render_page(request, "studio/work_list.html", context)


@require_http_methods(["GET", "POST"])
@requires(Can.PLAN_PIECES)
def work_move(request: StudioRequest) -> HttpResponse:
    """Record where some finished pieces went."""
    now = timezone.now()
    ticked = [one for one in request.GET.getlist("pieces") if PIECE.fullmatch(one)]
    found = finished.pieces_at_hand(request.studio, also=ticked)
    works = finished.works(request.studio, found)
    form = MoveForm(
        posted(request),
        works=works,
        initial={
            "pieces": ticked,
            "day": local_day(request.studio, now),
            "kind": finished.likely_kind(works, ticked),
        },
    )
    page = FormPage(
        title="Move finished work",
        submit="Save",
        back_url=reverse("studio:work_list"),
        back_label="Finished work",
        place="pieces",
    )
    return answer_form(
        request,
        page,
        form,
        lambda: move_works(
            pieces=[one.piece for one in form.chosen],
            went=form.went,
            by=request.user,
            at=now,
        ),
        told="It is recorded where they are.",
    )


@require_safe
@requires(Can.SEE_WORK)
def piece_moves(request: StudioRequest, pk: int) -> HttpResponse:
    """Show where a piece was, those moves taken back struck out."""
    piece = piece_or_404(request, pk).piece
    rows = moves_of(piece)
    standing = next((one for one in rows if one.taken_back_at is None), None)
    context = {
        "piece": piece,
        "rows": [(one, whereabouts_words(one)) for one in rows],
        "last": standing,
        "place": "pieces",
    }
    return render_page(request, "studio/piece_moves.html", context)


@require_http_methods(["GET", "POST"])
@requires(Can.PLAN_PIECES)
def move_take_back(request: StudioRequest, pk: int) -> HttpResponse:
    """Take back where a piece went."""
    move = get_object_or_404(moves(request.studio), pk=pk)
    now = timezone.now()
    back = reverse("studio:piece_moves", args=[move.piece_id])
    if move.taken_back_at is not None:
        messages.info(request, "That was taken back already.")
        return redirect(back)
    page = FormPage(
        title="Take this back?",
        submit="Take it back",
        back_url=back,
        back_label=move.piece.title,
        place="pieces",
        facts=(whereabouts_words(move),),
    )
    return answer_undo(
        request,
        page,
        lambda reason: take_back_move(
            move=move, reason=reason, by=request.user, at=now
        ),
        recorded_at=move.at,
        now=now,
        told="It is taken back.",
    )


@require_http_methods(["GET", "HEAD", "POST"])
@requires(Can.SEE_WORK)
def work_paper(request: StudioRequest) -> HttpResponse | FileResponse:
    """Choose the works of a list for a show; POST has it made."""
    works = finished.works(request.studio, finished.pieces_at_hand(request.studio))
    form = ShowListForm(
        chosen(request, "title"),
        works=works,
        viewer=viewer_for(request),
        initial={
            "pieces": request.GET.getlist("pieces")
            or [one.piece.pk for one in works if one.move is None],
            "has_prices": True,
            "has_labels": True,
        },
    )

    def order() -> Order:
        given = {"has_prices": False} | form.cleaned_data
        paper = show_list(request.studio, **given)
        return Order(
            key=list_key(request.studio, paper), job_name=RENDER_JOB, arguments=given
        )

    page = ChosenPage(
        title="List of works",
        intro="For a show or a gallery: the works with size, edition and price, and a "
        "wall label for each.",
        back_url=reverse("studio:work_list"),
        back_label="Finished work",
        file_name="list-of-works.pdf",
    )
    return answer_chosen(request, page, form, order)
