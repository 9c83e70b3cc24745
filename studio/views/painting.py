"""Recording what was painted: several layers at once, on a phone, with a picture each."""

from datetime import datetime

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import require_http_methods, require_POST

from studio.answers import answer_shot
from studio.errors import Refused, StudioError
from studio.forms.layers import PaintingForm
from studio.http import (
    OK,
    StudioRequest,
    attempt,
    done_at,
    go_to,
    piece_or_404,
    render_page,
    requires,
    say_done,
    viewer_for,
)
from studio.roles import Can
from studio.selectors.before_work import hindrances
from studio.selectors.pictures import looks_of_layers
from studio.selectors.pieces import PieceView
from studio.selectors.task_times import painting_timed
from studio.services.layers import record_painted, take_back_all
from studio.services.pictures import add_picture
from studio.stages import WorkKind
from studio.views.found import pass_or_404


@require_http_methods(["GET", "POST"])
@requires(Can.RECORD_WORK)
def piece_paint(request: StudioRequest, pk: int) -> HttpResponse:
    """Record which of the waiting layers were painted."""
    view = piece_or_404(request, pk)
    form = _form(request, view)
    status = OK
    if request.method == "POST":
        now = done_at(request, timezone.now())
        status = attempt(form, lambda: _record(request, form, now))
        if status == OK:
            _keep_pictures(request, form, now)
            count = len(form.chosen)
            layers = "1 layer" if count == 1 else f"{count} layers"
            undo = reverse("studio:painting_take_back", args=[pk])
            passes = urlencode({"pass": [one.pk for one in form.chosen]}, doseq=True)
            say_done(
                request,
                f"{layers} recorded as painted.",
                undo_url=f"{undo}?{passes}",
            )
            if request.POST.get("next") == "today":
                return go_to(request, "studio:today")
            return go_to(request, "studio:piece_detail", pk)
        if form.pictures:
            messages.info(request, "Choose the pictures again: none was kept.")
    may_see_money = viewer_for(request).may_see_money
    context = {
        "view": view,
        "piece": view.piece,
        "form": form,
        "timed": painting_timed(view.piece, request.user, timezone.now()),
        "hindrances": [
            one.words
            for one in hindrances(
                WorkKind.PAINT, view.piece, may_see_money=may_see_money
            )
        ],
    }
    return render_page(
        request, "studio/piece_paint.html", context, fragment="form", status=status
    )


def _form(request: StudioRequest, view: PieceView) -> PaintingForm:
    posted = request.method == "POST"
    form = PaintingForm(
        request.POST if posted else None,
        request.FILES if posted else None,
        layers=view.layers,
        pictures=looks_of_layers(
            request.studio,
            [one.layer.pk for one in view.layers if one.pass_to_paint is not None],
        ),
        studio=request.studio,
        viewer=viewer_for(request),
    )
    asked = request.GET.get("layer", "")
    form.initial["passes"] = [
        pk for pk, one in form.waiting.items() if str(one.number) == asked
    ]
    return form


def _record(request: StudioRequest, form: PaintingForm, at: datetime) -> None:
    record_painted(
        passes=form.chosen,
        minutes=form.minutes,
        materials=list(form.cleaned_data["materials"]),
        note=form.cleaned_data["note"],
        by=request.user,
        at=at,
    )


@require_POST
@requires(Can.RECORD_WORK)
def pass_shot(request: StudioRequest, pk: int) -> HttpResponse:
    """Keep a picture of a pass, taken while its painting is recorded."""
    return answer_shot(request, of_pass=pass_or_404(request, pk), at=timezone.now())


def _keep_pictures(request: StudioRequest, form: PaintingForm, at: datetime) -> None:
    """Keep what can be kept: an unreadable picture does not undo the work recorded."""
    for of_pass, upload in form.pictures:
        layer = of_pass.sheet.layer
        try:
            add_picture(
                studio=request.studio,
                upload=upload,
                name=upload.name or "The picture",
                piece=layer.piece,
                layer=layer,
                of_pass=of_pass,
                by=request.user,
                at=at,
            )
        except Refused as problem:
            messages.warning(request, f"Layer {layer.number}: {problem}")


@require_POST
@requires(Can.RECORD_WORK)
def painting_take_back(request: StudioRequest, pk: int) -> HttpResponse:
    """Undo passes that were recorded as painted by mistake."""
    view = piece_or_404(request, pk)
    wanted = set(request.GET.getlist("pass"))
    chosen = [p for v in view.layers for p in v.passes if str(p.pk) in wanted]
    try:
        take_back_all(passes=chosen, by=request.user, at=timezone.now())
    except StudioError as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, "Not painted: taken back.")
    return redirect("studio:piece_detail", pk)
