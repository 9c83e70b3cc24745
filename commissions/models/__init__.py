"""Clients, commissions, quotes, invoices, payments and what the client sees."""

from commissions.models.client import Client, TaxStatus
from commissions.models.commission import ClosedMoney, Commission, CommissionedPiece
from commissions.models.invoice import (
    BusinessDetails,
    Invoice,
    InvoiceKind,
    InvoiceLine,
    NumberSeries,
    Receipt,
    Reminder,
)
from commissions.models.letter import ClientLetter
from commissions.models.payment import Payment
from commissions.models.promise import (
    WATCHED,
    CheckReason,
    PromiseCheck,
    PromiseOutcome,
)
from commissions.models.quote import Instalment, PriceBook, Quote, QuoteLine
from commissions.models.share import Post, ShareLink

__all__ = [
    "WATCHED",
    "BusinessDetails",
    "CheckReason",
    "Client",
    "ClientLetter",
    "ClosedMoney",
    "Commission",
    "CommissionedPiece",
    "Instalment",
    "Invoice",
    "InvoiceKind",
    "InvoiceLine",
    "NumberSeries",
    "Payment",
    "Post",
    "PriceBook",
    "PromiseCheck",
    "PromiseOutcome",
    "Quote",
    "QuoteLine",
    "Receipt",
    "Reminder",
    "ShareLink",
    "TaxStatus",
]
