"""The demo: loads at any hour of any day, only once, and shows what it is meant to
show.
"""

import datetime as dt

import pytest
from django.db import transaction

from commissions.demo.load import load
from commissions.models import Quote
from firing.models import Booking, Firing, Plan, PlannedFiring, Schedule
from firing.plans.selectors.holding import holding_of
from studio.models import Glass, Piece, Sheet, Studio
from studio.selectors.glass_families import usual_temperatures
from studio.selectors.pieces import pieces, view_pieces
from studio.stages import LayerState, Stage
from tests.demo import MONDAY_MORNING, SEED

SUNDAY_NIGHT = dt.datetime(2026, 11, 29, 4, 7, tzinfo=dt.UTC)
# Clocks went forward in New York on 8 March 2026, in the middle of the cooling.
AFTER_CLOCK_CHANGE = dt.datetime(2026, 3, 9, 20, 0, tzinfo=dt.UTC)


def views():
    return {
        view.piece.title: view
        for studio in Studio.objects.all()
        for view in view_pieces(pieces(studio))
    }


@pytest.mark.django_db
@pytest.mark.parametrize(
    "now",
    [pytest.param(SUNDAY_NIGHT, marks=pytest.mark.long), AFTER_CLOCK_CHANGE],
    ids=str,
)
def test_the_demo_shows_each_stage_whenever_it_is_loaded(now):
    assert load(now=now, seed=SEED)
    shows_each_stage(now)


def test_the_demo_shows_each_stage_on_a_monday(demo):
    shows_each_stage(MONDAY_MORNING)


def test_every_sheet_is_soaked_and_fired_as_its_family_is(demo):
    """In whole degrees of its studio, which are off by less than one."""
    for glass in Glass.across_studios.all():
        usual = usual_temperatures(glass.family)
        for name in ("anneal_soak_c", "enamel_c", "full_fuse_c"):
            shown = (str(glass), name)
            assert abs(getattr(glass, name) - getattr(usual, name)) < 1, shown
        own_c = glass.annealing_point_c
        assert own_c is None or own_c in usual.annealing_points_c


def shows_each_stage(now):
    shown = views()
    assert {title: view.stage for title, view in shown.items()} == {
        "Spring tide at the sluice": Stage.IN_KILN,
        "Spring tide at the sluice, maquette": Stage.FINISHED,
        "Groyne in winter": Stage.FIRE_AGAIN,
        "Mud flats, last light": Stage.PAINTING,
        "Reed edge, slack water": Stage.PAINTING,
        "White heaps, noon": Stage.PAINTING,
    }
    running = Firing.across_studios.get(started_at__isnull=False, finished_at=None)
    assert dt.timedelta(days=2) <= now - running.started_at <= dt.timedelta(days=3)
    # Common practice, no source: about five days for twenty layers.
    cycle = running.booking.opens_at - running.started_at
    assert dt.timedelta(days=4.3) <= cycle <= dt.timedelta(days=5.7)
    flats = {layer.state for layer in shown["Mud flats, last light"].layers}
    assert {LayerState.NEXT_PASS, LayerState.PAINTED, LayerState.BURNT} <= flats
    standing = Plan.across_studios.get(state="accepted")
    assert standing.holds
    assert holding_of(standing, now=now).holds
    reeds = shown["Reed edge, slack water"]
    assert len(reeds.layers) == 20
    fuse = PlannedFiring.across_studios.get(kind="full fuse", items__piece=reeds.piece)
    assert fuse.booking.is_provisional
    assert fuse.booking.starts_at > now


def test_the_demo_keeps_the_past_of_a_layer_made_again_and_proposes_the_re_anneal(demo):
    assert Sheet.across_studios.filter(set_aside_at__isnull=False).count() == 1
    assert Schedule.across_studios.filter(kind="re-anneal").count() == 1
    waiting = Quote.across_studios.get(accepted_at=None, sent_at__isnull=False)
    assert waiting.promised_date is not None
    assert waiting.commission.layer_count == 12


def test_a_second_time_nothing_happens(demo):
    models = (Studio.objects, Piece.across_studios, Booking.across_studios)
    counts = [manager.count() for manager in models]
    assert all(counts)
    assert not load(now=MONDAY_MORNING + dt.timedelta(days=9), seed=SEED)
    assert [manager.count() for manager in models] == counts


@pytest.mark.django_db
def test_the_same_seed_gives_the_same_demo(request):
    """Loaded here and loaded for the run: the same money and the same kiln time."""

    def told():
        bookings = Booking.across_studios.order_by("starts_at", "title")
        return (
            list(Quote.across_studios.order_by("pk").values_list("total")),
            list(bookings.values_list("title", "starts_at", "ends_at")),
        )

    with transaction.atomic():
        load(now=MONDAY_MORNING, seed=SEED)
        here = told()
        transaction.set_rollback(True)
    request.getfixturevalue("demo")
    assert here == told()


def test_every_demo_studio_says_that_it_is_one(demo):
    assert set(Studio.objects.values_list("is_demo", flat=True)) == {True}
