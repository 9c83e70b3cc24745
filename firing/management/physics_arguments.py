"""Options shared by the heat and stress commands, and how each is read.

A bad one ends the command with status 2 and one line that names the option.
"""

import argparse
from collections.abc import Callable
from typing import Any, TypeVar

from django.core.management.base import CommandError

from firing.physics.designing.request import Kind
from firing.physics.glass.families import FAMILIES, family
from firing.physics.glass.properties import Glass
from firing.physics.limits import Limits
from firing.physics.refusals import Cause
from firing.physics.slab.input import ROOM_K, Across
from firing.physics.slab.surroundings import (
    BOTH_FACES_FILM,
    TOP_ONLY_FILM,
    Bending,
    Boundary,
)
from studio.errors import StudioError
from studio.units import (
    LengthUnit,
    TemperatureUnit,
    parse_length_mm,
    parse_temperature_c,
)

Read = TypeVar("Read")

BAD_INPUT = 2
# What is refused of a slab's width and a kiln's unevenness.
ACROSS = (Cause.RADIUS, Cause.SPREAD)
BOUNDARIES = {"both": BOTH_FACES_FILM, "top": TOP_ONLY_FILM}


def read(parse: Callable[[str], Read]) -> Callable[[str], Read]:
    """Return a reader for argparse, which then names the option in the message."""

    def viewer(text: str) -> Read:
        try:
            return parse(text)
        except (StudioError, ValueError) as problem:
            raise argparse.ArgumentTypeError(" ".join(str(problem).split())) from None

    return viewer


def thickness_m(text: str) -> float:
    return parse_length_mm(text, LengthUnit.MM) / 1000


def temperature_c(text: str) -> float:
    return parse_temperature_c(text, TemperatureUnit.C)


def limits(text: str) -> Limits:
    parts = text.replace(",", " ").split()
    if len(parts) != 3:
        raise ValueError(
            "give three tensions in MPa, temporary, residual and warning, such as "
            "“3 0.5 7”."
        )
    try:
        temporary, residual, warning = (float(part) * 1e6 for part in parts)
    except ValueError:
        raise ValueError(f"“{text}” are not three numbers of MPa.") from None
    return Limits(temporary_pa=temporary, residual_pa=residual, warning_pa=warning)


def edge_k(text: str) -> tuple[float, float]:
    try:
        least, most = (float(part) for part in text.replace(",", " ").split())
    except ValueError:
        raise ValueError(
            "give the least and the most kelvin, colder negative, such as “-1 3”."
        ) from None
    return least, most


def glass(text: str) -> Glass:
    return family(text)


def boundary(text: str) -> Boundary:
    if text not in BOUNDARIES:
        raise ValueError(f"“{text}” is neither “both” nor “top”.")
    return BOUNDARIES[text]


def bending(text: str) -> Bending:
    try:
        return Bending(text)
    except ValueError:
        raise ValueError(f"“{text}” is neither “free” nor “flat”.") from None


def kind(text: str) -> Kind:
    try:
        return Kind(text.replace("-", " ") if text != "re-anneal" else text)
    except ValueError:
        raise ValueError(f"“{text}” is none of {', '.join(Kind)}.") from None


def add_slab(parser: argparse.ArgumentParser) -> None:
    """Add the options that every command about a slab has."""
    # One line for a mistake: the usage would put a dozen before it.
    parser.usage = argparse.SUPPRESS
    parser.add_argument(
        "--thickness", required=True, type=read(thickness_m), help="such as “60 mm”"
    )
    parser.add_argument(
        "--glass", required=True, type=read(glass), help=", ".join(FAMILIES)
    )
    parser.add_argument(
        "--boundary",
        default=TOP_ONLY_FILM,
        type=read(boundary),
        help="both faces see the kiln, or the top only (on a shelf, the usual case)",
    )
    parser.add_argument(
        "--bending", default=Bending.FREE, type=read(bending), help="free or flat"
    )
    parser.add_argument(
        "--limits",
        default=Limits(),
        type=read(limits),
        help="temporary, residual and warning tension in MPa: “3 0.5 7”",
    )
    parser.add_argument(
        "--kind", default=Kind.FULL_FUSE, type=read(kind), help=", ".join(Kind)
    )
    parser.add_argument(
        "--sheet",
        default=0.003,
        type=read(thickness_m),
        help="thickness of one sheet of a loose stack, such as “3 mm”",
    )
    parser.add_argument(
        "--opening",
        default=50.0,
        type=read(temperature_c),
        help="temperature at which the kiln is opened, such as “50 °C”",
    )
    parser.add_argument(
        "--longest-side",
        type=read(thickness_m),
        help="of the slab, such as “400 mm”, for what an uneven kiln does to it",
    )
    parser.add_argument(
        "--edge",
        default=(-ROOM_K, ROOM_K),
        type=read(edge_k),
        help="how much hotter the kiln is at the slab's edge than in its middle while "
        "the glass anneals, least and most [K]: “-1 3”",
    )
    parser.add_argument("--json", action="store_true", help="print JSON")


def across(options: dict[str, Any]) -> Across | None:
    """Return how uneven the kiln is over the slab; None where its size is not given.

    Raises
    ------
    PhysicsProblem
        When a slab or a kiln is not like that.
    """
    longest_m: float | None = options["longest_side"]
    if longest_m is None:
        return None
    return Across(radius_m=longest_m / 2, edge_k=options["edge"])


def add_offset(parser: argparse.ArgumentParser) -> None:
    """Add the option for how much hotter the kiln is than it shows."""
    parser.add_argument(
        "--offset",
        default=0.0,
        type=float,
        help="how much hotter the kiln is than it shows [K]",
    )


def bad_input(problem: Exception, option: str = "") -> CommandError:
    """Return the error of one line that ends a command with status 2."""
    line = " ".join(str(problem).split())
    return CommandError(f"{option}: {line}" if option else line, returncode=BAD_INPUT)


def shown(value: object) -> str:
    """Return a value of the JSON for people: bands as low, middle and high."""
    if isinstance(value, dict) and set(value) == {"low", "middle", "high"}:
        return f"{value['low']:.6g} .. {value['middle']:.6g} .. {value['high']:.6g}"
    return str(value)
