"""The studio's data, which belongs to its owner: exported, deleted, kept after all."""

from django.contrib import messages
from django.contrib.auth import logout
from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from studio.answers import FormPage, answer_form
from studio.forms.people import DeleteStudioForm
from studio.http import StudioRequest, posted, render_page, requires, viewer_for
from studio.roles import Can
from studio.selectors.exports import newest_export
from studio.services import leaving
from studio.services.exports import KEPT_FOR, ask_for_export


@require_safe
@requires(Can.MANAGE_STUDIO)
def yours(request: StudioRequest) -> HttpResponse:
    """Show the archive, and how to delete the studio."""
    context = {"job": _job(request), "studio": request.studio}
    return render_page(request, "studio/yours.html", context)


@require_safe
@requires(Can.MANAGE_STUDIO)
def export_state(request: StudioRequest) -> HttpResponse:
    """Show the archive's progress: the page's part that asks again."""
    context = {"job": _job(request), "studio": request.studio}
    return render_page(request, "studio/yours.html", context, fragment="archive")


@require_POST
@requires(Can.MANAGE_STUDIO)
def export_make(request: StudioRequest) -> HttpResponse:
    """Have an archive made."""
    ask_for_export(studio=request.studio, by=request.user, at=timezone.now())
    return redirect("studio:yours")


@require_safe
@requires(Can.MANAGE_STUDIO)
def export_download(request: StudioRequest) -> HttpResponse | FileResponse:
    """Send the newest archive."""
    export = newest_export(request.studio).export
    try:
        if export is None or not export.file or export.made_at is None:
            raise FileNotFoundError
        opened = export.file.open("rb")
    except FileNotFoundError:
        messages.error(request, "There is no archive. Make one first.")
        return redirect("studio:yours")
    day = f"{export.made_at.astimezone(viewer_for(request).zone):%Y-%m-%d}"
    name = f"{slugify(request.studio.name) or 'studio'}-{day}.zip"
    response = FileResponse(opened, as_attachment=True, filename=name)
    response["Content-Type"] = "application/zip"
    return response


@require_http_methods(["GET", "POST"])
@requires(Can.MANAGE_STUDIO)
def studio_delete(request: StudioRequest) -> HttpResponse:
    """Ask for the studio's name and have it deleted in a week."""
    studio, now = request.studio, timezone.now()
    form = DeleteStudioForm(posted(request), name=studio.name)
    page = FormPage(
        title="Delete the studio",
        submit="Delete the studio",
        back_url=reverse("studio:yours"),
        back_label="Your data",
        is_danger=True,
        caution_title=f"{studio.name} is deleted for good in a week",
        caution_points=(
            "Every piece, firing, client, quote, picture and paper goes.",
            "People who belong to no other studio lose their account.",
            "Until then everything works as usual, and any owner can keep it.",
            "Backups made before hold a copy until whoever runs the server removes it.",
        ),
    )
    return answer_form(
        request,
        page,
        form,
        lambda: leaving.ask_to_delete(
            studio=studio,
            typed_name=form.cleaned_data["name"],
            by=request.user,
            at=now,
        ),
        told="The studio will be deleted in a week. You can keep it until then.",
    )


@require_POST
@requires(Can.MANAGE_STUDIO)
def studio_keep(request: StudioRequest) -> HttpResponse:
    """Cancel the studio's deletion."""
    leaving.keep_studio(studio=request.studio, by=request.user, at=timezone.now())
    messages.success(request, f"{request.studio} stays.")
    return redirect("studio:yours")


@require_POST
@requires(Can.MANAGE_STUDIO)
def demo_remove(request: StudioRequest) -> HttpResponse:
    """Delete the demo at once, and sign its owner out."""
    if not request.studio.is_demo:
        raise Http404("This studio is no demo.")
    leaving.delete_demo()
    logout(request)
    messages.success(request, "The demo is gone.")
    return redirect("studio:today")


def _job(request: StudioRequest) -> dict[str, str]:
    """Return what `_job.html` needs from the newest archive."""
    viewer, state = viewer_for(request), newest_export(request.studio)
    texts = {
        "none": "",
        "making": f"{state.progress or 'The archive waits for its turn'}.",
        "failed": f"The archive could not be made. {state.problem}",
        "ready": "",
    }
    export = state.export
    if export is not None and export.made_at is not None:
        made, gone = export.made_at, export.asked_at + KEPT_FOR
        texts["ready"] = (
            f"Archive of {viewer.day(made)}, {viewer.clock(made)}, "
            f"{_size(export.size_bytes)}. Kept until {viewer.day(gone)}."
        )
    return {"state": state.name, "text": texts[state.name]}


def _size(count: int) -> str:
    if count < 10**6:
        return f"{max(1, round(count / 1000))} kB"
    return f"{count / 10**6:.1f} MB"
