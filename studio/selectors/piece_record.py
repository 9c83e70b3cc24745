"""Reads of a finished piece's record, and its words."""

from studio.models import Piece, PieceRecord
from studio.selectors.pieces import PieceView
from studio.viewer import Viewer


def record_of(piece: Piece) -> PieceRecord:
    """Return a piece's record, an empty one that is not saved where it has none."""
    found: PieceRecord | None = (
        PieceRecord.owned.for_studio(piece.studio)
        .filter(piece=piece)
        .select_related("seen_picture")
        .first()
    )
    return found or PieceRecord(studio=piece.studio, piece=piece)


def edition_words(record: PieceRecord) -> str:
    """Say which of how many it is: "Edition 2 of 5", or "Unique" as it was typed."""
    typed = record.edition
    return f"Edition {typed}" if typed[:1].isdigit() else typed


def final_size_words(view: PieceView, record: PieceRecord, viewer: Viewer) -> str:
    """Say how large a piece is: as measured, else as planned."""
    piece = view.piece
    width = record.width_mm or piece.width_mm
    height = record.height_mm or piece.height_mm
    thickness = record.thickness_mm or view.height_mm
    return f"{viewer.size(width, height)}, {viewer.length(thickness)} thick"
