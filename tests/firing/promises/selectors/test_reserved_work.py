"""Room held for open quotes, whose work it is, and the reasons that name the facts."""

import datetime as dt

import pytest

from firing.promises.selectors.promises import promise_again, promise_for
from firing.promises.selectors.reserved_work import HeldWork
from studio.errors import Refused
from studio.models import AccessHours, Closure
from tests import make
from tests.cast import NOW
from tests.firing.plans.selectors.test_people import away, hours, skills
from tests.firing.plans.selectors.test_problem import DAY, TASKS
from tests.firing.promises.selectors.test_promises import spec

UNTIL = NOW.date() + 20 * DAY


def held(cast, *, title="Ebb", due=30, maker=None, maquette=None, **changes):
    return HeldWork(
        title=title,
        spec=spec(cast, title=title, **changes),
        maquette=maquette,
        maker=maker,
        due_date=NOW.date() + due * DAY,
        until_date=UNTIL,
    )


def ask(cast, *, works=(), maker=None, maquette=None, **changes):
    return promise_for(
        studio=cast.studio,
        spec=spec(cast, **changes),
        maquette=maquette,
        tasks=TASKS,
        due_dates={},
        now=NOW,
        maker=maker,
        held=works,
    )


def notes(found):
    return " / ".join(note for one in found.reasons for note in one.notes)


def test_room_is_held_for_open_quotes_and_said(cast):
    free = ask(cast)
    works = [held(cast, title="Ebb"), held(cast, title="Flood", due=40)]
    behind = ask(cast, works=works)
    assert free.held == ""
    assert behind.ready_date > free.ready_date
    assert behind.held.startswith(
        "Kiln time is also held for two open quotes: Ebb, promised for"
    )
    assert "until Tue 24 Mar 2026" in behind.held


def test_held_work_is_in_the_same_kiln_night_only_where_both_fit(cast):
    """With one kiln and stacks that fill it, fuses of two quotes are days apart."""
    big = {"width_mm": 450, "height_mm": 450}
    alone = ask(cast, **big)
    second = ask(cast, works=[held(cast, **big)], **big)
    third = ask(cast, works=[held(cast, **big), held(cast, title="F", **big)], **big)
    assert alone.ready_date < second.ready_date < third.ready_date


def test_accepted_work_comes_before_held_work_whatever_is_due_first(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=8, passes=2)
    due = {piece.pk: NOW.date() + 300 * DAY}

    def again(works):
        return promise_again(
            studio=cast.studio,
            piece=piece.pk,
            maquette=None,
            tasks=TASKS,
            due_dates=due,
            now=NOW,
            held=works,
        )

    plain, beside = again([]), again([held(cast, due=1)])
    assert plain.ready_date <= beside.ready_date
    # Its own place is not taken: only what is put in anew stands behind held work.
    behind = ask(cast, works=[held(cast, due=1)])
    assert behind.ready_date > plain.ready_date


def test_a_maquette_of_held_work_takes_its_room_too(cast):
    small = spec(cast, title="Ebb", layer_count=3, painted_count=2, width_mm=150)
    without = ask(cast, works=[held(cast)])
    beside = ask(cast, works=[held(cast, maquette=small)])
    assert beside.ready_date >= without.ready_date
    assert beside != without


def test_what_no_kiln_takes_is_held_no_room_and_said(cast):
    found = ask(cast, works=[held(cast, layer_count=90, painted_count=80)])
    assert found.held == ""
    assert any("held no room" in told and "No kiln" in told for told in found.left_out)


def test_the_named_maker_makes_it_where_they_can(cast):
    hours(cast.membership("maker"), [5], (dt.time(9), dt.time(11)))
    assert ask(cast).artist == str(cast.owner)
    slow = ask(cast, maker=cast.maker.pk)
    assert slow.artist == str(cast.maker)
    assert slow.ready_date > ask(cast).ready_date
    assert ask(cast, maker=cast.helper.pk).artist == str(cast.owner)


def test_a_maker_without_hours_is_refused_with_the_facts(cast):
    away(cast.membership("maker"), NOW.date(), NOW.date() + 360 * DAY)
    with pytest.raises(Refused, match="has no hours at the bench in the next 26 weeks"):
        ask(cast, maker=cast.maker.pk)
    assert ask(cast).artist == str(cast.owner)


def test_nobody_who_does_cold_work_is_refused_with_the_rule(cast):
    for role in ("owner", "maker"):
        skills(cast.membership(role), "paint", "assemble")
    skills(cast.membership("helper"))
    with pytest.raises(Refused, match="Nobody who can do coldwork has hours"):
        ask(cast)


def test_too_few_hours_for_a_year_and_a_half_are_told_with_both_figures(cast):
    hours(cast.membership("maker"), [5], (dt.time(9), dt.time(9, 30)))
    with pytest.raises(Refused) as refused:
        ask(cast, maker=cast.maker.pk, layer_count=20, painted_count=19)
    assert "Painting and stacking need 70 h" in str(refused.value)
    assert f"{cast.maker} has 3" in str(refused.value)
    assert "in the next 78 weeks" in str(refused.value)


def test_a_fuse_that_fits_between_no_closures_is_told(cast):
    for day in range(0, 560, 2):
        Closure.across_studios.create(
            studio=cast.studio,
            kiln=cast.kiln,
            starts_at=NOW + day * DAY,
            ends_at=NOW + (day + 1) * DAY,
            reason="Power cuts",
        )
    with pytest.raises(Refused, match="Its fuse takes .* fits between the closures"):
        ask(cast, layer_count=20)


def alone_with(cast, role="maker"):
    """Leave one maker, and the helper for cold work."""
    for other in {"owner", "maker"} - {role}:
        skills(cast.membership(other))


def test_whoever_is_away_is_named_and_their_being_there_is_the_change(cast):
    alone_with(cast)
    away(cast.membership("maker"), NOW.date() + DAY, NOW.date() + 20 * DAY)
    found = ask(cast, painted_count=1, passes_per_layer=1)
    assert f"{cast.maker} is away until Tue 24 Mar 2026" in notes(found)
    assert found.relief.startswith("If nobody were away, it could be ready")


def test_a_helper_away_holds_up_the_cold_work(cast):
    for role in ("owner", "maker"):
        skills(cast.membership(role), "paint", "assemble")
    away(cast.membership("helper"), NOW.date(), NOW.date() + 60 * DAY)
    found = ask(cast)
    assert f"{cast.helper} is away until" in notes(found)
    assert "nobody were away" in found.relief


def test_a_kiln_in_maintenance_is_named_and_its_being_open_is_the_change(cast):
    Closure.across_studios.create(
        studio=cast.studio,
        kiln=cast.kiln,
        starts_at=NOW,
        ends_at=NOW + 30 * DAY,
        reason="New lid",
    )
    found = ask(cast)
    assert f"{cast.kiln} is closed until Fri 3 Apr" in notes(found)
    assert "no kiln were closed" in found.relief


def test_closed_days_are_named_and_opening_on_them_is_the_change(cast):
    # Open on Wednesdays alone: what is cold on Thursday waits for six days.
    for role in ("owner", "maker", "helper"):
        hours(cast.membership(role), range(7), (dt.time(9), dt.time(17)))
    AccessHours.owned.for_studio(cast.studio).exclude(weekday=2).delete()
    found = ask(cast, painted_count=2, passes_per_layer=1)
    assert "closed: nobody is in to" in notes(found)
    assert "the studio were open on every day of the week" in found.relief


def test_making_way_says_who_comes_when(cast):
    """Unstarted work of the same maker that has time makes way, and is named."""
    alone_with(cast)
    piece = make.piece(
        studio=cast.studio, glass=cast.glass, layers=12, passes=2, title="Later"
    )
    found = promise_for(
        studio=cast.studio,
        spec=spec(cast, painted_count=2, passes_per_layer=1),
        maquette=None,
        tasks=TASKS,
        due_dates={piece.pk: NOW.date() + 150 * DAY},
        now=NOW,
    )
    assert (
        "Put before work that is not begun, Slack water could be ready" in found.moves
    )
    assert "Later would come on" in found.moves


def test_an_open_piece_is_reckoned_as_it_stands(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=8, passes=2)

    def again():
        return promise_again(
            studio=cast.studio,
            piece=piece.pk,
            maquette=None,
            tasks=TASKS,
            due_dates={},
            now=NOW,
        )

    before = again()
    make.paint_and_fire(piece)
    assert again().ready_date < before.ready_date


def test_a_piece_that_is_not_open_is_refused(cast):
    with pytest.raises(Refused, match="cannot be planned as it stands"):
        promise_again(
            studio=cast.studio,
            piece=0,
            maquette=None,
            tasks=TASKS,
            due_dates={},
            now=NOW,
        )
