"""Reads the JSON of a planning problem and says, key by key, what is wrong with it.

Reading stops at the first mistake: nothing is planned from half-right facts. Facts that
are odd but usable are accepted with a remark.
"""

from collections.abc import Collection, Iterable, Mapping
from typing import Any

from firing.planning.problem.problem import (
    SLOTS_PER_DAY,
    EnamelKind,
    FixedFiring,
    Fuse,
    PlannedKiln,
    PlannedPass,
    PlannedPerson,
    PlannedPiece,
    PlanProblem,
    Problem,
    Skill,
    Window,
    joined,
)

FORMAT = 1
SLOT_MINUTES = 30
# Twelve years of half hours: a longer horizon is a typing mistake.
MOST_SLOTS = 210_000
MOST_MM = 20_000.0
MOST_KWH = 100_000.0
MOST_WEIGHT = 10_000
# Ranges beyond which a temperature was probably written in another unit: common
# practice, no source. They are wide, and exclude every Celsius value of the same firing.
ENAMEL_F = (850.0, 1500.0)
# A slab that is annealed again goes no higher than its anneal soak.
FUSE_F = (850.0, 1800.0)
KILN_F = (850.0, 3000.0)


def read_problem(data: object) -> Problem:
    """Return the problem that a parsed JSON document states.

    Parameters
    ----------
    data : object
        As parsed; slots, °F, mm and kWh as the format of `plan_kilns` says.

    Raises
    ------
    PlanProblem
        At the first key that is missing, unknown to the rest or impossible.

    References
    ----------
    The format is this project's own.
    """
    top = _Reader(data, "")
    if top.get("format", FORMAT) != FORMAT:
        raise PlanProblem("format", f"this program reads format {FORMAT}.")
    if top.get("slot_minutes", SLOT_MINUTES) != SLOT_MINUTES:
        raise PlanProblem("slot_minutes", f"a slot has {SLOT_MINUTES} minutes here.")
    horizon = top.whole("horizon", least=1, most=MOST_SLOTS)
    access = _windows(top, "access", horizon)
    remarks: list[str] = []
    kinds = tuple(_kind(one) for one in top.rows("kinds"))
    kilns = tuple(_kiln(one, horizon) for one in top.rows("kilns"))
    people = tuple(_person(one, horizon) for one in top.rows("people"))
    fixed = tuple(
        _fixed(one, {k.id for k in kilns}) for one in top.rows("fixed", optional=True)
    )
    kind_ids, person_ids = {k.id for k in kinds}, {p.id for p in people}
    pieces = tuple(
        _piece(one, kind_ids, person_ids, {k.id for k in kilns}, remarks)
        for one in top.rows("pieces")
    )
    for key, rows in (
        ("kinds", kinds),
        ("kilns", kilns),
        ("people", people),
        ("fixed", fixed),
        ("pieces", pieces),
    ):
        _check_ids(key, [row.id for row in rows])
    _check_fixed(fixed, kilns)
    return Problem(
        horizon=horizon,
        access=access,
        kinds=kinds,
        kilns=kilns,
        people=people,
        fixed=fixed,
        pieces=pieces,
        remarks=tuple(remarks),
    )


class _Reader:
    """One object of the document, with the path to it for messages."""

    def __init__(self, data: object, path: str) -> None:
        if not isinstance(data, Mapping):
            raise PlanProblem(path or "file", "an object {...} is wanted here.")
        self.data = data
        self.path = path

    def at(self, key: str) -> str:
        return f"{self.path}.{key}" if self.path else key

    def get(self, key: str, default: Any = None) -> Any:
        return self.data.get(key, default)

    def must(self, key: str) -> Any:
        if key not in self.data:
            raise PlanProblem(self.at(key), "missing.")
        return self.data[key]

    def whole(
        self, key: str, *, least: int = 0, most: int = MOST_SLOTS, default: Any = ...
    ) -> int:
        value = self.must(key) if default is ... else self.get(key, default)
        if isinstance(value, float) and value.is_integer():
            value = int(value)
        if isinstance(value, bool) or not isinstance(value, int):
            raise PlanProblem(self.at(key), f"{_shown(value)} is not a whole number.")
        if not least <= value <= most:
            raise PlanProblem(
                self.at(key), f"{_shown(value)} is not between {least} and {most}."
            )
        return value

    def number(self, key: str, *, above: float = 0.0, most: float) -> float:
        value = self.must(key)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise PlanProblem(self.at(key), f"{_shown(value)} is not a number.")
        if not above < value <= most:
            raise PlanProblem(
                self.at(key),
                f"{_shown(value)} is not above {above:g} and at most {most:g}.",
            )
        return float(value)

    def energy(self, key: str) -> float:
        return self.number(key, above=-1e-9, most=MOST_KWH)

    def text(self, key: str) -> str:
        value = self.must(key)
        if not isinstance(value, str) or not value.strip():
            raise PlanProblem(self.at(key), f"{_shown(value)} is not a name.")
        return value

    def known(self, key: str, ids: Collection[str], what: str) -> str:
        value = self.text(key)
        if value not in ids:
            raise PlanProblem(self.at(key), f"there is no {what} {_shown(value)}.")
        return value

    def listed(self, key: str, *, optional: bool = False) -> list[Any]:
        value = self.get(key, []) if optional else self.must(key)
        if not isinstance(value, list):
            raise PlanProblem(self.at(key), "a list [...] is wanted here.")
        return value

    def rows(self, key: str, *, optional: bool = False) -> list["_Reader"]:
        found = []
        for number, row in enumerate(self.listed(key, optional=optional)):
            name = row.get("id", number) if isinstance(row, Mapping) else number
            found.append(_Reader(row, f"{self.at(key)}[{name}]"))
        return found


def _shown(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 40 else f"{text[:37]}..."


def _windows(
    viewer: _Reader, key: str, horizon: int, *, optional: bool = False
) -> tuple[Window, ...]:
    """Read windows; those that overlap are joined, those past the horizon cut."""
    found = []
    for number, pair in enumerate(viewer.listed(key, optional=optional)):
        where = f"{viewer.at(key)}[{number}]"
        if not isinstance(pair, list) or len(pair) != 2:
            raise PlanProblem(where, "a window is [start, end].")
        row = _Reader({"start": pair[0], "end": pair[1]}, where)
        start, end = row.whole("start"), row.whole("end")
        if end <= start:
            raise PlanProblem(where, f"it ends at {end}, not after its start {start}.")
        if start < horizon:
            found.append((start, min(end, horizon)))
    return joined(tuple(found))


def _temperature(viewer: _Reader, key: str, likely: tuple[float, float]) -> float:
    value = viewer.number(key, above=-1e9, most=1e9)
    if not likely[0] <= value <= likely[1]:
        raise PlanProblem(
            viewer.at(key),
            f"{value:g} °F is unlikely here (between {likely[0]:g} and "
            f"{likely[1]:g} is usual). Is it in °C? Write it in °F.",
        )
    return value


def _kind(viewer: _Reader) -> EnamelKind:
    return EnamelKind(
        id=viewer.text("id"),
        temp_f=_temperature(viewer, "temp_f", ENAMEL_F),
        run=viewer.whole("run", least=1),
        load=viewer.whole("load", least=1),
        unload=viewer.whole("unload", least=1),
        gap_mm=viewer.number("gap_mm", above=-1e-9, most=1000.0),
    )


def _kiln(viewer: _Reader, horizon: int) -> PlannedKiln:
    return PlannedKiln(
        id=viewer.text("id"),
        width_mm=viewer.number("width_mm", most=MOST_MM),
        depth_mm=viewer.number("depth_mm", most=MOST_MM),
        height_mm=viewer.number("height_mm", most=MOST_MM),
        max_temp_f=_temperature(viewer, "max_temp_f", KILN_F),
        kwh_per_enamel_firing=viewer.energy("kwh_per_firing_burn"),
        kwh_per_day_fuse=viewer.energy("kwh_per_day_fuse"),
        maintenance=_windows(viewer, "maintenance", horizon, optional=True),
    )


def _person(viewer: _Reader, horizon: int) -> PlannedPerson:
    skills = []
    for number, skill in enumerate(viewer.listed("skills")):
        if skill not in set(Skill):
            known = ", ".join(Skill)
            raise PlanProblem(
                f"{viewer.at('skills')}[{number}]",
                f"{_shown(skill)} is no skill; known are {known}.",
            )
        skills.append(Skill(skill))
    return PlannedPerson(
        id=viewer.text("id"),
        skills=frozenset(skills),
        available=_windows(viewer, "available", horizon),
        weekly_cap=viewer.whole("weekly_cap"),
    )


def _fixed(viewer: _Reader, kilns: Collection[str]) -> FixedFiring:
    start, end = viewer.whole("start"), viewer.whole("end")
    if end <= start:
        raise PlanProblem(
            viewer.at("end"), f"it ends at {end}, not after its start {start}."
        )
    return FixedFiring(
        id=viewer.text("id"),
        kiln=viewer.known("kiln", kilns, "kiln"),
        start=start,
        end=end,
    )


def _piece(
    viewer: _Reader,
    kinds: Collection[str],
    people: Collection[str],
    kilns: Collection[str],
    remarks: list[str],
) -> PlannedPiece:
    release = viewer.whole("release")
    due_day, weight = _due(viewer, release, remarks)
    fused = viewer.get("fused", False)
    if not isinstance(fused, bool):
        raise PlanProblem(viewer.at("fused"), "true or false is wanted here.")
    layers = []
    for number, layer in enumerate(viewer.listed("layers")):
        where = f"{viewer.at('layers')}[{number}]"
        if not isinstance(layer, list):
            raise PlanProblem(where, "a layer is a list of its passes.")
        layers.append(
            tuple(
                _pass(_Reader(one, f"{where}[{position}]"), kinds)
                for position, one in enumerate(layer)
            )
        )
    return PlannedPiece(
        id=viewer.text("id"),
        artist=viewer.known("artist", people, "person"),
        release=release,
        due_day=due_day,
        weight=weight,
        width_mm=viewer.number("width_mm", most=MOST_MM),
        depth_mm=viewer.number("depth_mm", most=MOST_MM),
        height_mm=viewer.number("height_mm", most=MOST_MM),
        fuse=None if fused else _fuse(viewer),
        layers=tuple(layers),
        layer_height_mm=viewer.number("layer_height_mm", most=MOST_MM),
        assembly=viewer.whole("assembly", least=0 if fused else 1),
        coldwork=viewer.whole("coldwork", least=1),
        ship_days=viewer.whole("ship_days", most=3650),
        layers_not_in=_barred(viewer, "layers_not_in", kilns),
        stack_not_in=_barred(viewer, "stack_not_in", kilns),
    )


def _barred(viewer: _Reader, key: str, kilns: Collection[str]) -> frozenset[str]:
    names = viewer.listed(key, optional=True)
    for number, name in enumerate(names):
        if name not in kilns:
            raise PlanProblem(
                f"{viewer.at(key)}[{number}]", f"there is no kiln {_shown(name)}."
            )
    return frozenset(names)


def _due(viewer: _Reader, release: int, remarks: list[str]) -> tuple[int | None, int]:
    """Read due day and weight; without a due day nothing is late."""
    weight = viewer.whole("weight", most=MOST_WEIGHT, default=1)
    if viewer.get("due_day") is None:
        remarks.append(f"{viewer.path}: no due day, so it is never late.")
        return None, 0
    due_day = viewer.whole("due_day", least=-MOST_SLOTS)
    if due_day < release // SLOTS_PER_DAY:
        remarks.append(
            f"{viewer.at('due_day')}: due on day {due_day}, before the work may begin "
            f"on day {release // SLOTS_PER_DAY}: late from the start."
        )
    return due_day, weight


def _fuse(viewer: _Reader) -> Fuse:
    return Fuse(
        temp_f=_temperature(viewer, "fuse_temp_f", FUSE_F),
        run=viewer.whole("fuse_run", least=1),
        load=viewer.whole("fuse_load", least=1),
        unload=viewer.whole("fuse_unload", least=1),
    )


def _pass(viewer: _Reader, kinds: Collection[str]) -> PlannedPass:
    is_painted = viewer.get("painted", False)
    if not isinstance(is_painted, bool):
        raise PlanProblem(viewer.at("painted"), "true or false is wanted here.")
    return PlannedPass(
        kind=viewer.known("kind", kinds, "kind of firing"),
        labour=0 if is_painted else viewer.whole("labour", least=1),
        not_before=viewer.whole("not_before", default=0),
    )


def _check_ids(key: str, ids: Iterable[str]) -> None:
    seen = set()
    for one in ids:
        if one in seen:
            raise PlanProblem(f"{key}[{one}].id", "it comes twice.")
        seen.add(one)


def _check_fixed(
    fixed: tuple[FixedFiring, ...], kilns: tuple[PlannedKiln, ...]
) -> None:
    """Refuse firings that overlap each other or maintenance, naming both."""
    for kiln in kilns:
        standing: list[tuple[int, int, str]] = sorted(
            [(one.start, one.end, one.id) for one in fixed if one.kiln == kiln.id]
            + [(start, end, "maintenance") for start, end in kiln.maintenance]
        )
        end, holder = -1, ""
        for start, stop, name in standing:
            if start < end:
                raise PlanProblem(
                    f"fixed[{name if name != 'maintenance' else holder}]",
                    f"{holder} and {name} overlap in kiln {kiln.id} "
                    f"from slot {start}. Decide which of them moves.",
                )
            if stop > end:
                end, holder = stop, name
