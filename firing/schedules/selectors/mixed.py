"""Whether the glasses of a stack go together; if not, how hard they pull."""

from collections.abc import Sequence

from firing.physics.glass.mismatch import mismatch
from firing.physics.glass.properties import GlassProblem
from firing.schedules.selectors.limits import limits_of
from firing.schedules.selectors.physics_slabs import physics_glass
from firing.schedules.selectors.refusal_words import refusal_words
from studio.selectors.glass_checks import NumberedGlass, check_of_stack
from studio.viewer import Viewer

MPA = 1e6
PER_MILLION = 1e6


@check_of_stack
def mismatch_problems(layers: Sequence[NumberedGlass], viewer: Viewer) -> list[str]:
    """Return, for each glass that does not go with most of the stack, its layers, how
    hard the two would pull at each other, and which limit that exceeds.

    Glass of another family is refused whatever the numbers say; another sheet of the
    same family is judged by its own data sheet.
    """
    groups: dict[int, list[NumberedGlass]] = {}
    for one in layers:
        groups.setdefault(one.glass.pk, []).append(one)
    if len(groups) < 2:
        return []
    most, *others = sorted(groups.values(), key=lambda group: -len(group))
    told = (_problem(most, other, viewer) for other in others)
    return [words for words in told if words]


def _problem(
    most: list[NumberedGlass], other: list[NumberedGlass], viewer: Viewer
) -> str:
    usual, odd = most[0].glass, other[0].glass
    is_other_family = usual.family != odd.family
    which = (
        f"{_layers(other)} {'is' if len(other) == 1 else 'are'} of {odd} "
        f"({odd.get_family_display()}), {_layers(most, first=False)} of {usual} "
        f"({usual.get_family_display()})"
    )
    try:
        first, second = physics_glass(odd), physics_glass(usual)
    except GlassProblem as problem:
        told = refusal_words(problem, viewer)
        return f"{which}: {told}" if is_other_family else ""
    thick_mm = _height_mm(other)
    limits = limits_of(odd.studio)
    found = mismatch(
        first,
        second,
        limits=limits,
        first_share=thick_mm / (thick_mm + _height_mm(most)),
    )
    if not (is_other_family or found.is_refused):
        return ""
    limit = f"{limits.residual_pa / MPA:g} MPa"
    if not found.is_refused:
        return (
            f"These must not be fused together: {which}. By their nominal expansions "
            f"they would pull at each other with {_mpa(found.largest_tension_pa)} MPa, "
            f"within {limit}; but they stiffen at different temperatures, "
            f"{viewer.temperature(first.annealing_point_c)} and "
            f"{viewer.temperature(second.annealing_point_c)}, and what a nominal number "
            "says of that is nothing to fuse by. Give every layer glass of one family."
        )
    return (
        f"These must not be fused together: {which}. They shrink by "
        f"{first.expansion_glass_per_k * PER_MILLION:.2f} and "
        f"{second.expansion_glass_per_k * PER_MILLION:.2f} millionths for each °C, and "
        f"from {viewer.temperature(found.setting_c)} down they pull at each other: "
        f"computed {_mpa(found.tension_pa)} MPa in this stack, up to "
        f"{_mpa(found.largest_tension_pa)} MPa where one is thin, for ever, and {limit} "
        "is the limit of what may stay. No anneal takes that away. Give every layer "
        "glass of one family."
    )


def _height_mm(group: list[NumberedGlass]) -> float:
    return sum(one.glass.sheet_thickness_mm for one in group)


def _mpa(pascal: float) -> str:
    return f"{pascal / MPA:.1f}"


def _layers(group: list[NumberedGlass], *, first: bool = True) -> str:
    numbers = [one.number for one in group]
    word = ("Layer" if first else "layer") + ("" if len(numbers) == 1 else "s")
    return f"{word} {_runs(numbers)}"


def _runs(numbers: list[int]) -> str:
    """Write 1, 2, 3, 7 as "1 to 3, 7"."""
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(
        str(run[0])
        if len(run) == 1
        else f"{run[0]}, {run[1]}"
        if len(run) == 2
        else f"{run[0]} to {run[-1]}"
        for run in runs
    )
