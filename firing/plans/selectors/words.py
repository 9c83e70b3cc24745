"""Plans in words: how good one is, how the search is going, and the small phrases that
every text about plans uses.
"""

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

from firing.models import Plan
from firing.planning.search.progress import Progress
from studio.viewer import count_words, day_words

OPTION_TITLES = {
    "whole": "The whole plan",
    "wider": "Less late, moves more",
    "least": "Moves the least",
}


def plan_line(
    *, is_broken: bool, ready: Plan | None, making: Plan | None, missed: int
) -> str:
    """Say in one line what the plan needs from somebody; nothing if it needs nothing."""
    if not is_broken:
        return f"{ready} is ready." if ready is not None else ""
    why = ""
    if ready is not None:
        moves = ready.options[0]["moves"]["firings"]
        why = f"{count_words(moves, 'firing')} to move" if moves else f"{ready} does"
    elif making is not None:
        why = f"{making} is being made"
    elif missed:
        why = f"{count_words(missed, 'load')} missed"
    return f"The plan no longer fits{f': {why}' if why else ''}."


def late_words(days: int) -> str:
    """Say how late a plan is in total."""
    return "nothing late" if not days else f"{count_words(days, 'day')} late in all"


def progress_words(progress: Progress) -> str:
    """Say in at most 200 characters how a search is going."""
    if progress.undelivered:
        best = f"{count_words(progress.undelivered, 'piece')} without a place so far"
    else:
        best = f"{late_words(progress.weighted_days_late)}, {progress.kwh:.0f} kWh"
    bound = (
        f"at least {count_words(progress.least_days_late, 'day')} late"
        if progress.least_days_late
        else "nothing late"
    )
    return (
        f"Best so far: {best}. No plan can be better than {bound}, "
        f"{progress.least_kwh:.0f} kWh. {progress.tries} tries, "
        f"{progress.share * 100:.0f} % of the search"
    )


def quality_words(plan: Plan, option: Mapping[str, Any]) -> list[str]:
    """Say how far an option may be from the best possible."""
    verdict = option["verdict"]
    days, kwh = verdict["days_late"], verdict["kwh"]
    told = [f"{late_words(days)[:1].upper()}{late_words(days)[1:]}, {kwh:.0f} kWh."]
    if plan.is_proved_best and option is plan.options[0]:
        told.append("No plan can be better than this one.")
    elif days > plan.least_days_late:
        least = (
            "No plan can be less than "
            f"{count_words(plan.least_days_late, 'day')} late in all"
            if plan.least_days_late
            else "That nothing is late has not been ruled out"
        )
        told.append(f"{least}; whether one between exists is not known.")
    else:
        told.append("No plan can be less late.")
        told.append(f"No plan can need less than {plan.least_kwh:.0f} kWh.")
    if plan.was_stopped:
        told.append("The search was stopped; a longer one may find a better plan.")
    return told


def layer_words(numbers: Iterable[int]) -> str:
    """Return "layer 3" or "layers 3, 4, 7"."""
    found = sorted(set(numbers))
    return ("layer " if len(found) == 1 else "layers ") + ", ".join(map(str, found))


def due_words(ready: date, due: date | None) -> tuple[str, bool]:
    """Say how a delivery day compares with the promised one, and whether it is late."""
    if due is None:
        return "no date promised", False
    days = (ready - due).days
    promised = f"promised for {day_words(due)}"
    if days > 0:
        return f"{promised}: {count_words(days, 'day')} late", True
    if days == 0:
        return f"{promised}: just in time", False
    return f"{promised}: {count_words(-days, 'day')} in hand", False
