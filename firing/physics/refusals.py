"""Why the model refuses something: kinds with typed quantities, and a plain sentence
each.

The sentences here are in SI, for commands; `firing.schedules.selectors.refusal_words`
says the same in the reader's units. Quantities and names are kept apart from the words,
so that nobody's name for a thing is ever taken for a number.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import Enum, StrEnum
from types import MappingProxyType
from typing import Any, Self


class Unit(StrEnum):
    """What a quantity of a refusal is measured in."""

    CELSIUS = "°C"
    KELVIN = "K"
    DIFFERENCE = "K of difference"
    CELSIUS_PER_HOUR = "°C/h"
    METRE = "m"
    PASCAL = "Pa"
    PER_KELVIN = "1/K"
    SECOND = "s"
    DENSITY = "kg/m³"
    CONDUCTIVITY = "W/(m K)"
    SPECIFIC_HEAT = "J/(kg K)"
    BREWSTER = "1e-12/Pa"
    ONE = ""


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number and its unit."""

    value: float
    unit: Unit

    def __str__(self) -> str:
        match self.unit:
            case Unit.METRE:
                return f"{self.value * 1000:g} mm"
            case Unit.PASCAL:
                return f"{self.value / 1e6:g} MPa"
            case Unit.DIFFERENCE:
                return f"{self.value:g} K"
            case Unit.ONE:
                return f"{self.value:g}"
        return f"{self.value:g} {self.unit}"


def celsius(value: float) -> Quantity:
    """Return a temperature [°C]."""
    return Quantity(value, Unit.CELSIUS)


def kelvin(value: float) -> Quantity:
    """Return a difference of temperatures [K]."""
    return Quantity(value, Unit.DIFFERENCE)


def per_hour(value: float) -> Quantity:
    """Return a rate [°C/h]."""
    return Quantity(value, Unit.CELSIUS_PER_HOUR)


def metres(value: float) -> Quantity:
    """Return a length [m]."""
    return Quantity(value, Unit.METRE)


def pascals(value: float) -> Quantity:
    """Return a tension [Pa]."""
    return Quantity(value, Unit.PASCAL)


def seconds(value: float) -> Quantity:
    """Return a time [s]."""
    return Quantity(value, Unit.SECOND)


def per_kelvin(value: float) -> Quantity:
    """Return an expansion [1/K]."""
    return Quantity(value, Unit.PER_KELVIN)


def number(value: float) -> Quantity:
    """Return a number without a unit."""
    return Quantity(value, Unit.ONE)


Given = Quantity | str | tuple[Quantity, ...]


class Cause(Enum):
    """The kinds of refusal, each with its sentence; braces name what is given."""

    # --- Files ---
    FORMAT = "{key}: {message}"

    # --- Glass ---
    NO_SOAK = (
        "{glass} has no anneal soak. Take it from the maker's data sheet; it cannot be "
        "told from the expansion."
    )
    SPECTRUM_TOO_SLOW = (
        "The shear spectrum is too slow for this annealing point and activation; check "
        "the times and H/R."
    )
    GLASS_OUT_OF_RANGE = (
        "{key} of {glass} is {value}; a kiln glass lies between {low} and {high}. Check "
        "the value and its unit."
    )
    SPECTRUM_LENGTH = "{key} of {glass} needs 1 to 20 terms."
    SPECTRUM_TERM = (
        "{key} of {glass} has a term with weight {weight} and time {time}; weights are "
        "0 to 1, times 1e-12 to 1e12 s."
    )
    SPECTRUM_SUM = "The weights of {key} of {glass} must add up to 1."
    LIQUID_BELOW_GLASS = (
        "expansion_liquid_per_k of {glass} is below expansion_glass_per_k; a liquid "
        "expands at least as much as its glass (about three times)."
    )
    POINTS_OUT_OF_ORDER = (
        "{cooler} of {glass} is {low} and {hotter} {high}: the order is strain, "
        "annealing, softening point. One of them is wrong."
    )
    SOAK_FAR_OFF = (
        "soak_c of {glass} is {soak} and its annealing point {annealing_point}; a soak "
        "lies from {below} below to {above} above it. One of them is wrong, or in "
        "another unit."
    )
    ANNEALING_CONTRADICTION = (
        "annealing_point_c of {glass} is {annealing_point}, but reference_temperature_k "
        "and shear_spectrum put a viscosity of 1e12 Pa s at {implied}. They contradict "
        "each other; leave out reference_temperature_k to have it computed."
    )
    NO_KILN_GLASS = (
        "An annealing point of {annealing_point} is not one of a kiln glass; check the "
        "data sheet and its unit."
    )
    NO_FAMILY = (
        "No glass family is called “{name}”. There are: {families}; or give the whole "
        "set of numbers."
    )
    OTHER_FAMILY = (
        "An expansion of {expansion} contradicts the family {family}, whose is {own}. "
        "Look at the data sheet and its unit, or choose another family."
    )
    NEARER_FAMILY = (
        "An expansion of {expansion} contradicts the family {family}, whose is {own}. "
        "It is nearer to {nearest}. Look at the data sheet and its unit, or choose "
        "another family."
    )
    SHARE = "The first glass has between none and all of the slab."

    # --- Limits and uncertainty ---
    LIMIT = "The {name} limit is 0.01 to 100 MPa, not {value}."
    LIMITS_OUT_OF_ORDER = (
        "The residual limit is not above the temporary one, and that not above the "
        "warning; these are {residual}, {temporary} and {warning}."
    )
    UNCERTAINTY = (
        "An uncertainty is 0 to {most} of the annealing point, 0 to 0.5 of the "
        "conductivity and 0 to {most} of the thermocouple."
    )
    OFFSET = (
        "A kiln's offset is up to {most} either way, not {offset}. Have its thermocouple "
        "looked at."
    )
    RADIUS = "A slab reaches {least} to {most} from its middle, not {radius}."
    SPREAD = (
        "A kiln is up to {most} hotter or colder at the edge of a slab than over its "
        "middle. Measure again, or have the kiln looked at."
    )
    LEAD = "The edge of a kiln is at most two hours ahead of its middle or behind it."
    NO_COMPARISON = "There is no comparison to find an offset from."
    COMPARED_TOO_COLD = (
        "A comparison at {shown} says too little. Compare above {least}, best in the "
        "anneal soak."
    )
    COMPARISON_ERROR = "A measurement is sure to {least} to {most}, not {error}."

    # --- Programmes ---
    RATE = (
        "“{label}” has a rate of {rate}; a rate is above zero, or left out for as fast "
        "as the kiln can."
    )
    HOLD = "“{label}” holds for {hold}; a hold is zero or more, and less than a year."
    TARGET = "The target of “{label}” is {given}; kilns are between {low} and {high}."
    START = "The start is {given}; kilns are between {low} and {high}."
    NO_SEGMENT = "A schedule has at least one segment."
    FASTEST_RATE = "The fastest rate must be above zero."
    CONTROLLER_RATES = (
        "A controller's slowest rate is above zero and not above its fastest, and its "
        "step of rates is above zero."
    )
    TOO_MANY_SEGMENTS = (
        "This schedule has {count} segments and the controller takes {available}. Join "
        "or leave out segments, link two of its programs, or use another controller."
    )
    SEGMENT_TOO_SLOW = (
        "Segment {number}, “{label}”, needs {needed}, and the slowest this controller "
        "takes is {slowest}. Use a controller with slower rates, or fire a thinner "
        "piece."
    )
    NO_SINGLE_SHEET = (
        "{thickness} is more than a single sheet; an enamel firing cools too fast for "
        "it. Use a re-anneal or a fuse."
    )
    SHEET_TOO_THICK = (
        "{thickness} is no single sheet; an enamel firing is for sheets of at most "
        "{most}. Use a re-anneal or a fuse."
    )
    OPENING_ABOVE_SOAK = "The opening temperature must lie below the anneal soak."
    RULE_OF_THINNER_GLASS = (
        "This anneal is for {rule} and the glass is {thickness}; take the rule of its "
        "thickness or more."
    )
    PROGRAMME_OUT_OF_ORDER = (
        "Start, anneal soak and process temperature must rise in this order; these are "
        "{steps}."
    )
    NO_THICKER_ROW = (
        "The annealing table has no row thicker than the one for {thickness}; its last "
        "is {last}. Use the exact rule, and test it on a maquette."
    )
    OUTSIDE_THE_TABLE = (
        "The annealing table is for slabs up to {most}; this one is {thickness}. Check "
        "the thickness; for a thicker slab ask the maker of the glass, and judge the "
        "firing that you type in yourself."
    )
    END_ABOVE_SOAK = (
        "The end of cooling, {end}, must lie below the anneal soak of {soak}."
    )
    NO_TABLE_RULE = "The table has no rule for this: {kind}. Design a schedule for it."

    # --- Designs ---
    WARM_START = (
        "A firing from {start} does not start from cold glass. Let it start below the "
        "annealing point."
    )
    DESIGN_OUT_OF_ORDER = (
        "Opening, anneal soak and process temperature must rise in this order; these are "
        "{opening}, {soak} and {process}."
    )
    PROCESS_TOO_COLD = (
        "At {process} this glass does not lose its stress; a process is at {least} or "
        "hotter."
    )
    PROCESS_BELOW_SQUEEZE = (
        "A stack does not fuse at {process}; its process lies above the bubble squeeze "
        "at {squeeze}."
    )
    NO_SCHEDULE_TO_TELL = (
        "No schedule of {thickness} that the controller can be told stays within the "
        "limits. Allow more tension, or use a controller with finer rates."
    )
    NO_SOAK_SEGMENT = "This schedule has no segment called “anneal soak”."
    NO_ANNEAL = (
        "No anneal of {thickness} was found within {temporary} temporary and {residual} "
        "residual tension over the whole band. Allow more, take less uncertain data, "
        "choose another soak, or use a controller with slower rates."
    )
    ROW_TOO_SLOW = (
        "The table's row for {thickness} cools at {rate}, and the slowest that this "
        "controller takes is {slowest}. Use one with slower rates, or fire a thinner "
        "piece."
    )
    NO_HEAT_UP = (
        "No heat-up of {thickness} was found within {limit} over the whole band. Allow "
        "more tension."
    )
    DOES_NOT_REACH = (
        "The glass furthest from the heat would not reach {least}. Fire hotter, or let "
        "heat reach both faces."
    )
    NEVER_EVEN = "The slab does not even out in the soak given."
    NO_LENGTH = "A history without a length evens nothing out."
    NO_KILN_CHOSEN = "Choose a kiln first: how it cools decides what follows."
    CUT_AFTER_END = "This firing lasts {hours} h. Let the power fail before its end."
    NO_WAY_BACK = (
        "At full power this kiln does not get back to where it was. Look at its power "
        "and its highest temperature."
    )

    # --- Simulations ---
    TRACE_SLOTS = "A trace has 0 to 100000 slots, not {slots}."
    TOO_MANY_STEPS = (
        "This firing needs more than {most} steps. Thin out the history, or allow longer "
        "steps."
    )
    STEPS_TOO_SMALL = (
        "The steps became too small to go on. Check the history for jumps that no kiln "
        "makes, and the glass's numbers."
    )
    NOT_FINITE = (
        "The computation left the finite numbers. Check the glass's numbers: "
        "conductivity, specific heat and relaxation times."
    )
    TOLERANCE = "The tolerance of a thinned curve must be above zero."
    NOTHING_TO_KEEP = "There is no reading to keep."
    NODES = "The number of nodes is odd and 5 to 401, not {nodes}."
    STEP_FACTOR = "The step factor is 0.02 to 8, not {factor}."
    MOST_STEPS = "The number of steps to give up at is above zero."
    THICKNESS = "A thickness of {thickness} cannot be computed; give {least} to {most}."
    WINDOW_BACKWARDS = "The window must end after it starts."
    WINDOW_OUTSIDE = "The window lies outside the kiln's history."
    SHEET_OF_STACK = (
        "A sheet of {sheet} does not fit a stack of {thickness}; give {least} up to the "
        "stack's height."
    )
    JOINS_TOO_COLD = (
        "Sheets do not fuse at {joins}; the temperature at which they have become one "
        "lies above the annealing point, near {usual}."
    )
    HISTORY_SHAPE = (
        "The kiln's history needs as many temperatures as times, and at least one."
    )
    HISTORY_NO_NUMBER = (
        "The {what} of the kiln's history are not all numbers: point {place} is {value}. "
        "Leave it out or correct it."
    )
    HISTORY_BACKWARDS = (
        "Time goes backwards at point {place} of the kiln's history, from {before} to "
        "{after}. Put the points in order."
    )
    HISTORY_TOO_LONG = "The kiln's history is longer than the model goes: 1e11 s."
    HISTORY_OUT_OF_RANGE = (
        "The kiln's history goes to {wrong}; the model holds from {low} to {high}. Check "
        "the unit."
    )
    MODEL_OUT_OF_RANGE = "{what} is {given}; the model holds from {low} to {high}."
    FILM = "A film coefficient is 0 to 100000 W/(m² K), not {film}."
    EMISSIVITY = "An emissivity is 0 to 1, not {emissivity}."
    NO_FACE = (
        "Neither face exchanges heat with the kiln. Give at least one a film coefficient "
        "or an emissivity."
    )

    # --- Kilns ---
    KILN_NUMBER = (
        "A kiln's {name} lies above {low} and up to {high}; this one is {value}."
    )
    KILN_TEMPERATURES = (
        "A kiln's highest temperature lies above the room's and up to {most}; these are "
        "{highest} and {room}."
    )
    RUN_TOO_LONG = "This run needs more than {most} steps; take a longer step."
    RUN_STEP = "The step of a run must be above zero."
    ABOVE_THE_RATING = (
        "This schedule goes to {peak} and the kiln is rated to {rating}. Choose another "
        "kiln."
    )
    ABOVE_FULL_POWER = (
        "This schedule goes to {peak} and full power holds this kiln at {holds} at most. "
        "Choose another kiln, or have its elements looked at."
    )
    BELOW_THE_ROOM = (
        "The kiln cannot come down to {coldest} in a room of {room}. Let the schedule "
        "end, and the kiln be opened, above that."
    )

    # --- Readings ---
    NEVER_HEATS = "This plan never heats; a firing starts cold."
    READINGS_SHAPE = "Readings need as many temperatures as times."
    READING_NO_NUMBER = "The {what} of reading {place} is no number. Leave the reading out or correct it."
    READINGS_BACKWARDS = (
        "Time goes backwards at reading {place}. Put the readings in order."
    )
    TOO_FEW_READINGS = (
        "{count} reading(s) at one time tell nothing of a firing. Import the whole log."
    )
    READING_OUT_OF_RANGE = (
        "Reading {place} is {given}, which no kiln for glass has. Check the unit."
    )
    LONGEST_GAP = "The longest gap to be bridged must be above zero."
    NO_KILN_READINGS = "These readings are no kiln temperatures. Check the unit."
    READINGS_TOO_SHORT = "These readings are too short to compute."
    NEVER_HOT = (
        "The kiln was never above {hottest} in these readings, and so little does "
        "nothing to glass. Add those that follow, or take those of the right day."
    )
    UNKNOWN_PAST = (
        "These readings begin at {start}, and what the glass went through before is not "
        "known. Add the readings from cold, or let them begin above {relaxed}, where "
        "glass forgets its past."
    )

    # --- Kilns measured by their readings ---
    ROOM_NO_NUMBER = "The room's temperature must be a number."
    COOLING_TIME = "A kiln's cooling time must be above zero."
    NEVER_FALLS_FREELY = (
        "These readings hold no stretch in which the kiln falls freely for long enough, "
        "so its cooling time cannot be known. Record a firing until the kiln is cold."
    )
    NO_FIRING = "There is no recorded firing to measure the kiln by."
    ROOM = "A kiln's room is {low} to {high}, not {given}."
    HIGHEST = "A kiln's highest temperature is {low} to {high}, not {given}."
    ENDS_TOO_HOT = (
        "The readings end too hot to tell the room's temperature. Give it, or record a "
        "firing until the kiln is cold."
    )


@dataclass(frozen=True, slots=True)
class Refusal:
    """One refusal: its kind, and by name what it is about."""

    cause: Cause
    given: Mapping[str, Given]

    def __str__(self) -> str:
        return self.said(str)

    def said(
        self,
        say: Callable[[Quantity], str],
        sentence: str | None = None,
        names: Mapping[str, str] = MappingProxyType({}),
    ) -> str:
        """Return the sentence.

        Parameters
        ----------
        say : callable
            Puts a quantity into words.
        sentence : str or None
            Another sentence than the plain one of its kind.
        names : mapping
            What is called otherwise than it was given; the rest is put in as it is.
        """

        def told(one: Given) -> str:
            if isinstance(one, tuple):
                return ", ".join(map(say, one))
            return names.get(one, one) if isinstance(one, str) else say(one)

        words = {name: told(one) for name, one in self.given.items()}
        return (sentence or self.cause.value).format(**words)

    def as_json(self) -> dict[str, Any]:
        """Return the refusal for a store: its kind, and each quantity with its unit."""
        return {
            "cause": self.cause.name,
            "given": {name: _stored(one) for name, one in self.given.items()},
        }

    @classmethod
    def from_json(cls, stored: Mapping[str, Any]) -> Self:
        """Return the refusal that was stored.

        Parameters
        ----------
        stored : mapping
            As `as_json` made it.
        """
        given = {name: _read(one) for name, one in stored["given"].items()}
        return cls(Cause[stored["cause"]], given)


def _stored(one: Given) -> str | list[Any]:
    if isinstance(one, str):
        return one
    if isinstance(one, tuple):
        return [_stored(each) for each in one]
    return [one.value, one.unit.value]


def _read(stored: str | list[Any]) -> Given:
    if isinstance(stored, str):
        return stored
    if isinstance(stored[0], list):
        return tuple(Quantity(value, Unit(unit)) for value, unit in stored)
    value, unit = stored
    return Quantity(value, Unit(unit))
