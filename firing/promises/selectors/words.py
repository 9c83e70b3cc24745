"""A promise in words: its margin, what moves would gain, what else room is held for."""

from collections.abc import Sequence

from firing.planning.promises.promise import Guess, Margin, TrackRecord, WithMoves
from firing.plans.selectors.calendar import PlanCalendar
from firing.plans.selectors.problem import StudioProblem
from firing.promises.selectors.reserved_work import HeldWork
from studio.viewer import count_words, day_words

GUESSES = {
    Guess.LOSSES: "Few firings are on record: the share of losses is a guess.",
    Guess.OVERRUNS: "Too few finished works are on record to reckon with overruns.",
}
COUNTS = {2: "two", 3: "three", 4: "four", 5: "five", 6: "six"}


def moves_words(moves: WithMoves | None, piece: str, source: StudioProblem) -> str:
    """Say what putting it before unstarted work would gain, and whom that affects."""
    if moves is None:
        return ""
    calendar = source.calendar
    touched = "; ".join(
        f"{source.call(one.piece)} would come on {day_words(calendar.date_of(one.day_after))} "
        f"instead of {day_words(calendar.date_of(one.day_before))}"
        for one in moves.moved
        if one.day_after != one.day_before
    )
    return (
        f"Put before work that is not begun, {source.call(piece)} could be ready "
        f"{count_words(moves.days_gained, 'day')} earlier, on "
        f"{day_words(calendar.date_of(moves.day))}"
        f"{f': {touched}' if touched else ', and nothing else comes later'}."
    )


def held_words(works: Sequence[HeldWork]) -> str:
    """Say which open quotes room is held for, and until when."""
    if not works:
        return ""
    named = [
        f"{one.title}, promised for {day_words(one.due_date)}, "
        f"until {day_words(one.until_date)}"
        for one in works
    ]
    if len(named) == 1:
        return f"Kiln time is also held for an open quote: {named[0]}."
    count = COUNTS.get(len(named), str(len(named)))
    return f"Kiln time is also held for {count} open quotes: {'; '.join(named)}."


def margin_words(
    margin: Margin, record: TrackRecord, calendar: PlanCalendar
) -> tuple[str, ...]:
    """Say what the margin comes from: the record, or a guess where that is thin."""
    words = [
        f"On record here: {record.passes_lost} of {record.passes_fired} passes and "
        f"{record.fuses_lost} of {record.fuses_fired} fuses lost. Reckoned with: "
        f"{margin.loss_share * 100:.0f} % of passes, "
        f"{margin.fuse_loss_share * 100:.0f} % of fuses "
        "(one in twenty is the guess that the record outweighs)."
    ]
    if record.labour_ratios:
        words.append(
            f"Painting took {margin.mean_labour_ratio * 100:.0f} % of the planned time in "
            f"{len(record.labour_ratios)} finished "
            + ("piece." if len(record.labour_ratios) == 1 else "pieces.")
        )
    words += [told for guess, told in GUESSES.items() if guess in margin.guesses]
    if margin.day_95 is None:
        words.append(f"95 in 100 lies beyond the next {calendar.weeks} weeks.")
    return tuple(words)
