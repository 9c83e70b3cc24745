"""A studio's minutes for work by hand: its own, set as a whole."""

from dataclasses import replace

from studio.models import BenchMinutes
from studio.selectors.bench_times import bench_times, work_minutes
from studio.services.bench_times import set_work_minutes


def test_minutes_that_were_set_count_for_prices_and_for_plans(cast, strangers):
    usual = work_minutes(cast.studio)
    mine = replace(usual, assembly_minutes=77, loading_minutes_per_firing=5)
    set_work_minutes(studio=cast.studio, minutes=mine)
    assert work_minutes(cast.studio) == mine
    assert bench_times(cast.studio).assembly_minutes == 77
    assert work_minutes(strangers.studio) == usual


def test_setting_them_again_changes_the_same_row(cast):
    usual = work_minutes(cast.studio)
    for minutes in (77, 0):
        mine = replace(usual, assembly_minutes=minutes)
        set_work_minutes(studio=cast.studio, minutes=mine)
    assert BenchMinutes.owned.for_studio(cast.studio).get().assembly_minutes == 0
