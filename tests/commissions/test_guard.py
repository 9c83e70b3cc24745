"""The database itself keeps an issued invoice as it is, on either kind."""

import datetime as dt
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from commissions import guard
from commissions.models import Invoice, InvoiceLine
from tests.commissions.services.test_invoices import issue, other, send

OTHER = {
    "kiln_user_id": 999,
    "kiln_month": dt.date(1999, 1, 1),
    "kind": "kiln",
    "year": 1999,
    "serial": 77,
    "number": "X",
    "title": "Another",
    "message": "Another",
    "currency": "EUR",
    "net": Decimal(1),
    "tax": Decimal(1),
    "rounding": Decimal(1),
    "total": Decimal(1),
    "issued_at": None,
    "issued_date": dt.date(1999, 1, 1),
    "due_date": dt.date(1999, 1, 1),
    "paper": {"number": "X"},
}


def test_every_frozen_column_is_tried_here():
    assert {*OTHER, "client_id", "commission_id"} == set(guard.FROZEN)


@pytest.mark.parametrize("name", OTHER)
def test_an_issued_invoice_stays(cast, name):
    invoice = issue(cast, other(cast))
    found = Invoice.across_studios.filter(pk=invoice.pk)
    with pytest.raises(IntegrityError, match=guard.MESSAGE), transaction.atomic():
        found.update(**{name: OTHER[name]})


def test_so_do_its_lines(cast):
    invoice = issue(cast, other(cast))
    lines = InvoiceLine.across_studios.filter(invoice=invoice)
    with pytest.raises(IntegrityError, match=guard.MESSAGE), transaction.atomic():
        lines.update(net=1)


def test_a_draft_changes_and_an_issued_one_is_sent(cast):
    draft = other(cast)
    Invoice.across_studios.filter(pk=draft.pk).update(title="Another")
    InvoiceLine.across_studios.filter(invoice=draft).update(label="Another")
    assert send(cast, issue(cast, draft)).sent_at is not None
