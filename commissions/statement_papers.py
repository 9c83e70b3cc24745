"""A client's account on paper: what was invoiced and paid, what is due, how to pay it."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.utils.text import capfirst

from commissions.bank import LONGEST_TEXT, may_have_code
from commissions.invoice_papers import (
    BusinessPaper,
    head_of,
    pay_rows,
    transfer_data,
    transfer_of,
)
from commissions.models import BusinessDetails, Client
from commissions.selectors.business import business_details
from commissions.selectors.statements import Statement, statements
from studio.documents import PaperKey, PaperState, order, state_of
from studio.errors import Refused
from studio.viewer import Viewer, count_words, day_words

KIND = "statement"
TEMPLATE = "pdf/statement.html"
RENDER_JOB = "commissions.render_statement"


@dataclass(frozen=True, slots=True, kw_only=True)
class AccountPaper:
    """The account in one currency, already written out."""

    balance: str
    """What is to be paid, or what the client has in credit."""
    lines: tuple[tuple[str, str, str, str], ...]
    """Day, what, amount, balance."""
    due: tuple[tuple[str, str], ...]
    """The open invoices and what is open of each; empty when nothing is to be paid."""
    pay: tuple[tuple[str, str], ...]
    transfer: dict[str, str]
    """What a QR code of a transfer in euro holds; empty where there is none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StatementPaper(BusinessPaper):
    """Every text of a statement, already written out."""

    accounts: tuple[AccountPaper, ...]
    other_ways: str
    link: str

    @property
    def name(self) -> str:
        """Return what stands at its head."""
        return "Statement of account"


def statement_paper(client: Client, *, today: date) -> StatementPaper:
    """Write the statement of a client's account as it stands on a day.

    Raises
    ------
    Refused
        When nothing was invoiced or paid yet.
    """
    found = statements(client, today=today)
    if not found:
        raise Refused("There is nothing to state yet: nothing was invoiced or paid.")
    viewer, details = Viewer.of_studio(client.studio), business_details(client.studio)
    is_owed = any(one.balance > 0 for one in found)
    return StatementPaper(
        **head_of(details, client, viewer),
        number="",
        title=day_words(today),
        accounts=tuple(_account(one, details, viewer, today) for one in found),
        other_ways=details.other_ways if is_owed else "",
        link=details.payment_link if is_owed else "",
    )


def _account(
    statement: Statement, details: BusinessDetails, viewer: Viewer, today: date
) -> AccountPaper:
    def money(amount: Decimal) -> str:
        return viewer.money(amount, statement.currency)

    balance = "Nothing to be paid"
    if statement.balance > 0:
        balance = f"{money(statement.balance)} to be paid"
    elif statement.credit > 0:
        balance = f"{money(statement.credit)} in credit"
    is_owed = statement.balance > 0
    reference = _reference(statement, today)
    may_scan = is_owed and may_have_code(
        currency=statement.currency, iban=details.iban, amount=statement.balance
    )
    return AccountPaper(
        balance=balance,
        lines=tuple(
            (
                f"{line.day:%-d %b %Y}",
                line.words,
                money(line.amount),
                money(line.balance),
            )
            for line in statement.lines
        ),
        due=_due(statement, money(statement.balance), viewer) if is_owed else (),
        pay=pay_rows(details, reference) if is_owed else (),
        transfer=transfer_of(details, amount=statement.balance, text=reference)
        if may_scan
        else {},
    )


def _due(
    statement: Statement, to_pay: str, viewer: Viewer
) -> tuple[tuple[str, str], ...]:
    rows = []
    for view in statement.open:
        words = capfirst(view.invoice.name)
        if view.invoice.due_date is not None:
            words += f", to be paid by {day_words(view.invoice.due_date)}"
        if view.days_overdue:
            words += f", {count_words(view.days_overdue, 'day')} overdue"
        rows.append((words, viewer.money(view.open, statement.currency)))
    if statement.unused > 0:
        taken_off = viewer.money(-statement.unused, statement.currency)
        rows.append(("Less your credit", taken_off))
    return (*rows, ("To pay", to_pay))


def _reference(statement: Statement, today: date) -> str:
    """Return what a payment of it should be marked with: the invoices, if they fit."""
    numbers = [one.invoice.number for one in statement.open]
    words = f"Invoice{'s' if len(numbers) > 1 else ''} {', '.join(numbers)}"
    if not numbers or len(words) > LONGEST_TEXT:
        return f"Statement {today:%-d %b %Y}"
    return words


def paper_context(paper: StatementPaper) -> dict[str, Any]:
    """Return what the template of the paper needs."""
    codes = [transfer_data(one.transfer) for one in paper.accounts]
    return {"paper": paper, "accounts": zip(paper.accounts, codes, strict=True)}


def statement_key(client: Client, paper: StatementPaper) -> PaperKey:
    """Return the key of the statement's paper; another text or day is another paper."""
    return PaperKey(
        studio=client.studio, kind=KIND, subject_id=client.pk, sha256=paper.sha256
    )


def statement_state(client: Client, *, today: date) -> PaperState:
    """Return whether the PDF of today's statement is there, and the last order for it."""
    return state_of(statement_key(client, statement_paper(client, today=today)))


def order_statement(client: Client, *, today: date) -> None:
    """Ask the worker for the PDF of a day's statement."""
    key = statement_key(client, statement_paper(client, today=today))
    order(key, job_name=RENDER_JOB, client_id=client.pk, day=today.isoformat())
