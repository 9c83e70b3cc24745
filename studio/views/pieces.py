"""The list of pieces, planning one, and the page of one piece."""

from datetime import datetime
from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from studio.answers import FormPage, answer_form
from studio.forms.pictures import PictureForm
from studio.forms.pieces import PieceDetailsForm, PieceForm
from studio.http import (
    OK,
    StudioRequest,
    attempt,
    piece_or_404,
    posted,
    render_page,
    requires,
    viewer_for,
    weight_fact,
)
from studio.panels import (
    PanelRequest,
    burn_actions,
    inspection_warnings,
    kiln_words,
    piece_panels,
)
from studio.roles import Can
from studio.selectors import history, pieces, stock
from studio.selectors.bench_times import tasks_of
from studio.selectors.depth import depth_of
from studio.selectors.edges import edge_of
from studio.selectors.named import has_words, typed_words
from studio.selectors.pictures import looks_of_pieces
from studio.selectors.piece_times import piece_times
from studio.selectors.pieces import PieceView, taken_out_layers
from studio.selectors.whereabouts import last_moves, whereabouts_words
from studio.services.details import change_details
from studio.services.pieces import CLEAR, LayerPlan, plan_piece
from studio.services.put_right import RECORDED
from studio.stages import LayerState, Stage
from studio.viewer import Viewer, count_words
from studio.views.display import STAGE_MARKS, LayerRow, PieceRow

if TYPE_CHECKING:
    from studio.models import Piece

PIECES_ON_A_PAGE = 20
LINES_OF_HISTORY = 10

TABS = {
    "": ("In work", pieces.pieces_in_work),
    "finished": ("Finished", pieces.finished_pieces),
    "all": ("All", pieces.pieces),
}


@require_safe
@requires(Can.SEE_WORK)
def piece_list(request: StudioRequest) -> HttpResponse:
    """List the pieces in work, the finished ones, or all."""
    shown = request.GET.get("show", "")
    shown = shown if shown in TABS else ""
    words = typed_words(request.GET.get("q", ""))
    text = " ".join(words)
    found = TABS[shown][1](request.studio).filter(has_words(words, "title"))
    page = Paginator(found, PIECES_ON_A_PAGE).get_page(request.GET.get("page"))
    views = pieces.view_pieces(page.object_list)
    asked = PanelRequest(viewer=viewer_for(request), now=timezone.now())
    inside = [view.piece for view in views if view.stage is Stage.IN_KILN]
    told = kiln_words(asked, inside)
    looks = looks_of_pieces(request.studio, [view.piece.pk for view in views])
    rows = [
        PieceRow.of(view, told.get(view.piece.pk, ""), looks.get(view.piece.pk, ""))
        for view in views
    ]
    address = reverse("studio:piece_list")
    context = {
        "rows": rows,
        "page_obj": page,
        "shown": shown,
        "q": text,
        "tabs": [
            {
                "label": label,
                "href": f"{address}?show={key}" if key else address,
                "current": key == shown,
            }
            for key, (label, _) in TABS.items()
        ],
    }
    return render_page(request, "studio/piece_list.html", context)


@require_http_methods(["GET", "POST"])
@requires(Can.PLAN_PIECES)
def piece_new(request: StudioRequest) -> HttpResponse:
    """Plan a piece for stock or a show; a commission's piece comes with its quote."""
    now = timezone.now()
    form = PieceForm(
        posted(request),
        studio=request.studio,
        viewer=viewer_for(request),
        initial={
            "maquette_of": request.GET.get("maquette_of"),
            "maker": request.user.pk,
        },
    )
    status = OK
    if request.method == "POST":
        made: list[Piece] = []
        status = attempt(form, lambda: made.append(_plan(request, form, now)))
        if status == OK:
            messages.success(request, f"{made[0].title} is planned.")
            return redirect("studio:piece_detail", made[0].pk)
    context = {
        "form": form,
        "has_glass": stock.glasses_in_use(request.studio).exists(),
    }
    return render_page(request, "studio/piece_form.html", context, status=status)


def _layers(chosen: dict[str, Any]) -> list[LayerPlan]:
    """Return the layers from the back, caps in front."""
    glass, caps = chosen["glass"], chosen["cap_count"]
    worked = LayerPlan(
        technique=chosen["technique"], passes=chosen["passes"], glass=glass
    )
    cap = LayerPlan(technique=CLEAR, passes=0, glass=glass)
    return [worked] * (chosen["layer_count"] - caps) + [cap] * caps


def _plan(request: StudioRequest, form: PieceForm, at: datetime) -> "Piece":
    chosen = form.cleaned_data
    kept = ("title", "width_mm", "height_mm", "glass", "maker", "is_dammed")
    return plan_piece(
        studio=request.studio,
        layers=_layers(chosen),
        maquette_of=chosen["maquette_of"],
        note=chosen["note"],
        by=request.user,
        at=at,
        **{name: chosen[name] for name in kept},
    )


@require_http_methods(["GET", "POST"])
@requires(Can.PLAN_PIECES)
def piece_edit(request: StudioRequest, pk: int) -> HttpResponse:
    """Change a piece's title, maker and note."""
    piece = piece_or_404(request, pk).piece
    kept = {"title": piece.title, "maker": piece.maker_id, "note": piece.note}
    form = PieceDetailsForm(posted(request), studio=request.studio, initial=kept)
    page = FormPage(
        title="Edit details",
        submit="Save",
        back_url=reverse("studio:piece_detail", args=[piece.pk]),
        back_label=piece.title,
        place="pieces",
        intro="Layers are changed on the page of the piece; size and glass stay.",
    )
    return answer_form(
        request,
        page,
        form,
        lambda: change_details(
            piece=piece, by=request.user, at=timezone.now(), **form.cleaned_data
        ),
        told="The details are saved.",
    )


@require_safe
@requires(Can.SEE_WORK)
def piece_detail(request: StudioRequest, pk: int) -> HttpResponse:
    """Show a piece: its edge, its layers, and everything about it one step away."""
    return piece_page(request, piece_or_404(request, pk))


def piece_page(
    request: StudioRequest,
    view: PieceView,
    *,
    picture_form: PictureForm | None = None,
    status: int = OK,
) -> HttpResponse:
    """Answer with the piece's page, with the picture form if it was filled in wrongly."""
    viewer = viewer_for(request)
    piece = view.piece
    asked = PanelRequest(viewer=viewer, now=timezone.now())
    told = history.entries(request.studio, viewer).filter(piece=piece)
    panels = piece_panels(asked, piece)
    offered = (panel.action for panel in panels if panel.action)
    action = main_action(view, viewer) or next(offered, None)
    pictures = list(piece.pictures.select_related("layer").order_by("-at", "-pk"))
    depth = depth_of(
        view,
        pictures,
        address=lambda one: reverse("studio:picture", args=[one.pk, "depth"]),
    )
    actions = _layer_actions(view, asked)
    tiles = [
        LayerRow.of(one, drawn.src, actions.get(one.number))
        for one, drawn in zip(
            reversed(view.layers), reversed(depth.layers), strict=True
        )
    ]
    context = {
        "view": view,
        "piece": piece,
        "mark": STAGE_MARKS[view.stage],
        "kiln": kiln_words(asked, [piece] if view.stage is Stage.IN_KILN else []).get(
            piece.pk, ""
        ),
        "warning": inspection_warnings(asked, [piece]).get(piece.pk, ""),
        "edge": None
        if depth.has_pictures
        else edge_of(
            view, is_large=True, link=lambda number: _layer_address(piece.pk, number)
        ),
        "depth": depth,
        "layers": tiles,
        "chosen": next((one for one in reversed(tiles) if one.action), None)
        or next((one for one in tiles if one.src), None),
        "facts": _facts(view, viewer),
        "where": whereabouts_words(last_moves(request.studio, [piece.pk]).get(piece.pk))
        if view.stage is Stage.FINISHED
        else "",
        "work": piece_times(view, tasks_of(request.studio)),
        "action": action,
        "pictures": [one for one in pictures if one.layer_id is None],
        "panels": panels,
        "history": list(told[:LINES_OF_HISTORY]),
        "picture_form": picture_form or PictureForm(viewer=viewer),
        "maquettes": list(piece.maquettes.order_by("created_at", "pk")),
        "taken_back": view.events[-1]
        if view.events and view.events[-1].kind in RECORDED
        else None,
        "taken_out": list(taken_out_layers(piece)),
        "may_be_lost": not view.is_closed and view.stage is not Stage.IN_KILN,
    }
    return render_page(request, "studio/piece_detail.html", context, status=status)


def _layer_address(pk: int, number: int) -> str:
    return reverse("studio:layer_detail", args=[pk, number])


def _layer_actions(view: PieceView, asked: PanelRequest) -> dict[int, tuple[str, str]]:
    """Return the address and the verb of each layer's next step, by its number."""
    viewer = asked.viewer
    if view.events or view.is_closed or not viewer.may_record_work:
        return {}
    pk, found = view.piece.pk, {}
    for one in view.layers:
        if one.pass_to_paint is not None:
            paint = reverse("studio:piece_paint", args=[pk])
            found[one.number] = (f"{paint}?layer={one.number}", "Paint")
        elif one.state is LayerState.REMAKE:
            found[one.number] = (_layer_address(pk, one.number), "Make again")
    waiting = {
        one.pass_to_fire.pk: one.number for one in view.layers if one.pass_to_fire
    }
    told = burn_actions(asked, list(waiting))
    return found | {waiting[own]: action for own, action in told.items()}


def main_action(view: PieceView, viewer: Viewer) -> tuple[str, str] | None:
    """Return the address and the verb of this piece's next step for this viewer.

    Without one, the page offers the next step of a higher app's section.
    """
    pk = view.piece.pk
    if view.stage in {Stage.PLANNED, Stage.PAINTING} and viewer.may_record_work:
        if any(one.pass_to_paint is not None for one in view.layers):
            return reverse("studio:piece_paint", args=[pk]), "Record painting"
        set_aside = [one for one in view.layers if one.state is LayerState.REMAKE]
        if set_aside:
            number = set_aside[0].number
            return _layer_address(pk, number), f"Make layer {number} again"
    if view.stage is Stage.READY_TO_STACK and viewer.may_plan_pieces:
        return reverse("studio:stack_check", args=[pk]), "Check the stack"
    if view.stage is Stage.TO_INSPECT and viewer.may_plan_pieces:
        return reverse("studio:piece_finish", args=[pk]), "Inspect and finish"
    return None


def _facts(view: PieceView, viewer: Viewer) -> list[str]:
    """Return what the piece is, in one line."""
    piece = view.piece
    measured = "" if view.measured_height_mm is None else ", measured"
    facts = [
        viewer.size(piece.width_mm, piece.height_mm),
        f"{viewer.length(view.height_mm)} thick{measured}",
        weight_fact(view, viewer),
        f"{view.done_count} of {count_words(len(view.layers), 'layer')} done",
        piece.glass.name,
        "in a dam" if piece.is_dammed else "without a dam",
    ]
    if piece.maker is not None:
        facts.append(f"by {piece.maker}")
    return facts
