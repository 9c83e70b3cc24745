"""A plan's page: its firings by day, its people by day, what is ready when."""

import datetime as dt

import pytest

from firing.firings.services.running import start_firing
from firing.models import Booking, PlannedWork
from firing.plans.selectors.record import EMPTY
from firing.plans.selectors.sheet import (
    option_sheet,
    planned_of,
    planned_today,
    standing_sheet,
)
from tests import make
from tests.firing import build, planned_time
from tests.make import NOW

HOUR = dt.timedelta(hours=1)
DAY = 24 * HOUR


@pytest.fixture
def piece(cast):
    return make.piece(studio=cast.studio, glass=cast.glass, title="Reed bed")


@pytest.fixture
def plan(cast):
    return planned_time.standing(cast.studio)


def kept(cast, plan, piece, *, after=24, **more):
    return planned_time.keep(
        plan, piece, starts_at=NOW + after * HOUR, kiln=cast.kiln, **more
    )


def sheet(cast, plan, deliveries=None, now=NOW):
    return standing_sheet(plan, deliveries or {}, viewer=cast.viewer(), now=now)


def lines(found):
    return [line for _, group in found.days for line in group]


def row(kiln, start, **more):
    at = NOW + start * HOUR
    return {
        "kiln": kiln.pk,
        "starts_at": at.isoformat(),
        "opens_at": (at + 20 * HOUR).isoformat(),
    } | more


def test_an_option_is_shown_day_by_day(cast, piece):
    layers = [{"piece": piece.pk, "layer": one.pk} for one in piece.layers.all()[:2]]
    record = EMPTY | {
        "firings": [
            row(cast.kiln, 53, kind="enamel", items=layers),
            row(cast.kiln, 29, kind="enamel", items=layers[:1]),
        ],
        "fuses": [row(cast.kiln, 55, kind="full fuse", piece=piece.pk)],
    }
    found = option_sheet(record, viewer=cast.viewer(), now=NOW)
    assert [(day, len(group)) for day, group in found.days] == [
        ("Thu 5 Mar 2026", 1),
        ("Fri 6 Mar 2026", 2),
    ]
    first, enamel, fuse = lines(found)
    assert (first.at, first.until) == ("09:00", "Fri 05:00")
    assert enamel.name == "Enamel: Reed bed 1, 2"
    assert enamel.fill == "2 layers, 38 % of the shelf"
    assert (fuse.name, fuse.fill) == ("Full fuse and anneal: Reed bed", "")
    assert (found.firing_count, found.provisional_count) == (3, 0)


def test_an_empty_option_has_an_empty_sheet(cast):
    found = option_sheet(EMPTY, viewer=cast.viewer(), now=NOW)
    assert (found.days, found.people, found.deliveries) == ((), (), ())


def test_people_are_listed_by_name_with_their_days_and_hours(cast, piece):
    layer = piece.layers.get(number=2).pk

    def at(*hours):
        return [[(NOW + h * HOUR).isoformat() for h in pair] for pair in hours]

    def task(person, task, segments, **more):
        ref = {"person": person, "task": task, "piece": piece.pk}
        return ref | {"segments": segments} | more

    record = EMPTY | {
        "work": [
            task(cast.owner.pk, "assembly", at((6, 8))),
            task(cast.maker.pk, "paint", at((29, 30), (5, 6)), layer=layer),
            task(cast.maker.pk, "coldwork", at((4, 5))),
            task(0, "coldwork", at((4, 5))),
        ]
    }
    found = option_sheet(record, viewer=cast.viewer(), now=NOW)
    assert found.people == (
        (
            cast.maker.name,
            (
                (
                    "Wed 4 Mar 2026",
                    (
                        "08:00–09:00 Cold work on Reed bed",
                        "09:00–10:00 Paint layer 2 of Reed bed",
                    ),
                ),
                ("Thu 5 Mar 2026", ("09:00–10:00 Paint layer 2 of Reed bed",)),
            ),
        ),
        (cast.owner.name, (("Wed 4 Mar 2026", ("10:00–12:00 Stack Reed bed",)),)),
        ("Somebody", (("Wed 4 Mar 2026", ("08:00–09:00 Cold work on Reed bed",)),)),
    )


def test_deliveries_come_by_day_and_only_of_pieces_that_are_here(
    cast, strangers, piece
):
    other = make.piece(studio=cast.studio, glass=cast.glass, title="Weir")
    theirs = make.piece(studio=strangers.studio, glass=strangers.glass)
    make.promised(piece, dt.date(2026, 3, 18))
    days = {piece.pk: "2026-03-20", other.pk: "2026-03-19", theirs.pk: "2026-03-01"}
    record = EMPTY | {"deliveries": {str(pk): day for pk, day in days.items()}}
    found = option_sheet(record, viewer=cast.viewer(), now=NOW).deliveries
    assert [(one.title, one.ready, one.is_late) for one in found] == [
        ("Weir", "Thu 19 Mar 2026", False),
        ("Reed bed", "Fri 20 Mar 2026", True),
    ]


def test_a_provisional_firing_may_be_confirmed_until_its_start(cast, plan, piece):
    booking = kept(cast, plan, piece)
    (line,) = lines(sheet(cast, plan))
    assert (line.state, line.may_confirm) == ("Provisional", True)
    assert line.make_up_href.endswith(f"?kiln={cast.kiln.pk}")
    late = booking.starts_at + HOUR
    (line,) = lines(sheet(cast, plan, now=late))
    assert (line.state, line.kind) == ("Provisional, not loaded in time", "problem")
    assert not line.may_confirm
    Booking.across_studios.filter(pk=booking.pk).update(is_provisional=False)
    found = sheet(cast, plan)
    assert (lines(found)[0].state, lines(found)[0].may_confirm) == ("Confirmed", False)
    assert found.provisional_count == 0


def test_a_planned_fuse_leads_to_its_piece(cast, plan, piece):
    kept(cast, plan, piece, kind="full fuse")
    (line,) = lines(sheet(cast, plan))
    assert (line.name, line.fill) == ("Full fuse and anneal: Reed bed", "")
    assert f"/{piece.pk}/" in line.make_up_href


def test_firings_made_up_and_running_stand_beside_the_planned_ones(cast, plan, piece):
    kept(cast, plan, piece, after=96)
    firing = build.enamel(kiln=cast.kiln, glass=cast.glass, starts_at=NOW + HOUR)
    assert [one.state for one in lines(sheet(cast, plan))] == ["Made up", "Provisional"]
    start_firing(firing=firing, by=None, at=NOW + HOUR)
    later = NOW + 2 * HOUR
    assert lines(sheet(cast, plan, now=later))[0].state.startswith("Closed until")
    later = NOW + 60 * HOUR
    assert lines(sheet(cast, plan, now=later))[0].state.startswith(
        "May be opened since"
    )


def test_work_that_is_over_or_painted_already_is_left_out(cast, plan, piece):
    of_pass = make.passes_of(piece)[0]
    work = PlannedWork.across_studios.create(
        studio=cast.studio,
        plan=plan,
        person=cast.maker,
        piece=piece,
        task="paint",
        layer=of_pass.sheet.layer,
        of_pass=of_pass,
        number=1,
        starts_at=NOW + 4 * HOUR,
        ends_at=NOW + 5 * HOUR,
        segments=[[(NOW + h * HOUR).isoformat() for h in (4, 5)]],
    )
    ((name, days),) = sheet(cast, plan).people
    assert name == cast.maker.name
    assert days == (("Wed 4 Mar 2026", ("08:00–09:00 Paint layer 1 of Reed bed",)),)
    assert sheet(cast, plan, now=work.ends_at).people == ()
    of_pass.painted_at = NOW
    of_pass.save()
    assert sheet(cast, plan).people == ()


def test_today_ends_at_midnight_where_the_reader_is(cast, strangers, plan, piece):
    # 9:00 UTC is 4:00 there: midnight is twenty hours away.
    kept(cast, plan, piece, after=19.5, hours=0.5)
    assert len(planned_today(cast.viewer(), NOW)) == 1
    due = planned_today(cast.viewer(), NOW + 20 * HOUR)
    assert [one.is_due for one in due] == [True], "within its grace"
    assert planned_today(cast.viewer(), NOW + 20.5 * HOUR) == [], "missed"
    assert planned_today(strangers.viewer(), NOW) == []
    kept(cast, plan, piece, after=20, number=2)
    assert len(planned_today(cast.viewer(), NOW)) == 1


def test_only_a_planned_booking_is_planned_for_something(cast, plan, piece):
    booking = kept(cast, plan, piece)
    rental = build.booking(kiln=cast.kiln, starts_at=NOW + 96 * HOUR)

    def found(booking):
        return planned_of(booking, viewer=cast.viewer(), now=NOW)

    assert found(booking).name == "Enamel: Reed bed 1, 2"
    assert found(rental) is None
