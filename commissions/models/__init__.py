"""Clients, commissions, quotes, payments and what the client sees."""

from commissions.models.client import Client
from commissions.models.commission import ClosedMoney, Commission, CommissionedPiece
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
    "CheckReason",
    "Client",
    "ClosedMoney",
    "Commission",
    "CommissionedPiece",
    "Instalment",
    "Payment",
    "Post",
    "PriceBook",
    "PromiseCheck",
    "PromiseOutcome",
    "Quote",
    "QuoteLine",
    "ShareLink",
]
