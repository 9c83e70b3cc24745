"""Whatever is recorded and put right: nothing is left as if it had never happened."""

import datetime as dt

import pytest
from django.db import transaction
from hypothesis import event, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from firing.firings.services import put_right, running
from firing.firings.services.firings import cancel_firing, make_up_enamel_firing
from firing.loads.selectors.known import ReadByHand
from firing.loads.selectors.loads import waiting_passes
from firing.models import Booking, Firing
from studio.errors import Refused
from studio.models import HistoryEntry, Material, Sheet, StockMove
from studio.selectors.pieces import fresh
from studio.services import layers, pieces
from studio.services import put_right as bench_put_right
from studio.stages import Stage
from tests import make
from tests.cast import gather
from tests.firing import build, planned_time
from tests.make import NOW

HOUR, MINUTE = dt.timedelta(hours=1), dt.timedelta(minutes=1)
COLD = ReadByHand(shown_c=20.0, is_confirmed=True)


class Workbench:
    """One piece of two painted layers and a cap, and what may be recorded of it."""

    def __init__(self, name):
        self.cast = gather(name, in_fahrenheit=False)
        self.piece = make.piece(
            studio=self.cast.studio, glass=self.cast.glass, layers=3, passes=1
        )
        self.at = NOW
        self.reason = ""
        self.has_loaded = []

    @property
    def said(self):
        return {"by": None, "at": self.at}

    @property
    def view(self):
        return fresh(self.piece)

    def firing(self):
        found = Firing.owned.for_studio(self.cast.studio).filter(
            cancelled_at__isnull=True
        )
        return found.order_by("-pk").first()

    def paint(self, place):
        of_pass = self.view.layers[place % 2].pass_to_paint
        if of_pass is None:
            return None
        layers.record_painted(passes=[of_pass], **self.said)
        return lambda: layers.take_back_painting(
            of_pass=of_pass, reason=self.reason, **self.said
        )

    def paint_other(self, place):
        return self.paint(place + 1)

    def make_up(self, _):
        if self.view.stage is Stage.STACKED:
            firing = build.fuse(
                piece=self.piece, kiln=self.cast.kiln, starts_at=self.at
            )
        else:
            waiting = list(waiting_passes(self.cast.studio))
            self.has_loaded = [str(one) for one in waiting]
            firing = make_up_enamel_firing(
                studio=self.cast.studio,
                kiln=self.cast.kiln,
                passes=waiting,
                starts_at=self.at,
                **self.said,
            )
        return lambda: cancel_firing(firing=firing, reason=self.reason, **self.said)

    def start(self, _):
        firing = self.firing()
        if firing is None:
            return None
        running.start_firing(firing=firing, **self.said)
        return lambda: put_right.not_started(
            firing=firing, reason=self.reason, **self.said
        )

    def outcomes(self, firing, place):
        items = list(firing.items.all())
        return {
            item.pk: (("fine", "redo", "cracked")[(place + n) % 3], "")
            for n, item in enumerate(items)
        }

    def unload(self, place):
        firing = self.firing()
        if firing is None:
            return None
        running.finish_firing(
            firing=firing, outcomes=self.outcomes(firing, place), hand=COLD, **self.said
        )
        return lambda: put_right.not_unloaded(
            firing=firing, reason=self.reason, **self.said
        )

    def check(self, _):
        event = pieces.check_stack(
            piece=self.piece,
            layers_counted=3,
            measured_height_mm=9,
            is_order_right=True,
            **self.said,
        )
        return self.back(event)

    def finish(self, _):
        return self.back(pieces.finish_piece(piece=self.piece, **self.said))

    def lose(self, _):
        event = pieces.mark_lost(piece=self.piece, note="Dropped", **self.said)
        return self.back(event)

    def back(self, event):
        return lambda: bench_put_right.take_back_event(
            event=event, reason=self.reason, **self.said
        )

    def again(self, place):
        layer = self.view.layers[place % 2].layer
        layers.make_again(layer=layer, reason="Scratched", **self.said)
        return lambda: bench_put_right.take_back_again(
            layer=layer, reason=self.reason, **self.said
        )

    def back_late(self, back):
        """Take a record back hours later, with a reason; return whether that went."""
        before, self.reason = self.state(), "Entered on the wrong line"
        try:
            with transaction.atomic():
                back()
        except Refused:
            assert self.state() == before, "a refusal changes nothing"
            return False
        finally:
            self.reason = ""
        return True

    def do(self, what, place):
        """Record a thing; return how it is taken back, none where it is refused."""
        try:
            with transaction.atomic():
                return getattr(self, what)(place)
        except Refused:
            return None

    def state(self):
        """Return everything that counts, without keys."""
        view, studio = self.view, self.cast.studio
        sheets = Sheet.owned.for_studio(studio).order_by("layer__number", "attempt")
        rows = Firing.owned.for_studio(studio).filter(cancelled_at__isnull=True)
        return {
            "stage": view.stage,
            "events": [(e.kind, e.at, e.outcome) for e in view.events],
            "layers": [one.state for one in view.layers],
            "sheets": [
                (
                    sheet.layer.number,
                    sheet.attempt,
                    sheet.set_aside_at,
                    sheet.set_aside_reason,
                    [
                        (p.number, p.painted_at, p.outcome, p.fired_at, p.is_repeat)
                        for p in sheet.passes.order_by("number")
                    ],
                )
                for sheet in sheets
            ],
            "firings": [
                (
                    one.kind,
                    one.started_at,
                    one.finished_at,
                    one.note,
                    [item.outcome for item in one.items.order_by("pk")],
                )
                for one in rows.order_by("pk")
            ],
            "bookings": [
                (one.starts_at, one.ends_at, one.planned_curve)
                for one in Booking.owned.for_studio(studio)
                .filter(cancelled_at__isnull=True)
                .order_by("pk")
            ],
        }


STEPS = [
    "paint",
    "make_up",
    "start",
    "unload",
    "check",
    "finish",
    "lose",
    "again",
]
# The usual course, so that examples get far; a wrong turn may come at any place.
COURSE = ["paint", "paint_other", "make_up", "start", "unload", "check", "make_up"]
COURSE += ["start", "unload", "finish"]


class AnyMistake(TestCase):
    """Any record, taken back at once, leaves the bench as if it had never been made."""

    @settings(deadline=None)
    @given(
        course=st.lists(
            st.tuples(st.sampled_from(COURSE), st.integers(0, 5)), max_size=2
        ),
        wrong=st.lists(
            st.tuples(
                st.integers(0, len(COURSE)), st.sampled_from(STEPS), st.integers(0, 5)
            ),
            min_size=1,
            max_size=4,
        ),
        places=st.lists(st.sampled_from([0, 0, 0, 1, 2]), min_size=10, max_size=10),
    )
    def test_as_if_it_had_never_happened(self, course, wrong, places):
        steps = [*zip(COURSE, places, strict=True), *course]
        right, mistaken = Workbench("Right"), Workbench("Mistaken")
        for number, (what, place) in enumerate(steps):
            for bench in (right, mistaken):
                bench.at = NOW + number * HOUR
            for where, other, elsewhere in wrong:
                if where == number:
                    back = mistaken.do(other, elsewhere)
                    if back is not None:
                        back()
            right.do(what, place)
            mistaken.do(what, place)
            assert mistaken.state() == right.state(), (number, what)


class AnyCourse(TestCase):
    """What was recorded is taken back hours later, the last record first."""

    @settings(deadline=None)
    @given(
        steps=st.lists(
            st.tuples(st.sampled_from(STEPS), st.integers(0, 5)), max_size=4
        ),
        usual=st.integers(0, len(COURSE)),
    )
    def test_a_course_goes_back_step_by_step(self, steps, usual):
        bench = Workbench("Bench")
        done = []
        for number, (what, place) in enumerate(
            [*((one, 0) for one in COURSE[:usual]), *steps]
        ):
            bench.at = NOW + number * HOUR
            before = bench.state()
            back = bench.do(what, place)
            if back is not None:
                done.append((what, before, back))
        for what, before, back in reversed(done):
            bench.at += HOUR
            assert bench.back_late(back), what
            assert bench.state() == before, what

    @settings(deadline=None)
    @given(
        where=st.integers(0, len(COURSE)),
        wrong=st.sampled_from(STEPS),
        place=st.integers(0, 5),
        later=st.integers(1, 4),
    )
    def test_a_mistake_found_later_leaves_no_trace(self, where, wrong, place, later):
        right, mistaken = Workbench("Right"), Workbench("Mistaken")
        back, since = None, []
        for number, what in enumerate(COURSE):
            for bench in (right, mistaken):
                bench.at = NOW + number * HOUR
            if number == where:
                back = mistaken.do(wrong, place)
            since.append([bench.do(what, 0) for bench in (right, mistaken)])
            is_odd = right.has_loaded != mistaken.has_loaded or (
                (since[-1][0] is None) != (since[-1][1] is None)
            )
            if back is None or not (is_odd or number == where + later):
                continue
            # Found: what was built on it is taken back first, on both benches.
            while is_odd or not mistaken.back_late(back):
                assert len(since) > where, "nothing more to take back first"
                for bench, one in zip((right, mistaken), since.pop(), strict=True):
                    assert one is None or bench.back_late(one)
                is_odd = False
            event(f"{wrong} found after {what}")
            assert mistaken.state() == right.state(), (wrong, what)
            return


@pytest.fixture
def unloaded(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=3, passes=1)
    firing = build_enamel(cast, piece)
    running.start_firing(firing=firing, by=None, at=NOW)
    outcomes = {item.pk: ("fine", "") for item in firing.items.all()}
    running.finish_firing(
        firing=firing, outcomes=outcomes, hand=COLD, by=None, at=NOW + HOUR
    )
    return piece, Firing.across_studios.get(pk=firing.pk)


def build_enamel(cast, piece):
    return make_up_enamel_firing(
        studio=cast.studio,
        kiln=cast.kiln,
        passes=build.painted(piece),
        starts_at=NOW,
        by=None,
        at=NOW,
    )


def said(at):
    return {"by": None, "at": at}


def test_a_wrong_outcome_is_changed_with_what_follows(cast, unloaded):
    piece, firing = unloaded
    item = firing.items.order_by("pk").first()

    def change(outcome):
        put_right.change_outcome(
            item=item, outcome=outcome, note="", reason="", **said(NOW + HOUR)
        )
        return fresh(piece).layers[0]

    assert len(change("redo").passes) == 2
    cracked = change("cracked")
    assert cracked.sheet is None
    fine = change("fine")
    assert fine.is_done
    assert len(fine.passes) == 1
    told = HistoryEntry.owned.for_studio(cast.studio).values_list("what", flat=True)
    assert any("cracked, not fire again" in one for one in told)


def test_later_a_reason_is_needed_and_stands_in_the_history(cast, unloaded):
    _, firing = unloaded
    late = NOW + 3 * HOUR
    with pytest.raises(Refused, match="Say why"):
        put_right.not_unloaded(firing=firing, reason=" ", **said(late))
    put_right.not_unloaded(firing=firing, reason="Wrong kiln", **said(late))
    firing.refresh_from_db()
    assert firing.finished_at is None
    told = HistoryEntry.owned.for_studio(cast.studio).values_list("what", flat=True)
    assert "Not unloaded after all: Wrong kiln" in told
    assert any(one.startswith("Unloaded from") for one in told)


def test_what_was_built_on_an_outcome_says_what_to_take_back_first(cast, unloaded):
    piece, firing = unloaded
    item = firing.items.order_by("pk").first()
    put_right.change_outcome(
        item=item, outcome="redo", note="", reason="", **said(NOW + HOUR)
    )
    repeat = fresh(piece).layers[0].pass_to_paint
    layers.record_painted(passes=[repeat], **said(NOW + HOUR))
    with pytest.raises(Refused, match="is painted since. Take that back first"):
        put_right.not_unloaded(firing=firing, reason="", **said(NOW + HOUR))
    firing.refresh_from_db()
    assert firing.finished_at is not None


def test_a_kiln_that_runs_something_else_stays_with_it(cast, unloaded):
    _, firing = unloaded
    other = build.enamel(kiln=cast.kiln, glass=cast.glass, starts_at=NOW + 2 * HOUR)
    running.start_firing(firing=other, by=None, at=NOW + 2 * HOUR)
    with pytest.raises(Refused, match="still holds"):
        put_right.not_unloaded(firing=firing, reason="x", **said(NOW + 2 * HOUR))


def test_started_takes_the_time_and_it_can_be_corrected(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=3, passes=1)
    firing = build_enamel(cast, piece)
    now = NOW + HOUR
    with pytest.raises(Refused, match="still to come"):
        running.start_firing(firing=firing, started_at=now + MINUTE, **said(now))
    firing = running.start_firing(firing=firing, started_at=NOW, **said(now))
    assert firing.started_at == firing.booking.starts_at == NOW
    earlier = NOW - 40 * MINUTE
    put_right.change_start(firing=firing, started_at=earlier, reason="", **said(now))
    firing = Firing.across_studios.select_related("booking").get(pk=firing.pk)
    assert firing.started_at == firing.booking.starts_at == earlier


def test_an_enamel_firing_takes_what_lies_under_its_layers_and_gives_it_back(cast):
    wash = Material.across_studios.create(
        studio=cast.studio,
        name="Kiln wash",
        kind="kiln wash",
        unit="g",
        cost_per_unit=2,
        used_per="firing area",
        amount_used=200,
        on_hand=1000,
    )
    film = Material.across_studios.create(
        studio=cast.studio,
        name="Film",
        kind="decal",
        unit="g",
        cost_per_unit=2,
        used_per="enamel area",
        amount_used=200,
        on_hand=1000,
    )
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=3)
    passes = build.painted(piece)
    firing = make_up_enamel_firing(
        studio=cast.studio,
        kiln=cast.kiln,
        passes=passes,
        starts_at=NOW,
        by=None,
        at=NOW,
    )
    running.start_firing(firing=firing, by=None, at=NOW)

    def there(material):
        material.refresh_from_db()
        return material.on_hand

    # Two layers of 0.06 m², 200 g for a square metre.
    assert (there(wash), there(film)) == (976, 1000)
    took = StockMove.across_studios.filter(material=wash, kind="taken")
    assert {(one.piece_id, one.unit_cost) for one in took} == {(piece.pk, 2)}
    put_right.not_started(firing=firing, reason="", by=None, at=NOW)
    assert there(wash) == 1000
    assert all(one.painted_at for one in make.passes_of(piece)), "still painted"
    running.start_firing(firing=firing, by=None, at=NOW)
    assert there(wash) == 976


def test_a_start_in_somebody_elses_time_is_refused(cast):
    build.booking(kiln=cast.kiln, starts_at=NOW - 5 * HOUR, hours=4)
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=3, passes=1)
    firing = running.start_firing(firing=build_enamel(cast, piece), **said(NOW))
    with pytest.raises(Refused, match="is held for"):
        put_right.change_start(
            firing=firing, started_at=NOW - 2 * HOUR, reason="", **said(NOW)
        )


def test_a_start_two_hours_early_is_taken_back_over_a_load_that_came_back(cast):
    mine = make.piece(studio=cast.studio, glass=cast.glass, layers=3, passes=1)
    other = make.piece(studio=cast.studio, glass=cast.glass, title="Other")
    passes = build.painted(mine)

    def load():
        return make_up_enamel_firing(
            studio=cast.studio,
            kiln=cast.kiln,
            passes=passes,
            starts_at=NOW + 6 * HOUR,
            by=None,
            at=NOW,
        )

    first = load()
    ends_at = first.booking.ends_at
    cancel_firing(firing=first, reason="", by=None, at=NOW)
    plan = planned_time.standing(cast.studio)
    elsewhere = make.kiln(studio=cast.studio)
    planned_time.keep(plan, other, starts_at=NOW + 20 * HOUR, kiln=elsewhere)
    kept = planned_time.keep(
        plan,
        other,
        starts_at=ends_at - HOUR / 2,
        kind="full fuse",
        kiln=cast.kiln,
        hours=10,
    )
    firing = load()
    kept.refresh_from_db()
    assert kept.cancelled_at is not None, "it cannot happen, and gives way"
    early = NOW + 4 * HOUR
    running.start_firing(firing=firing, by=None, at=early)
    kept.refresh_from_db()
    assert kept.cancelled_at is None, "nobody is in its way"
    put_right.not_started(firing=firing, reason="", **said(early))
    firing.booking.refresh_from_db()
    kept.refresh_from_db()
    assert firing.booking.starts_at == NOW + 6 * HOUR
    assert kept.cancelled_at is not None
