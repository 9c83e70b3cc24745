"""All Celery tasks: run one job, send forgotten jobs, mail, remove old files, back up.

The work itself is in the handlers that each app registers with `studio.jobs`.
"""

from typing import TYPE_CHECKING

from celery import shared_task
from django.utils import timezone

from studio import cutting_sheet, jobs, label_papers, registration_papers, show_list
from studio.jobs import Finish, handler
from studio.label_sheets import stock_of
from studio.selectors import stock
from studio.selectors.cutting import cutting_board
from studio.selectors.exports import EXPORT_JOB, exports
from studio.selectors.invitations import unanswered
from studio.selectors.pictures import pictures
from studio.selectors.pieces import piece_view, pieces
from studio.services import devices, leaving, throttle  # noqa: F401 - they forget
from studio.services.accounts import PASSWORD_JOB, send_password_link
from studio.services.backups.making import make_daily_backup
from studio.services.deliveries import send_due
from studio.services.depth_pictures import (
    DEPTH_JOB,
    FACE_JOB,
    make_depth_picture,
    make_face,
)
from studio.services.exports import make_export
from studio.services.invitations import INVITATION_JOB, mail_link
from studio.services.left_files import remove_left_files
from studio.services.messages import tell_the_morning
from studio.services.papers import lay_out
from studio.sqlite_statistics import look_at_indexes
from studio.today import morning_letter

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


@shared_task(name="studio.tasks.send_messages")
def send_messages(**_: object) -> None:
    """Send every mail and push that is due."""
    send_due(clock=timezone.now)


@shared_task(name="studio.tasks.write_morning")
def write_morning(**_: object) -> None:
    """Tell everybody whose hour it is what is to be done today."""
    tell_the_morning(write=morning_letter, now=timezone.now())


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
    return lay_out(
        key=key,
        lease=lease,
        template=cutting_sheet.TEMPLATE,
        title=sheet.title,
        context=lambda: cutting_sheet.sheet_context(board, sheet),
        clock=timezone.now,
    )


@handler(label_papers.RENDER_JOB, is_slow=True)
def render_labels(
    studio: "Studio",
    *,
    lease: "Lease",
    piece_id: int,
    numbers: list[int],
    stock: str,
    first: int,
    origin: str,
    **_: object,
) -> Finish | None:
    """Lay out a piece's labels; its finish files them."""
    sheet = stock_of(stock)
    if sheet is None or not pieces(studio).filter(pk=piece_id).exists():
        return None
    view = piece_view(studio, piece_id)
    paper = label_papers.label_paper(
        view, numbers, stock=sheet, first=first, origin=origin
    )
    key = label_papers.label_key(view, paper)
    return lay_out(
        key=key,
        lease=lease,
        template=label_papers.TEMPLATE,
        title=paper.title,
        context=lambda: label_papers.label_context(paper, sheet),
        clock=timezone.now,
    )


@handler(registration_papers.RENDER_JOB, is_slow=True)
def render_registration(
    studio: "Studio",
    *,
    lease: "Lease",
    piece_id: int,
    numbers: list[int],
    face: str,
    **_: object,
) -> Finish | None:
    """Lay out a piece's registration sheets; its finish files them."""
    if not pieces(studio).filter(pk=piece_id).exists():
        return None
    view = piece_view(studio, piece_id)
    paper = registration_papers.registration_paper(view, numbers, face=face)
    key = registration_papers.registration_key(view, paper)
    return lay_out(
        key=key,
        lease=lease,
        template=registration_papers.TEMPLATE,
        title=paper.title,
        context=lambda: registration_papers.registration_context(paper),
        clock=timezone.now,
    )


@handler(show_list.RENDER_JOB, is_slow=True)
def render_show_list(
    studio: "Studio",
    *,
    lease: "Lease",
    pieces: list[int],
    title: str,
    has_prices: bool,
    has_labels: bool,
    **_: object,
) -> Finish | None:
    """Lay out a list of works; its finish files it."""
    paper = show_list.show_list(
        studio, pieces, title=title, has_prices=has_prices, has_labels=has_labels
    )
    return lay_out(
        key=show_list.list_key(studio, paper),
        lease=lease,
        template=show_list.TEMPLATE,
        title=paper.title,
        context=lambda: {"paper": paper},
        clock=timezone.now,
    )


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
