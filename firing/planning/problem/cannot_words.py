"""Says why something cannot be planned, in ids or in the reader's names."""

from collections.abc import Callable
from typing import assert_never

from firing.planning.problem.cannot import (
    BeginsTooLate,
    Cannot,
    DoesNotFit,
    DoorTooShort,
    KilnLimits,
    LacksSkill,
    NobodyComesIn,
    NobodyForColdwork,
    NoGapForFuse,
    NoKilns,
    NoKilnTakes,
    NoRoomUnmoved,
    TooMuchLabour,
)
from firing.planning.problem.problem import SLOTS_PER_HOUR, PlanProblem

Call = Callable[[str], str]


class CannotPlan(PlanProblem):
    """Something cannot be planned at all; `reason` says why, in facts."""

    def __init__(self, reason: Cannot) -> None:
        super().__init__(key_of(reason), cannot_words(reason))
        self.reason = reason


def hours(slots: int) -> str:
    """Return a length of time in words.

    Parameters
    ----------
    slots : int
        Half hours.

    References
    ----------
    Arithmetic.
    """
    return f"{slots / SLOTS_PER_HOUR:g} h"


def key_of(reason: Cannot) -> str:
    """Return where in a file of facts the reason is.

    Parameters
    ----------
    reason : Cannot
        With ids.

    References
    ----------
    The keys of the file.
    """
    match reason:
        case NobodyComesIn():
            return "access"
        case NoKilns():
            return "kilns"
        case NobodyForColdwork():
            return "people"
        case BeginsTooLate() | DoesNotFit() | NoRoomUnmoved():
            return "horizon"
        case DoorTooShort(kind=kind) if kind:
            return f"kinds[{kind}].{reason.door}"
    return f"pieces[{reason.piece}].{_key_of_piece(reason)}"


def _key_of_piece(
    reason: LacksSkill | DoorTooShort | NoKilnTakes | NoGapForFuse | TooMuchLabour,
) -> str:
    match reason:
        case LacksSkill():
            return "artist"
        case DoorTooShort():
            return f"fuse_{reason.door}"
        case NoGapForFuse():
            return "fuse_run"
        case TooMuchLabour():
            return "layers"
        case NoKilnTakes(kind=kind) if kind:
            return "width_mm"
    reach = [kiln for kiln in reason.kilns if kiln.reaches_f is None]
    if not reach:
        return "fuse_temp_f"
    if all(kiln.height_mm is not None for kiln in reach):
        return "height_mm"
    return "width_mm"


def cannot_words(reason: Cannot, call: Call = str) -> str:
    """Return the reason as a sentence that begins with a small letter.

    Parameters
    ----------
    reason : Cannot
        With ids and lengths in slots.
    call : callable
        What each id is called; its own name in a file.

    References
    ----------
    The words of this project.
    """
    match reason:
        case NobodyComesIn():
            return "nobody ever comes in: add a window."
        case NoKilns():
            return "there is no kiln."
        case LacksSkill():
            return (
                f"{call(reason.artist)} cannot {reason.skill}, which "
                f"{call(reason.piece)} needs."
            )
        case NobodyForColdwork():
            return (
                f"nobody who can do coldwork has hours; {call(reason.piece)} needs it."
            )
        case DoorTooShort():
            return (
                f"it takes {hours(reason.needed)}; the studio is never open that long "
                f"(at most {hours(reason.longest)})."
            )
        case NoKilnTakes():
            what = "can fuse it"
            if reason.kind:
                what = f"takes a layer in a {reason.kind} firing"
            return f"no kiln {what}: {_limits(reason, call)}"
        case BeginsTooLate():
            return (
                f"{call(reason.piece)} may begin at slot {reason.release} and does not "
                f"fit before slot {reason.horizon}; more than {reason.needed} would do."
            )
        case NoGapForFuse():
            return (
                f"{hours(reason.needed)} do not fit between the closures of any kiln "
                "that takes it, before the horizon ends."
            )
        case TooMuchLabour():
            return (
                f"painting and assembly need {hours(reason.needed)}, and "
                f"{call(reason.artist)} has {hours(reason.has)} from slot "
                f"{reason.release} to the horizon."
            )
        case DoesNotFit():
            advice = "four times as long would not do either: look at the hours"
            if reason.enough is not None:
                advice = (
                    f"about {reason.enough} would do if the last weeks' hours go on"
                )
            return (
                f"{call(reason.piece)} does not fit before slot {reason.horizon}; "
                f"{advice}."
            )
        case NoRoomUnmoved():
            return (
                f"{call(reason.piece)} does not fit before slot {reason.horizon}, "
                "with nothing moved."
            )
        case _:
            assert_never(reason)


def _limits(reason: NoKilnTakes, call: Call) -> str:
    told = [
        f"{call(one.kiln)} {' and '.join(_too_little(one, reason))}"
        for one in reason.kilns
        if one.is_broken
    ]
    return "; ".join(told) + "."


def _too_little(kiln: KilnLimits, reason: NoKilnTakes) -> list[str]:
    why = []
    if kiln.is_barred:
        why.append("is barred for this piece")
    if kiln.reaches_f is not None:
        why.append(f"reaches {kiln.reaches_f:g} °F, needed {reason.temp_f:g}")
    if kiln.height_mm is not None:
        why.append(f"is {kiln.height_mm:g} mm high, needed {reason.height_mm:g}")
    if kiln.shelf_mm is not None:
        (width, depth), (wide, deep) = kiln.shelf_mm, reason.size_mm
        why.append(
            f"has a shelf of {width:g} × {depth:g} mm, needed {wide:g} × {deep:g}"
        )
    return why
