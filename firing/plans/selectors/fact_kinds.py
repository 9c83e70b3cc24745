"""The kinds of facts behind a plan, their fields, and how they are stored.

A fact carries names only for its later readers. They are not compared: two facts are
equal when everything computed from them is equal.
"""

from collections.abc import Mapping
from dataclasses import Field, dataclass, field, fields
from datetime import UTC, date, datetime
from hashlib import sha256
from json import dumps
from typing import Any, ClassVar

VERSION = 2


# How to read back a field whose type JSON does not have.
INSTANT = {"read": datetime.fromisoformat}
DATE = {"read": date.fromisoformat}


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """The state of one row. `pk` is its key, or 0 where the studio has only one."""

    kind: ClassVar[str]
    pk: int = 0


FactKey = tuple[str, int]
Facts = Mapping[FactKey, Fact]


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceFact(Fact):
    """An open piece: stage, size [mm], promised day, and the key of its maker."""

    kind = "piece"
    stage: str
    width_mm: float
    height_mm: float
    thickness_mm: float
    due_date: date | None = field(metadata=DATE)
    maker: int | None
    title: str = field(compare=False, default="")


@dataclass(frozen=True, slots=True, kw_only=True)
class OfLayer(Fact):
    """Part of one layer of a piece: the piece's key, the layer's number."""

    piece: int
    layer: int
    title: str = field(compare=False, default="")


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetFact(OfLayer):
    """A sheet that was set aside and is being made again."""

    kind = "sheet"
    reason: str = field(compare=False, default="")


@dataclass(frozen=True, slots=True, kw_only=True)
class UncutFact(OfLayer):
    """A layer that waits to be cut, and where it is to be fired."""

    kind = "uncut"
    place: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PassFact(OfLayer):
    """A pass: how it came out, or whether it is painted and where it will be fired.

    Its number changes when an earlier one is fired again; that moves nothing.
    """

    kind = "pass"
    outcome: str
    is_painted: bool
    place: str
    is_repeat: bool
    number: int = field(compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class BookingFact(Fact):
    """A booking that is not over, its state, and whether a plan or a person made it."""

    kind = "booking"
    kiln: int
    starts_at: datetime = field(metadata=INSTANT)
    ends_at: datetime = field(metadata=INSTANT)
    is_provisional: bool
    is_running: bool
    is_planned: bool
    is_maintenance: bool
    title: str = field(compare=False, default="")
    kiln_name: str = field(compare=False, default="")


@dataclass(frozen=True, slots=True, kw_only=True)
class InsideFact(Fact):
    """A firing that is in its kiln, and whether it is running past its booking."""

    kind = "inside"
    is_late: bool
    title: str = field(compare=False, default="")
    kiln_name: str = field(compare=False, default="")


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonFact(Fact):
    """A member of the studio; `hours_sha256` stands for hours, limit and skills."""

    kind = "person"
    role: str
    hours_sha256: str
    is_active: bool
    name: str = field(compare=False, default="")


@dataclass(frozen=True, slots=True, kw_only=True)
class AwayFact(Fact):
    """Days when somebody is away, first and last included."""

    kind = "away"
    starts_date: date = field(metadata=DATE)
    ends_date: date = field(metadata=DATE)
    name: str = field(compare=False, default="")


@dataclass(frozen=True, slots=True, kw_only=True)
class KilnFact(Fact):
    """A kiln; `settings_sha256` stands for all its settings."""

    kind = "kiln"
    settings_sha256: str
    name: str = field(compare=False, default="")


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosureFact(Fact):
    """A closure of one kiln, or of the whole studio if no kiln is named."""

    kind = "closure"
    kiln: int | None
    starts_at: datetime = field(metadata=INSTANT)
    ends_at: datetime = field(metadata=INSTANT)
    kiln_name: str = field(compare=False, default="")
    reason: str = field(compare=False, default="")


@dataclass(frozen=True, slots=True, kw_only=True)
class HoursFact(Fact):
    """The hours when somebody is in."""

    kind = "hours"
    hours_sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchFact(Fact):
    """The rules by which work by hand takes its time."""

    kind = "bench"
    tasks_sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AnnealFact(Fact):
    """The rule of the table by which a fuse's hours are counted."""

    kind = "anneal"
    rule: str


KINDS: dict[str, type[Fact]] = {
    one.kind: one
    for one in (
        PieceFact,
        SheetFact,
        UncutFact,
        PassFact,
        BookingFact,
        InsideFact,
        PersonFact,
        AwayFact,
        KilnFact,
        ClosureFact,
        HoursFact,
        BenchFact,
        AnnealFact,
    )
}


def fingerprint(facts: Facts) -> str:
    """Return the same text for equal facts."""
    states = sorted(
        (fact.kind, fact.pk, {f.name: _plain(fact, f.name) for f in _compared(fact)})
        for fact in facts.values()
    )
    return digest(states)


def _compared(fact: Fact) -> list[Field[Any]]:
    return [one for one in fields(fact) if one.compare]


def digest(state: object) -> str:
    """Return a short hash of plain values: equal for equal ones."""
    return sha256(dumps(state, default=str, sort_keys=True).encode()).hexdigest()


def facts_as_json(facts: Facts) -> dict[str, Any]:
    """Return facts as they are stored."""
    rows = [
        {"kind": fact.kind, **{f.name: _plain(fact, f.name) for f in fields(fact)}}
        for fact in facts.values()
    ]
    return {"version": VERSION, "facts": rows}


def facts_from_json(stored: Mapping[str, Any]) -> Facts | None:
    """Return stored facts; none where there are none or they are of another version."""
    if stored.get("version") != VERSION:
        return None
    found = (_read(**row) for row in stored["facts"])
    return {(fact.kind, fact.pk): fact for fact in found}


def _read(*, kind: str, **values: Any) -> Fact:
    made = KINDS[kind]
    for one in fields(made):
        read = one.metadata.get("read")
        if read is not None and values[one.name] is not None:
            values[one.name] = read(values[one.name])
    return made(**values)


def _plain(fact: Fact, name: str) -> object:
    value = getattr(fact, name)
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    return value.isoformat() if isinstance(value, date) else value
