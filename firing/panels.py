"""Sections that the firing app adds to Today and to a piece's page."""

from typing import TYPE_CHECKING

from django.urls import reverse

from firing.firings.selectors.today_items import today_work, wanted_paint
from firing.kiln_time.selectors.bookings import next_booking_of, standing_bookings
from firing.kiln_time.selectors.kiln_time import booking_href, kiln_states
from firing.kiln_time.selectors.standing import StandingTime
from firing.loads.selectors.firings import (
    firings_of_piece,
    firings_with,
    load_items,
    running_items,
    view_firings,
    with_curves,
)
from firing.loads.selectors.known import known_of, known_words
from firing.models import PlanState
from firing.plans.selectors.plans import open_plans, overdue_loads
from firing.plans.selectors.words import plan_line
from firing.readings.selectors.re_anneals import judged_of, re_anneal_option
from firing.readings.selectors.warnings import piece_warnings, with_warnings
from firing.schedules.selectors.fits import kilns
from firing.schedules.selectors.fuse_anneal import RULE_TITLES, fuse_rule
from firing.schedules.selectors.limits import are_defaults, limits_of, limits_words
from firing.schedules.selectors.stacks import allowed_kinds
from firing.schedules.selectors.tables import RULE_WORDS
from studio.panels import (
    Panel,
    PanelRequest,
    SearchGroup,
    SearchHit,
    TodayItem,
    on_burn,
    on_closure,
    on_inspection,
    on_kiln,
    on_paint,
    on_piece,
    on_search,
    on_settings,
    on_today,
    on_today_items,
)
from studio.selectors.named import MOST_HITS
from studio.selectors.pieces import fresh

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from studio.models import Closure, Piece

PLAN_ORDER, TODAY_ORDER, PIECE_ORDER = 5, 10, 20


def _standing(asked: PanelRequest) -> StandingTime:
    return StandingTime(asked.viewer.studio, asked.now, with_curves=False)


@on_today
def kilns_now(asked: PanelRequest) -> list[Panel]:
    """Show each kiln: how hot, closed until when, or free."""
    rows = list(kilns(asked.viewer.studio))
    if not rows:
        return []
    standing = asked.once(_standing)
    states = kiln_states(rows, viewer=asked.viewer, now=asked.now, standing=standing)
    return [
        Panel(
            template="firing/firings/_today.html",
            context={"states": states},
            order=TODAY_ORDER,
        )
    ]


@on_today
def plan_section(asked: PanelRequest) -> list[Panel]:
    """Tell whoever books kilns what the plan needs, in one line."""
    if not asked.viewer.may_book_kilns:
        return []
    studio = asked.viewer.studio
    plans = open_plans(studio)
    standing, ready = plans.get(PlanState.ACCEPTED), plans.get(PlanState.READY)
    missed = len(overdue_loads(studio, asked.now))
    is_broken = standing is not None and (bool(missed) or not standing.holds)
    line = plan_line(
        is_broken=is_broken,
        ready=ready,
        making=plans.get(PlanState.MAKING),
        missed=missed,
    )
    if not line:
        return []
    return [
        Panel(
            template="firing/plans/_today_plan.html",
            context={"line": line, "is_broken": is_broken, "ready": ready},
            order=PLAN_ORDER,
        )
    ]


@on_today_items
def firings_today(asked: PanelRequest) -> list[TodayItem]:
    """Return what to do at the kilns."""
    return today_work(asked.viewer, asked.now, asked.open_pieces, asked.once(_standing))


@on_search
def firings_named(asked: PanelRequest, words: "Sequence[str]") -> SearchGroup:
    """Return the newest firings of things with these words in their names."""
    studio = asked.viewer.studio
    views = view_firings(
        firings_with(studio, words)[:MOST_HITS], viewer=asked.viewer, now=asked.now
    )
    return SearchGroup(
        title="Firings",
        hits=tuple(
            SearchHit(
                title=view.title,
                href=reverse("firing:firing_detail", args=[view.firing.pk]),
                note=f"{view.firing.kiln}, {asked.viewer.day(view.booking.starts_at)}",
                curve=view.curve,
            )
            for view in with_curves(views, studio)
        ),
    )


@on_paint
def paint_for_the_kiln(
    asked: PanelRequest, pieces: "Sequence[Piece]"
) -> "dict[int, tuple[datetime, str]]":
    """Say which planned firing each piece's paint is wanted for."""
    return wanted_paint(asked.viewer, asked.now, pieces)


@on_burn
def firing_of_passes(
    asked: PanelRequest, passes: "Sequence[int]"
) -> dict[int, tuple[str, str]]:
    """Lead to the firing that each pass is in, else to a load of it."""
    found = {}
    if asked.viewer.may_book_kilns:
        load = reverse("firing:load_new")
        found = {pk: (f"{load}?passes={pk}", "Fire") for pk in passes}
    for item in load_items(asked.viewer.studio).filter(
        of_pass__in=passes, firing__cancelled_at__isnull=True
    ):
        if item.of_pass_id is not None:
            href = booking_href(item.firing.booking)
            found[item.of_pass_id] = (href, "See the firing")
    return found


@on_piece
def piece_section(asked: PanelRequest, piece: "Piece") -> list[Panel]:
    """Show a piece's firings, and the step its stage calls for."""
    found = view_firings(firings_of_piece(piece), viewer=asked.viewer, now=asked.now)
    rows = with_curves(with_warnings(found, asked.viewer), piece.studio)
    booking = next_booking_of(piece)
    action = None
    kinds = allowed_kinds(fresh(piece))
    if booking is not None:
        action = (booking_href(booking), "See the firing")
    elif kinds and asked.viewer.may_book_kilns:
        again = kinds[0] == "re-anneal"
        words = "Anneal it again" if again else "Book the fuse"
        action = (_next_step(piece, is_again=again), words)
    if not rows and action is None:
        return []
    return [
        Panel(
            template="firing/firings/_piece.html",
            context={"rows": rows, "piece": piece},
            order=PIECE_ORDER,
            action=action,
        )
    ]


def _next_step(piece: "Piece", *, is_again: bool) -> str:
    """Return where to choose a piece's next firing: the judge's re-anneal, if any."""
    judged = judged_of(piece) if is_again else None
    if judged is not None and re_anneal_option(judged[1]) is not None:
        return reverse("firing:firing_judgement", args=[judged[0].pk])
    return reverse("firing:fuse_plan", args=[piece.pk])


@on_kiln
def kilns_of_pieces(asked: PanelRequest, pieces: "Sequence[Piece]") -> dict[int, str]:
    """Say what is known of the kiln that each piece is in."""
    held = running_items(asked.viewer.studio, pieces)
    known = known_of(asked.viewer.studio, held.values(), now=asked.now)
    return {
        piece: known_words(known[firing.pk], asked.viewer, asked.now)
        for piece, firing in held.items()
    }


@on_inspection
def verdicts_of_pieces(
    asked: PanelRequest, pieces: "Sequence[Piece]"
) -> dict[int, str]:
    """Say which pieces came from a firing whose verdict is over a limit."""
    return piece_warnings(pieces, asked.viewer)


@on_settings
def limits_section(asked: PanelRequest) -> list[Panel]:
    """Show the studio's limits of tension."""
    limits = limits_of(asked.viewer.studio)
    return [
        Panel(
            template="firing/readings/_limits.html",
            context={
                "limits": limits_words(limits),
                "is_default": are_defaults(limits),
                "may_change": asked.viewer.may_manage_kilns,
            },
        )
    ]


@on_settings
def anneal_section(asked: PanelRequest) -> list[Panel]:
    """Show how the studio anneals a fuse."""
    rule = fuse_rule(asked.viewer.studio)
    return [
        Panel(
            template="firing/schedules/_fuse_anneal.html",
            context={
                "title": RULE_TITLES[rule],
                "text": RULE_WORDS[rule],
                "may_change": asked.viewer.may_manage_kilns,
            },
        )
    ]


@on_closure
def bookings_in_closure(asked: PanelRequest, closure: "Closure") -> list[str]:
    """Name each booking that stands in the time when its kiln is to be closed."""
    found = standing_bookings(
        asked.viewer.studio, closure.starts_at, closure.ends_at
    ).filter(ends_at__gt=asked.now)
    if closure.kiln is not None:
        found = found.filter(kiln=closure.kiln)
    return [
        f"{one.kiln} is booked in that time: {one.title}, "
        f"{asked.viewer.moment(one.starts_at, asked.now)} to "
        f"{asked.viewer.moment(one.ends_at, asked.now)}. Move it or change the closure."
        for one in found
    ]
