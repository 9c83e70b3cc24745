"""Plain records with their history, and access hours."""

import datetime as dt

import pytest

from studio.errors import Refused
from studio.models import AccessHours, Glass, HistoryEntry, Kiln
from studio.selectors import kilns
from studio.selectors.history import entries
from studio.services.hours import add_access_hours
from studio.services.keeping import keep, remove
from tests import make
from tests.cast import NOW


def told():
    return list(
        HistoryEntry.across_studios.order_by("pk").values_list("what", flat=True)
    )


def test_added_changed_and_removed_are_told_apart(cast):
    kiln = Kiln(
        **{
            field.attname: getattr(cast.kiln, field.attname)
            for field in Kiln._meta.fields
            if field.attname != "id"
        }
    )
    kiln.name = "Big bell"

    def kept(changed):
        keep(studio=cast.studio, record=kiln, changed=changed, by=cast.owner, at=NOW)

    kept([])
    kept(["power", "name"])
    kept([])
    remove(studio=cast.studio, record=kiln, by=cast.owner, at=NOW)
    assert told() == [
        "Added kiln Big bell",
        "Changed kiln Big bell: power, name",
        "Removed kiln Big bell",
    ]
    assert list(kilns.kilns(cast.studio)) == [cast.kiln]


def test_a_button_pressed_twice_is_refused_in_words(cast):
    def another():
        made = make.glass(studio=cast.studio, name="Mist")
        Glass.across_studios.filter(pk=made.pk).delete()
        made.pk = None
        return made

    first, second = another(), another()
    keep(studio=cast.studio, record=first, changed=[], by=cast.owner, at=NOW)
    with pytest.raises(Refused, match="at this very moment"):
        keep(studio=cast.studio, record=second, changed=[], by=cast.owner, at=NOW)
    assert told() == ["Added glass Mist"]


def hours(cast, weekdays, opens, closes):
    return add_access_hours(
        studio=cast.studio,
        weekdays=weekdays,
        opens=dt.time.fromisoformat(opens),
        closes=dt.time.fromisoformat(closes),
        by=cast.owner,
        at=NOW,
    )


def test_hours_are_added_to_several_days_at_once(cast):
    AccessHours.across_studios.all().delete()
    hours(cast, [0, 4, 4], "09:00", "12:30")
    assert [str(h) for h in kilns.access_hours(cast.studio)] == [
        "Monday 09:00–12:30",
        "Friday 09:00–12:30",
    ]
    assert told() == ["Added access hours: Monday 09:00–12:30, Friday 09:00–12:30"]
    hours(cast, [0], "12:30", "20:00")
    assert kilns.access_hours(cast.studio).count() == 3


@pytest.mark.parametrize(
    ("opens", "closes"), [("19:59", "21:00"), ("07:00", "08:01"), ("10:00", "11:00")]
)
def test_hours_that_overlap_are_refused_for_every_day(cast, opens, closes):
    AccessHours.across_studios.filter(weekday=6).delete()
    with pytest.raises(Refused, match="Overlaps with Saturday 08:00–20:00. Remove"):
        hours(cast, [5, 6], opens, closes)
    assert not kilns.access_hours(cast.studio).filter(weekday=6).exists()


@pytest.mark.parametrize("closes", ["06:00", "05:00"])
def test_hours_must_end_after_they_start(cast, closes):
    with pytest.raises(Refused, match="must end after it starts"):
        hours(cast, [0], "06:00", closes)


def test_lines_about_money_are_only_for_those_who_see_money(cast, strangers):
    for record, about_money in ((cast.kiln, False), (cast.glass, True)):
        keep(
            studio=cast.studio,
            record=record,
            changed=["name"],
            by=None,
            at=NOW,
            is_about_money=about_money,
        )
    assert entries(cast.studio, cast.viewer("maker")).count() == 2
    assert entries(cast.studio, cast.viewer("helper")).count() == 1
    assert entries(strangers.studio, strangers.viewer()).count() == 0


def test_closures_to_come_leave_out_what_is_over(cast):
    hour = dt.timedelta(hours=1)
    for start in (-9, -1, 5):
        kilns.Closure.across_studios.create(
            studio=cast.studio,
            starts_at=NOW + start * hour,
            ends_at=NOW + (start + 2) * hour,
            reason=f"From {start}",
        )
    found = kilns.closures_to_come(cast.studio, NOW)
    assert [closure.reason for closure in found] == ["From -1", "From 5"]
    assert make.NOW == NOW
