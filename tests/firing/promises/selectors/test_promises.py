"""Dates that can be promised: moving nothing, with margin, reasons and refusals."""

import datetime as dt
from dataclasses import replace

import pytest

from firing.plans.selectors.problem import WorkSpec
from firing.promises.selectors.promises import promise_for
from firing.promises.selectors.studio_record import studio_record
from studio.errors import Refused
from studio.models import AccessHours, Membership
from studio.services import layers
from tests import make
from tests.cast import NOW
from tests.firing import build
from tests.firing.plans.selectors.test_problem import BENCH, DAY, TASKS


def spec(cast, **changes):
    facts = {
        "title": "Slack water",
        "width_mm": 300,
        "height_mm": 200,
        "layer_count": 6,
        "painted_count": 5,
        "passes_per_layer": 2,
        "glass": cast.glass,
        "is_dammed": True,
        "is_decal": False,
        "bench": BENCH,
    }
    return WorkSpec(**(facts | changes))


def ask(cast, *, maquette=None, **changes):
    return promise_for(
        studio=cast.studio,
        spec=spec(cast, **changes),
        maquette=maquette,
        tasks=TASKS,
        due_dates={},
        now=NOW,
    )


def test_the_margin_lies_behind_the_bare_date_and_the_chain_ends_on_it(cast):
    found = ask(cast)
    assert NOW.date() < found.ready_date <= found.date_80 <= found.date_95
    assert found.reasons[-1].until.date() == found.ready_date
    assert found.reasons[-1].what.startswith("Coldwork")
    assert any(f"In {cast.kiln}" in one.what for one in found.reasons)
    assert any("at the bench" in told for told in found.assumptions)
    assert any("guess" in told for told in found.margin)
    assert found == ask(cast)


def test_a_kiln_that_is_held_pushes_the_date_and_is_named_as_the_reason(cast):
    free = ask(cast)
    build.booking(kiln=cast.kiln, starts_at=NOW, hours=24 * 21)
    held = ask(cast)
    assert held.ready_date >= (NOW + 21 * DAY).date()
    assert held.ready_date > free.ready_date
    notes = [note for one in held.reasons for note in one.notes]
    # It is cold on Wednesday; the last layers go into its second load.
    assert any("no kiln that takes it is free until Thu 26 Mar" in n for n in notes)


def test_open_work_comes_first_and_stays(cast):
    free = ask(cast)
    for who in (cast.owner, cast.maker):
        piece = make.piece(
            studio=cast.studio, glass=cast.glass, layers=20, passes=2, title=str(who)
        )
        piece.maker = who
        piece.save()
    assert ask(cast).ready_date > free.ready_date


def test_a_day_without_anybody_is_the_reason(cast):
    AccessHours.owned.for_studio(cast.studio).filter(weekday__gte=4).delete()
    notes = [note for one in ask(cast).reasons for note in one.notes]
    assert any(note.startswith("closed: nobody is in") for note in notes)


def test_the_maquette_comes_first(cast):
    small = spec(cast, width_mm=150, height_mm=100, layer_count=3, painted_count=2)
    with_it = ask(cast, maquette=small)
    assert with_it.maquette_date < with_it.ready_date
    assert with_it.ready_date > ask(cast).ready_date


def test_a_record_of_losses_widens_the_margin(cast):
    before = ask(cast)
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=12, title="Bad")
    for of_pass in make.passes_of(piece):
        layers.record_painted(passes=[of_pass], by=None, at=NOW, minutes=90)
        layers.record_outcome(of_pass=of_pass, outcome="cracked", by=None, at=NOW)
    build.pieces.mark_lost(piece=piece, note="All cracked", by=None, at=NOW)
    record = studio_record(cast.studio, tasks=TASKS)
    assert (record.passes_fired, record.passes_lost) == (11, 11)
    after = ask(cast)
    assert after.ready_date == before.ready_date
    assert after.date_80 > before.date_80
    assert any("11 of 11 passes" in told for told in after.margin)


def test_the_record_is_the_studio_s_own(cast, strangers):
    piece = make.piece(studio=strangers.studio, glass=strangers.glass)
    make.paint_and_fire(piece)
    record = studio_record(cast.studio, tasks=TASKS)
    assert record == type(record)()


def test_what_no_kiln_takes_is_refused_kiln_by_kiln(cast):
    with pytest.raises(Refused, match=f"No kiln can fuse it. {cast.kiln}: .*high"):
        ask(cast, layer_count=90)
    with pytest.raises(Refused, match="burn on its enamel.*shelf"):
        ask(cast, width_mm=900)


def test_nobody_who_paints_is_refused(cast):
    Membership.owned.for_studio(cast.studio).filter(
        person__in=[cast.owner, cast.maker]
    ).update(is_active=False)
    with pytest.raises(Refused, match="Nobody here both paints and stacks"):
        ask(cast)


def test_hours_too_short_to_load_are_refused(cast):
    AccessHours.owned.for_studio(cast.studio).update(closes=dt.time(8, 30))
    with pytest.raises(Refused, match="Loading: it takes 1 h; the studio is never"):
        ask(cast)


def test_more_work_than_hours_is_refused_in_the_end(cast):
    endless = replace(BENCH, painting_minutes_per_pass=60_000)
    with pytest.raises(Refused, match="has 1560 h at the bench in the next 78 weeks"):
        ask(cast, bench=endless)
