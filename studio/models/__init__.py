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
from studio.models.finished import PieceMove, PieceRecord, Whereabouts
from studio.models.history import HistoryEntry
from studio.models.invitation import Invitation
from studio.models.job import OPEN_JOB_STATES, Job, JobState
from studio.models.kiln import AccessHours, Closure, Kiln, Weekday
from studio.models.kiln_user import MOST_FREE_HOURS, KilnTerms, KilnUser
from studio.models.layer import Layer, Pass, Sheet, Technique
from studio.models.material import Glass, GlassFamily, Material, MaterialKind, UsedPer
from studio.models.message import (
    Delivery,
    DeliveryState,
    Message,
    MessageWishes,
    Phone,
    StoppedAddress,
    Topic,
)
from studio.models.person import Person
from studio.models.picture import Picture
from studio.models.piece import LOST, Outcome, Piece, PieceEvent, PieceEventKind
from studio.models.sent_once import SENT_AGAIN_WITHIN, SentOnce
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
    "SENT_AGAIN_WITHIN",
    "AccessHours",
    "AwayReason",
    "BenchHours",
    "BenchTask",
    "BenchTerms",
    "Closure",
    "CurrencyChange",
    "CuttingTerms",
    "DaysAway",
    "Delivery",
    "DeliveryState",
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
    "Message",
    "MessageWishes",
    "MoveKind",
    "Outcome",
    "PaperSize",
    "Pass",
    "Person",
    "Phone",
    "Picture",
    "Piece",
    "PieceEvent",
    "PieceEventKind",
    "PieceMove",
    "PieceRecord",
    "Reservation",
    "Role",
    "SentOnce",
    "Sheet",
    "SignedIn",
    "StockMove",
    "StockSheet",
    "StoppedAddress",
    "Studio",
    "TaskTime",
    "Technique",
    "TemperatureUnit",
    "Topic",
    "UsedPer",
    "Weekday",
    "Whereabouts",
    "validate_currency",
]
