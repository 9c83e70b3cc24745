"""The record of a piece: its page, its form, its paper."""

from django.http import FileResponse, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from firing.loads.selectors.firings import with_curves
from firing.records import record_paper
from firing.records.forms.record import RecordForm
from firing.records.selectors.record import SEEN_FROM, record_words
from studio.answers import FormPage, PaperPage, answer_form, answer_paper
from studio.http import (
    StudioRequest,
    origin_of,
    piece_or_404,
    posted,
    render_page,
    requires,
    viewer_for,
)
from studio.roles import Can
from studio.selectors.pictures import looks_of_pieces
from studio.selectors.piece_record import record_of
from studio.selectors.whereabouts import last_moves, whereabouts_words
from studio.services.finished import save_record
from studio.services.photographs import develop


@require_safe
@requires(Can.SEE_WORK)
def piece_record(request: StudioRequest, pk: int) -> HttpResponse:
    """Show what a piece is, how it was made and fired, and how to keep it."""
    view, viewer = piece_or_404(request, pk), viewer_for(request)
    piece, record = view.piece, record_of(view.piece)
    words = record_words(view, record, viewer=viewer, has_value=viewer.may_see_money)
    lines = {one.view.firing.pk: one for one in words.firings}
    drawn = with_curves([one.view for one in words.firings], request.studio)
    context = {
        "view": view,
        "piece": piece,
        "record": record,
        "words": words,
        "firings": [(one, lines[one.firing.pk]) for one in drawn],
        "look": looks_of_pieces(request.studio, [pk]).get(pk, ""),
        "where": whereabouts_words(last_moves(request.studio, [pk]).get(pk)),
        "seen_from": SEEN_FROM,
        "place": "pieces",
    }
    return render_page(request, "firing/records/piece_record.html", context)


@require_http_methods(["GET", "POST"])
@requires(Can.PLAN_PIECES)
def record_edit(request: StudioRequest, pk: int) -> HttpResponse:
    """Change what a piece's record says."""
    piece = piece_or_404(request, pk).piece
    form = RecordForm(
        posted(request),
        request.FILES or None,
        record=record_of(piece),
        viewer=viewer_for(request),
    )

    def save() -> None:
        picture = form.cleaned_data["picture"]
        save_record(
            piece=piece,
            told=form.told,
            seen=develop(picture, picture.name) if picture else None,
            by=request.user,
            at=timezone.now(),
        )

    page = FormPage(
        title="Change the record",
        submit="Save",
        back_url=reverse("firing:piece_record", args=[pk]),
        back_label=piece.title,
        place="pieces",
        intro="Layers and firings are in it already. Here is what only you can say.",
        is_paired=True,
    )
    return answer_form(request, page, form, save, told="The record is saved.")


@require_http_methods(["GET", "HEAD", "POST"])
@requires(Can.SEE_WORK)
def record_on_paper(request: StudioRequest, pk: int) -> HttpResponse | FileResponse:
    """Send the record's PDF if it is there. POST has it made; looking never does."""
    view, viewer = piece_or_404(request, pk), viewer_for(request)
    has_value = viewer.may_see_money and request.GET.get("value") == "on"
    origin = origin_of(request)
    record = record_of(view.piece)
    words = record_paper.words_on_paper(view, record, has_value=has_value)
    page_url = reverse("firing:piece_record", args=[pk])
    paper = record_paper.record_paper(view, record, words, url=f"{origin}{page_url}")
    url = reverse("firing:record_on_paper", args=[pk])
    page = PaperPage(
        title="Record on paper",
        file_name=f"record-{pk}.pdf",
        key=record_paper.record_key(view, paper),
        job_name=record_paper.RENDER_JOB,
        arguments={"piece_id": pk, "has_value": has_value, "url": paper.url},
        url=f"{url}?value=on" if has_value else url,
        back_url=page_url,
        back_label=view.piece.title,
        place="pieces",
    )
    return answer_paper(request, page)
