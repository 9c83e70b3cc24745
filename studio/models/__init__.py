"""What the workshop is, owns and makes."""

from studio.models.bench import (
    AwayReason,
    BenchHours,
    BenchTask,
    BenchTerms,
    DaysAway,
)
from studio.models.currency import CurrencyChange
from studio.models.document import Document
from studio.models.export import Export
from studio.models.history import HistoryEntry
from studio.models.invitation import Invitation
from studio.models.job import OPEN_JOB_STATES, Job, JobState
from studio.models.kiln import AccessHours, Closure, Kiln, Weekday
from studio.models.kiln_user import MOST_FREE_HOURS, KilnTerms, KilnUser
from studio.models.layer import Layer, Pass, Sheet, Technique
from studio.models.material import Glass, GlassFamily, Material, MaterialKind, UsedPer
from studio.models.person import Person
from studio.models.picture import Picture
from studio.models.piece import LOST, Outcome, Piece, PieceEvent, PieceEventKind
from studio.models.signed_in import SignedIn
from studio.models.stock import (
    CuttingTerms,
    MoveKind,
    Reservation,
    StockMove,
    StockSheet,
)
from studio.models.studio import (
    LengthUnit,
    Membership,
    PaperSize,
    Role,
    Studio,
    TemperatureUnit,
    validate_currency,
)
from studio.models.task_time import MOST_MINUTES_AT_ONCE, TaskTime

__all__ = [
    "LOST",
    "MOST_FREE_HOURS",
    "MOST_MINUTES_AT_ONCE",
    "OPEN_JOB_STATES",
    "AccessHours",
    "AwayReason",
    "BenchHours",
    "BenchTask",
    "BenchTerms",
    "Closure",
    "CurrencyChange",
    "CuttingTerms",
    "DaysAway",
    "Document",
    "Export",
    "Glass",
    "GlassFamily",
    "HistoryEntry",
    "Invitation",
    "Job",
    "JobState",
    "Kiln",
    "KilnTerms",
    "KilnUser",
    "Layer",
    "LengthUnit",
    "Material",
    "MaterialKind",
    "Membership",
    "MoveKind",
    "Outcome",
    "PaperSize",
    "Pass",
    "Person",
    "Picture",
    "Piece",
    "PieceEvent",
    "PieceEventKind",
    "Reservation",
    "Role",
    "Sheet",
    "SignedIn",
    "StockMove",
    "StockSheet",
    "Studio",
    "TaskTime",
    "Technique",
    "TemperatureUnit",
    "UsedPer",
    "Weekday",
    "validate_currency",
]
