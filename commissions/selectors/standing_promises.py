"""Which promised dates stand, and which of them time alone may have broken."""

from collections.abc import Iterator
from datetime import datetime

from django.db.models import Exists, OuterRef, Prefetch, Q, Subquery
from django.db.models.functions import Coalesce

from commissions.models import CheckReason, CommissionedPiece, PromiseCheck, Quote
from commissions.selectors.quotes import day_of
from firing.loads.selectors.planned import GRACE
from firing.models import Booking
from studio.models import Studio
from studio.selectors.pieces import finished_anywhere
from studio.tenancy import StudioQuerySet


def standing_promises(studio: Studio, *, at: datetime) -> list[Quote]:
    """Return the studio's quotes with a date that counts, with their checks.

    These are accepted quotes whose piece is not finished, and sent quotes that wait for
    an answer.
    """
    rows = _standing(Quote.owned.for_studio(studio)).prefetch_related(
        Prefetch(
            "promise_checks",
            queryset=PromiseCheck.owned.for_studio(studio).select_related("job"),
        )
    )
    return [quote for quote in rows if not _has_run_out(quote, at)]


def is_standing(quote: Quote, *, at: datetime) -> bool:
    """Return whether a quote's date still counts, and its work is not finished."""
    found = _standing(Quote.owned.for_studio(quote.studio).filter(pk=quote.pk))
    return found.exists() and not _has_run_out(quote, at)


def promises_the_clock_broke(now: datetime) -> Iterator[tuple[Quote, CheckReason]]:
    """Yield what nothing recorded would have worked out again, in all studios.

    Since its last check a planned load was missed, a firing ran past its booking, or a
    day went by in the studio.
    """
    since = OuterRef("checked_at")
    asked = PromiseCheck.across_studios.filter(quote=OuterRef("pk"))
    missed = Booking.across_studios.filter(
        Q(planned_firing__isnull=False) | Q(firing__isnull=False),
        studio=OuterRef("studio"),
        cancelled_at__isnull=True,
        firing__started_at__isnull=True,
        starts_at__lte=now - GRACE,
        starts_at__gt=since - GRACE,
    )
    late = Booking.across_studios.filter(
        studio=OuterRef("studio"),
        firing__started_at__isnull=False,
        firing__finished_at__isnull=True,
        ends_at__lt=now,
        ends_at__gte=since,
    )
    newest = asked.order_by("-asked_at", "-pk")
    rows = _standing(Quote.across_studios.all()).annotate(
        checked_at=Coalesce(
            Subquery(newest.values("made_at")[:1]),
            Subquery(newest.values("asked_at")[:1]),
            "accepted_at",
            "sent_at",
        ),
        check_made_at=Subquery(newest.values("made_at")[:1]),
        outcome=Subquery(newest.values("outcome")[:1]),
    )
    for quote in rows.annotate(is_missed=Exists(missed), is_late=Exists(late)):
        if _has_run_out(quote, now):
            continue
        checked_date = day_of(quote.studio, quote.checked_at)
        # Made by an earlier version, which kept no outcome.
        is_blank = quote.check_made_at is not None and not quote.outcome
        if quote.is_missed:
            yield quote, CheckReason.MISSED
        elif quote.is_late:
            yield quote, CheckReason.LATE
        elif is_blank or checked_date < day_of(quote.studio, now):
            yield quote, CheckReason.DAY


def _standing(rows: StudioQuerySet[Quote]) -> StudioQuerySet[Quote]:
    of_it = Quote.across_studios.filter(commission=OuterRef("commission"))
    newest_sent = of_it.filter(sent_at__isnull=False).order_by("-version", "-pk")
    finished = CommissionedPiece.across_studios.filter(
        commission=OuterRef("commission"),
        is_maquette=False,
        replaced_at=None,
        piece__in=finished_anywhere().order_by().values("pk"),
    )
    accepted = of_it.filter(accepted_at__isnull=False).order_by("-version", "-pk")
    waits = Q(pk=Subquery(newest_sent.values("pk")[:1]), declined_at=None) & ~Exists(
        accepted
    )
    # An accepted addendum stands in the place of what was accepted before.
    stands = Q(pk=Subquery(accepted.values("pk")[:1]))
    return (
        rows.filter(Q(agreed_date__isnull=False) | Q(promised_date__isnull=False))
        .filter(stands | waits, sent_at__isnull=False)
        .filter(commission__closed_at=None)
        .exclude(Exists(finished))
        .select_related("studio")
        .order_by("pk")
    )


def _has_run_out(quote: Quote, at: datetime) -> bool:
    is_open = quote.accepted_at is None
    return is_open and quote.valid_until_date < day_of(quote.studio, at)
