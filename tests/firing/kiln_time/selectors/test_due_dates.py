"""Promised dates reach the kilns without the kilns knowing commissions."""

import datetime as dt

from firing.kiln_time.selectors import due_dates
from tests.commissions import build as work


def test_an_accepted_quotes_date_is_told(cast, strangers):
    accepted = work.accepted(cast)
    accepted.promised_date = dt.date(2026, 5, 4)
    accepted.save()
    piece = accepted.commission.commissioned_pieces.get().piece
    assert due_dates.due_dates(cast.studio) == {piece.pk: dt.date(2026, 5, 4)}
    assert due_dates.due_dates(strangers.studio) == {}


def test_of_two_dates_for_a_piece_the_earlier_counts(cast, monkeypatch):
    early, late = dt.date(2026, 5, 4), dt.date(2026, 6, 1)
    told = [lambda studio: {1: late, 2: late}, lambda studio: {1: early}]
    monkeypatch.setattr(due_dates, "_providers", told)
    assert due_dates.due_dates(cast.studio) == {1: early, 2: late}


def test_a_provider_is_asked_once_however_often_it_registers(monkeypatch):
    monkeypatch.setattr(due_dates, "_providers", [])
    for _ in range(2):
        due_dates.on_due_dates(test_a_provider_is_asked_once_however_often_it_registers)
    assert len(due_dates._providers) == 1
