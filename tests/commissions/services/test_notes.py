"""A commission's lines in the history: about money, and of that commission only."""

from commissions.services.notes import note, subject_of
from studio.models import HistoryEntry
from tests import make
from tests.commissions import build
from tests.make import NOW


def test_a_note_is_about_money_and_bears_its_commission(cast):
    commission, other = build.commission(cast), build.commission(cast, title="Neap")
    piece = make.piece(studio=cast.studio, glass=cast.glass)
    note(commission, by=cast.owner, at=NOW, what="Sent a quote", piece=piece)
    line = HistoryEntry.owned.for_studio(cast.studio).get(what="Sent a quote")
    assert (line.studio, line.by, line.at) == (cast.studio, cast.owner, NOW)
    assert (line.piece, line.is_about_money) == (piece, True)
    assert line.subject == subject_of(commission) != subject_of(other)


def test_a_note_may_be_nobodys_and_of_no_piece(cast):
    commission = build.commission(cast)
    note(commission, by=None, at=NOW, what="The client accepted")
    line = HistoryEntry.owned.for_studio(cast.studio).get(what="The client accepted")
    assert line.by is line.piece is None
