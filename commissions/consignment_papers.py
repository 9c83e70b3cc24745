"""The note that goes with a piece to a gallery: whose it is, the share, when it returns."""

from dataclasses import dataclass

from commissions.invoice_papers import BusinessPaper
from commissions.models import Commission
from commissions.selectors.business import (
    business_address,
    business_details,
    business_name,
)
from commissions.selectors.owing import gallery_keeps
from commissions.selectors.quotes import accepted_quote
from commissions.selectors.work import CommissionWork, work_facts
from studio.documents import PaperKey, PaperState, order, state_of
from studio.errors import Refused
from studio.money import plain_number
from studio.viewer import Viewer

KIND = "consignment note"
TEMPLATE = "pdf/consignment.html"
RENDER_JOB = "commissions.render_consignment"


@dataclass(frozen=True, slots=True, kw_only=True)
class ConsignmentPaper(BusinessPaper):
    """Every text of the note, already written out."""

    facts: tuple[tuple[str, str], ...]
    money: tuple[tuple[str, str], ...]
    returns_on: str

    @property
    def name(self) -> str:
        """Return what stands at its head."""
        return "Consignment note"


def consignment_paper(commission: Commission) -> ConsignmentPaper:
    """Write the note of a commission as it stands now.

    Raises
    ------
    Refused
        When no gallery is named.
    """
    gallery = commission.gallery
    if gallery is None:
        raise Refused("Name the gallery in the brief first: the note is for it.")
    studio = commission.studio
    viewer, details = Viewer.of_studio(studio), business_details(studio)
    quote = accepted_quote(commission)
    money = [("The gallery keeps", f"{plain_number(commission.gallery_cut_percent)} %")]
    work = CommissionWork.of(commission)
    if quote is not None:
        work = CommissionWork.from_json(quote.inputs["work"])
        keeps = gallery_keeps(quote)
        money = [
            ("Price before tax", viewer.money(quote.net, quote.currency)),
            (
                f"The gallery keeps {plain_number(commission.gallery_cut_percent)} %",
                viewer.money(keeps, quote.currency),
            ),
            (
                "Due to the studio when it is sold",
                viewer.money(quote.net - keeps, quote.currency),
            ),
        ]
    returns = commission.gallery_returns_date
    return ConsignmentPaper(
        number="",
        studio_name=business_name(details),
        studio_address=business_address(details),
        studio_tax_number=details.tax_number,
        client_name=gallery.name,
        client_address=gallery.address,
        client_tax_number=gallery.tax_number,
        title=commission.title,
        is_demo=studio.is_demo,
        size=studio.paper_size,
        facts=tuple(work_facts(work, viewer)),
        money=tuple(money),
        returns_on=f"{returns:%a %-d %b %Y}" if returns else "",
    )


def consignment_key(commission: Commission) -> PaperKey:
    """Return the key of the note's paper; another text is another paper."""
    return PaperKey(
        studio=commission.studio,
        kind=KIND,
        subject_id=commission.pk,
        sha256=consignment_paper(commission).sha256,
    )


def consignment_state(commission: Commission) -> PaperState:
    """Return whether the PDF is there, and the last order for it."""
    return state_of(consignment_key(commission))


def order_consignment(commission: Commission) -> None:
    """Ask the worker for the PDF."""
    key = consignment_key(commission)
    order(key, job_name=RENDER_JOB, commission_id=commission.pk)
