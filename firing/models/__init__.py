"""Schedules, bookings, firings and readings."""

from firing.models.booking import Booking, BookingKind
from firing.models.calendar_link import CalendarLink, FeedKind
from firing.models.comparison import ComparedBy, KilnComparison
from firing.models.evenness import KilnEvenness
from firing.models.firing import Firing, LoadItem
from firing.models.fuse_anneal import FuseAnneal
from firing.models.judgement import Judgement
from firing.models.kiln_change import (
    ChangedPart,
    KilnChange,
    KilnUpkeep,
    UpkeepCount,
)
from firing.models.limits import StressLimits
from firing.models.logger import KilnLogger
from firing.models.plan import (
    Plan,
    PlannedFiring,
    PlannedItem,
    PlannedTask,
    PlannedWork,
    PlanState,
    PlanWish,
)
from firing.models.reading import (
    PushedChange,
    PushedCorrection,
    Reading,
    ReadingImport,
    SentFile,
)
from firing.models.schedule import (
    FiringKind,
    Schedule,
    ScheduleRule,
    ScheduleSegment,
)
from firing.models.typed_programme import TypedProgramme
from firing.models.watch import MAY_BE_OPENED, FiringEvent, FiringWatch

__all__ = [
    "MAY_BE_OPENED",
    "Booking",
    "BookingKind",
    "CalendarLink",
    "ChangedPart",
    "ComparedBy",
    "FeedKind",
    "Firing",
    "FiringEvent",
    "FiringKind",
    "FiringWatch",
    "FuseAnneal",
    "Judgement",
    "KilnChange",
    "KilnComparison",
    "KilnEvenness",
    "KilnLogger",
    "KilnUpkeep",
    "LoadItem",
    "Plan",
    "PlanState",
    "PlanWish",
    "PlannedFiring",
    "PlannedItem",
    "PlannedTask",
    "PlannedWork",
    "PushedChange",
    "PushedCorrection",
    "Reading",
    "ReadingImport",
    "Schedule",
    "ScheduleRule",
    "ScheduleSegment",
    "SentFile",
    "StressLimits",
    "TypedProgramme",
    "UpkeepCount",
]
