"""All Celery tasks: run one job, send forgotten jobs, mail, remove old files, back up.

The work itself is in the handlers that each app registers with `studio.jobs`.
"""

from typing import TYPE_CHECKING

from celery import shared_task
from django.utils import timezone

from studio import cutting_sheet, jobs
from studio.documents import document_of
from studio.jobs import Finish, handler
from studio.pdf import render_pdf
from studio.selectors import stock
from studio.selectors.cutting import cutting_board
from studio.selectors.exports import EXPORT_JOB, exports
from studio.selectors.invitations import unanswered
from studio.selectors.pictures import pictures
from studio.selectors.pieces import pieces
from studio.services import devices, leaving, throttle  # noqa: F401 - they forget
from studio.services.accounts import PASSWORD_JOB, send_password_link
from studio.services.backups.making import make_daily_backup
from studio.services.depth_pictures import (
    DEPTH_JOB,
    FACE_JOB,
    make_depth_picture,
    make_face,
)
from studio.services.exports import make_export
from studio.services.invitations import INVITATION_JOB, mail_link
from studio.services.left_files import remove_left_files
from studio.services.papers import file_paper
from studio.sqlite_statistics import look_at_indexes

if TYPE_CHECKING:
    from studio.jobs import Lease
    from studio.models import Studio


@shared_task(name="studio.tasks.run_job")
def run_job(*, job_id: int, **_: object) -> None:
    """Run one job, unless it is taken or over, after those that are urgent."""
    jobs.answer(job_id, clock=timezone.now)


@shared_task(name="studio.tasks.send_waiting_jobs")
def send_waiting_jobs(**_: object) -> None:
    """Wake the worker for jobs that lost their message or worker, or are due."""
    now = timezone.now()
    jobs.send_forgotten(now=now)
    jobs.sweep(now=now)


@shared_task(name="studio.tasks.remove_left_files")
def sweep_files(**_: object) -> None:
    """Remove what no record names or was over long ago; look at the indexes anew."""
    now = timezone.now()
    remove_left_files(now=now)
    jobs.forget_old(now=now)
    look_at_indexes()


@handler(EXPORT_JOB, is_slow=True)
def write_export(
    studio: "Studio", *, lease: "Lease", export_id: int, **_: object
) -> Finish | None:
    """Write an archive of a whole studio; its finish shows it to the owner."""
    export = exports(studio).filter(pk=export_id, file="").first()
    if export is None:
        return None
    return make_export(export=export, told=lease.renew, at=timezone.now())


@handler(DEPTH_JOB)
def develop_for_depth_view(
    studio: "Studio", *, lease: "Lease", picture_id: int, **_: object
) -> Finish | None:
    """Make a layer's picture for the depth view; its finish puts it in place."""
    picture = pictures(studio).filter(pk=picture_id, depth="").first()
    return None if picture is None else make_depth_picture(picture=picture)


@handler(FACE_JOB)
def look_through(
    studio: "Studio", *, lease: "Lease", piece_id: int, **_: object
) -> Finish | None:
    """Look through a piece's layers; its finish puts the picture in place."""
    piece = pieces(studio).filter(pk=piece_id).first()
    return None if piece is None else make_face(piece=piece)


@handler(cutting_sheet.RENDER_JOB, is_slow=True)
def render_cutting_sheet(
    studio: "Studio", *, lease: "Lease", glass_id: int, **_: object
) -> Finish | None:
    """Lay out the PDF of a cutting plan; its finish files it."""
    glass = stock.glasses(studio).filter(pk=glass_id).first()
    if glass is None:
        return None
    board = cutting_board(studio, glass)
    sheet = cutting_sheet.cutting_sheet(board)
    key = cutting_sheet.sheet_key(glass, sheet)
    if document_of(key) is not None:
        return None
    lease.renew("Laying out the cutting plan")
    context = cutting_sheet.sheet_context(board, sheet)
    pdf = render_pdf(cutting_sheet.TEMPLATE, context, title=sheet.title)

    def finish() -> None:
        file_paper(key=key, title=sheet.title, pdf=pdf, at=timezone.now())

    return finish


@handler(INVITATION_JOB)
def mail_invitation(
    studio: "Studio", *, lease: "Lease", invitation_id: int, origin: str, **_: object
) -> Finish | None:
    """Mail an invitation; its finish makes the link work."""
    invitation = unanswered(studio).filter(pk=invitation_id).first()
    if invitation is None:
        return None
    return mail_link(invitation=invitation, origin=origin, at=timezone.now())


@handler(PASSWORD_JOB)
def mail_password_link(
    studio: "Studio", *, lease: "Lease", person_id: int, origin: str, **_: object
) -> None:
    """Mail a person a link to set a new password."""
    send_password_link(person_id=person_id, origin=origin)


# For a large database it takes longer than any job may.
@shared_task(name="studio.tasks.make_daily_backup", time_limit=4 * 3600)
def back_up(**_: object) -> None:
    """Make today's backup, if there is none yet."""
    make_daily_backup(now=timezone.now())
