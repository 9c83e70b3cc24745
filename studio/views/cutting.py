"""The cutting plan of a glass: drawn to scale, printed for the bench, marked as cut."""

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import FileResponse, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from studio import cutting_sheet as paper
from studio.answers import FormPage, PaperPage, answer_paper, form_page
from studio.errors import StudioError
from studio.forms.stock_moves import CuttingTermsForm
from studio.http import (
    OK,
    StudioRequest,
    posted,
    render_page,
    requires,
    say_done,
    viewer_for,
)
from studio.roles import Can
from studio.selectors import stock as reads
from studio.selectors.cutting import cutting_board, cutting_terms
from studio.services.cutting import mark_cut
from studio.views.saving import save_form

if TYPE_CHECKING:
    from studio.models import Glass


@require_safe
@requires(Can.SEE_WORK)
def glass_cutting(request: StudioRequest, pk: int) -> HttpResponse:
    """Show how the waiting layers of a glass are cut; `?quotes=1` adds those quoted."""
    glass = _glass(request, pk)
    viewer = viewer_for(request)
    with_quotes = "quotes" in request.GET
    board = cutting_board(request.studio, glass, with_quotes=with_quotes)
    context = {
        "glass": glass,
        "board": board,
        "drawn": paper.drawn(board, viewer),
        "words": paper.board_words(board, viewer),
        "legend": [(one, paper.legend_words(one, viewer)) for one in board.wanted],
        "cautions": paper.CAUTIONS,
        "problems": paper.problems(board, viewer),
        "with_quotes": with_quotes,
        "place": "stock",
    }
    return render_page(request, "studio/cutting_plan.html", context)


@require_POST
@requires(Can.RECORD_WORK)
def glass_cut(request: StudioRequest, pk: int) -> HttpResponse:
    """Record that one sheet was cut as the plan shows it."""
    glass = _glass(request, pk)
    number = request.POST.get("number", "")
    try:
        move = mark_cut(
            glass=glass,
            number=int(number) if number.isdecimal() and len(number) < 6 else 0,
            key=request.POST.get("key", ""),
            by=request.user,
            at=timezone.now(),
        )
    except StudioError as problem:
        messages.error(request, problem.message)
    else:
        undo = reverse("studio:stock_move_take_back", args=[move.pk])
        say_done(request, "The sheet is cut.", undo_url=undo)
    return redirect("studio:glass_cutting", glass.pk)


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_WORK)
def glass_cutting_sheet(request: StudioRequest, pk: int) -> HttpResponse | FileResponse:
    """Send the PDF of the plan as it is now. POST has it made."""
    glass = _glass(request, pk)
    sheet = paper.cutting_sheet(cutting_board(request.studio, glass))
    key = paper.sheet_key(glass, sheet)
    page = PaperPage(
        title="Cutting plan for the bench",
        file_name="cutting-plan.pdf",
        key=key,
        job_name=paper.RENDER_JOB,
        arguments={"glass_id": glass.pk},
        url=reverse("studio:glass_cutting_sheet", args=[glass.pk]),
        back_url=reverse("studio:glass_cutting", args=[glass.pk]),
        back_label=glass.name,
        place="stock",
    )
    return answer_paper(request, page)


@require_http_methods(["GET", "POST"])
@requires(Can.PLAN_PIECES)
def stock_cutting_terms(request: StudioRequest) -> HttpResponse:
    """Change kerf, grinding and the smallest offcut that is kept."""
    form = CuttingTermsForm(
        posted(request),
        instance=cutting_terms(request.studio),
        studio=request.studio,
        viewer=viewer_for(request),
    )
    status = OK
    if request.method == "POST":
        status = save_form(request, form)
        if status == OK:
            messages.success(request, "Saved.")
            return redirect("studio:stock")
    page = FormPage(
        title="Cutting allowances",
        submit="Save",
        back_url=reverse("studio:stock"),
        back_label="Stock",
        place="stock",
    )
    return form_page(request, page, form, status)


def _glass(request: StudioRequest, pk: int) -> "Glass":
    return get_object_or_404(reads.glasses(request.studio), pk=pk)
