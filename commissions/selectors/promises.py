"""When a commission can be ready: its facts and the quote's minutes, given to the kilns'
planner as plain numbers.
"""

from datetime import date, datetime

from commissions.models import Commission, CommissionedPiece, Quote
from commissions.selectors.rates import QuoteChoices, price_book
from commissions.selectors.work import Part, Work
from firing.selectors.bench_times import BenchTimes
from firing.selectors.plan_problem import WorkSpec
from firing.selectors.promises import StudioPromise, promise_for
from studio.models import Studio


def promised_dates(studio: Studio) -> dict[int, date]:
    """Return the promised dates of accepted quotes, by the pieces' keys."""
    dates = dict(
        Quote.owned.for_studio(studio)
        .filter(accepted_at__isnull=False, promised_date__isnull=False)
        .order_by("pk")
        .values_list("commission", "promised_date")
    )
    rows = (
        CommissionedPiece.owned.for_studio(studio)
        .filter(commission__in=dates, is_maquette=False)
        .order_by("pk")
        .values_list("piece", "commission")
    )
    return {piece: dates[commission] for piece, commission in rows}


def studio_bench_times(studio: Studio) -> BenchTimes:
    """Return the minutes of work by hand of the studio's rates."""
    book = price_book(studio)
    return BenchTimes(
        painting_minutes_per_pass=book.painting_minutes_per_pass,
        cutting_minutes_per_layer=book.cutting_minutes_per_layer,
        assembly_minutes=book.assembly_minutes,
        coldwork_minutes=book.coldwork_minutes,
    )


def promise_of(
    *, commission: Commission, choices: QuoteChoices, now: datetime
) -> StudioPromise:
    """Return when a commission that is not accepted yet could be ready.

    Raises
    ------
    Refused
        When it cannot be done: says which rule, and which facts.
    """
    studio, work = commission.studio, Work.of(commission)
    return promise_for(
        studio=studio,
        spec=_spec(commission, work, work.piece, _bench(choices)),
        maquette=None
        if work.maquette is None
        else _spec(commission, work, work.maquette, _smaller(choices, work)),
        bench=studio_bench_times(studio),
        due_dates=promised_dates(studio),
        now=now,
    )


def _spec(
    commission: Commission, work: Work, part: Part, bench: BenchTimes
) -> WorkSpec:
    return WorkSpec(
        title=commission.title,
        width_mm=part.width_mm,
        height_mm=part.height_mm,
        layer_count=part.layer_count,
        painted_count=part.painted_count,
        passes_per_layer=work.passes_per_layer,
        glass=commission.glass,
        is_dammed=work.is_dammed,
        bench=bench,
    )


def _bench(choices: QuoteChoices) -> BenchTimes:
    return BenchTimes(
        painting_minutes_per_pass=choices.painting_minutes_per_pass,
        cutting_minutes_per_layer=choices.cutting_minutes_per_layer,
        assembly_minutes=choices.assembly_minutes,
        coldwork_minutes=choices.coldwork_minutes,
    )


def _smaller(choices: QuoteChoices, work: Work) -> BenchTimes:
    """Return the maquette's minutes, shortened as its price shortens them."""
    share = work.maquette_layer_count / work.layer_count
    return BenchTimes(
        painting_minutes_per_pass=round(
            choices.painting_minutes_per_pass * work.maquette_scale
        ),
        cutting_minutes_per_layer=choices.cutting_minutes_per_layer,
        assembly_minutes=round(choices.assembly_minutes * share),
        coldwork_minutes=round(choices.coldwork_minutes * share),
    )
