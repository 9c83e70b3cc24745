"""When a commission can be ready: its facts and the quote's minutes, given to the kilns'
planner as plain numbers.
"""

from datetime import datetime

from commissions.models import Commission, CommissionedPiece, Quote
from commissions.selectors.quotes import day_of
from commissions.selectors.rates import QuoteChoices
from commissions.selectors.work import CommissionWork, WorkPart
from firing.plans.selectors.problem import WorkSpec
from firing.promises.selectors.promises import StudioPromise, promise_again, promise_for
from firing.promises.selectors.reserved_work import HeldWork
from studio.errors import Refused
from studio.labour import bench_times
from studio.models import Glass, Studio, Technique
from studio.selectors.bench_times import tasks_of
from studio.selectors.due_dates import due_dates


def promise_of(
    *, commission: Commission, choices: QuoteChoices, now: datetime
) -> StudioPromise:
    """Return when a commission that is not accepted yet could be ready.

    Room is held for other open quotes with a promised day.

    Raises
    ------
    Refused
        When it cannot be done: says which rule, and which facts.
    """
    return _promise(
        commission, CommissionWork.of(commission), commission.glass, choices, now
    )


def promise_of_quote(*, quote: Quote, now: datetime) -> StudioPromise:
    """Return when the work of a quote could be ready, as it was quoted.

    Raises
    ------
    Refused
        When it cannot be done: says which rule, and which facts.
    """
    work = CommissionWork.from_json(quote.inputs["work"])
    glass = Glass.owned.for_studio(quote.studio).filter(pk=work.glass_id).first()
    if glass is None:
        raise Refused(
            "The glass it was quoted with is no longer in stock: make another version."
        )
    choices = QuoteChoices.from_json(quote.inputs["choices"])
    return _promise(quote.commission, work, glass, choices, now)


def _promise(
    commission: Commission,
    work: CommissionWork,
    glass: Glass,
    choices: QuoteChoices,
    now: datetime,
) -> StudioPromise:
    studio = commission.studio
    spec, maquette = _specs(commission.title, work, glass, choices)
    return promise_for(
        studio=studio,
        spec=spec,
        maquette=maquette,
        tasks=tasks_of(studio),
        due_dates=due_dates(studio),
        now=now,
        maker=commission.created_by_id,
        held=held_works(studio, now=now, but=commission),
    )


def promise_of_accepted(*, quote: Quote, now: datetime) -> StudioPromise:
    """Return when the piece of an accepted quote can be ready, as it is now.

    Raises
    ------
    Refused
        When it cannot be done: says which rule, and which facts.
    """
    studio = quote.studio
    rows = CommissionedPiece.owned.for_studio(studio).filter(
        replaced_at=None, commission=quote.commission_id
    )
    keys = dict(rows.values_list("is_maquette", "piece"))
    return promise_again(
        studio=studio,
        piece=keys[False],
        maquette=keys.get(True),
        tasks=tasks_of(studio),
        due_dates=due_dates(studio),
        now=now,
        held=held_works(studio, now=now, but=quote.commission),
    )


def held_works(
    studio: Studio, *, now: datetime, but: Commission | None = None
) -> list[HeldWork]:
    """Return the work of open quotes with a promised day: sent, valid, not answered.

    Of one commission only the newest sent version counts.

    Parameters
    ----------
    but : Commission or None
        The one that is being quoted: it does not stand in its own way.
    """
    rows = (
        Quote.owned.for_studio(studio)
        .filter(sent_at__isnull=False, commission__closed_at__isnull=True)
        .exclude(commission__quotes__accepted_at__isnull=False)
        .exclude(commission=but)
        .select_related("commission")
        .order_by("commission_id", "-version", "option", "-pk")
    )
    newest: dict[int, Quote] = {}
    for quote in rows:
        newest.setdefault(quote.commission_id, quote)
    today = day_of(studio, now)
    open_quotes = [
        quote
        for quote in newest.values()
        if quote.declined_at is None
        and quote.promised_date is not None
        and quote.valid_until_date >= today
    ]
    ids = {quote.inputs["work"]["glass_id"] for quote in open_quotes}
    glasses = Glass.owned.for_studio(studio).in_bulk(ids) if ids else {}
    return [
        held for quote in open_quotes if (held := _held(quote, glasses)) is not None
    ]


def _held(quote: Quote, glasses: dict[int, Glass]) -> HeldWork | None:
    work = CommissionWork.from_json(quote.inputs["work"])
    glass = glasses.get(work.glass_id)
    if glass is None or quote.promised_date is None:
        return None
    choices = QuoteChoices.from_json(quote.inputs["choices"])
    spec, maquette = _specs(work.title, work, glass, choices)
    return HeldWork(
        title=work.title,
        spec=spec,
        maquette=maquette,
        maker=quote.commission.created_by_id,
        due_date=quote.promised_date,
        until_date=quote.valid_until_date,
    )


def _specs(
    title: str, work: CommissionWork, glass: Glass, choices: QuoteChoices
) -> tuple[WorkSpec, WorkSpec | None]:
    """Return the piece and its maquette as the planner's plain numbers."""
    maquette = None
    if work.maquette is not None:
        maquette = _spec(title, work, work.maquette, glass, choices)
    return _spec(title, work, work.piece, glass, choices), maquette


def _spec(
    title: str,
    work: CommissionWork,
    part: WorkPart,
    glass: Glass,
    choices: QuoteChoices,
) -> WorkSpec:
    is_maquette = part == work.maquette
    return WorkSpec(
        title=title,
        width_mm=part.width_mm,
        height_mm=part.height_mm,
        layer_count=part.layer_count,
        painted_count=part.painted_count,
        passes_per_layer=work.passes_per_layer,
        glass=glass,
        is_dammed=work.is_dammed,
        is_decal=work.technique == Technique.DECAL,
        bench=bench_times(choices.tasks, work.measures(part), is_maquette=is_maquette),
    )
