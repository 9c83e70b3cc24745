"""Designed schedules saved without a piece, compared, and booked for every kind."""

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone

from firing.firings.services import running
from firing.firings.services.firings import book_fuse, book_work, make_up_enamel_firing
from firing.loads.selectors.saved_schedules import changes_between
from firing.models import Booking, Firing, LoadItem, Schedule, ScheduleRule
from firing.readings.selectors.verdict_inputs import judge_firing, subject_of
from firing.readings.services.readings import import_readings
from firing.schedules.services import schedules
from studio.errors import Refused
from studio.models import Outcome, PieceEvent
from studio.services import pieces
from tests import make
from tests.firing import build
from tests.firing.pages import address, text_of
from tests.make import NOW

KINDS = {
    "full fuse": "27 mm",
    "tack fuse": "12 mm",
    "slump": "9 mm",
    "test": "12 mm",
    "re-anneal": "27 mm",
    "enamel": "3 mm",
}
SOON = dt.timedelta(hours=2)


def asked(cast, kind="slump", **more):
    return {
        "kind": kind,
        "glass": cast.glass.pk,
        "kiln": cast.kiln.pk,
        "height": KINDS[kind],
        "temporary_mpa": "3",
        "residual_mpa": "0.5",
    } | more


def kept(cast, signed_in, kind="slump", **more):
    answer = signed_in().post(address("schedule_keep"), asked(cast, kind, **more))
    assert answer.status_code == 302
    return Schedule.owned.for_studio(cast.studio).latest("pk")


def starts():
    return timezone.localtime(timezone.now() + SOON).strftime("%Y-%m-%dT%H:%M")


@pytest.fixture
def slab(cast):
    """A piece that came out of its fuse well and waits to be looked at."""
    piece = build.stacked(studio=cast.studio, glass=cast.glass, layer_count=3)
    return fused(piece)


def fused(piece):
    pieces.note_into_kiln(piece=piece, firing_kind="full fuse", by=None, at=NOW)
    pieces.note_out_of_kiln(
        piece=piece, firing_kind="full fuse", outcome=Outcome.FINE, by=None, at=NOW
    )
    return piece


def test_the_designer_leads_to_keeping_and_booking(cast, signed_in):
    html = signed_in().get(address("schedule_designer"), asked(cast)).content.decode()
    assert f'action="{address("schedule_keep")}"' in html
    assert '<input type="hidden" name="kind" value="slump">' in html
    assert 'name="then" value="book"' in html


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_is_kept_booked_run_and_unloaded(cast, signed_in, kind):
    answer = signed_in().post(
        address("schedule_keep"), asked(cast, kind) | {"then": "book"}
    )
    schedule = Schedule.owned.for_studio(cast.studio).get()
    assert schedule.rule == ScheduleRule.COMPUTED
    assert schedule.piece is None
    book = address("schedule_book", schedule.pk)
    assert answer["Location"] == book
    page = signed_in().get(book)
    assert "The earliest free start" in text_of(page)
    assert "licensed electricians" in text_of(page)
    answer = signed_in().post(
        book, {"starts_at": starts(), "things": "Anna's bowl\n\n Test tile 4 "}
    )
    firing = Firing.owned.for_studio(cast.studio).get()
    assert answer["Location"] == address("firing_detail", firing.pk)
    assert firing.kind == kind
    assert firing.booking.planned_curve
    listed = text_of(signed_in("helper").get(address("firing_list")))
    assert "Anna's bowl + " in listed
    assert "Anna's bowl" in text_of(signed_in().get(address("kiln_list")))
    at = timezone.now()
    running.start_firing(firing=firing, by=None, at=at)
    items = list(LoadItem.owned.for_studio(cast.studio).filter(firing=firing))
    assert [item.description for item in items] == ["Anna's bowl", "Test tile 4"]
    page = text_of(signed_in().get(address("firing_finish", firing.pk)))
    assert "Test tile 4" in page
    sent = {f"outcome_{item.pk}": Outcome.FINE for item in items[:1]} | {
        f"outcome_{items[1].pk}": Outcome.CRACKED,
        "shown_c": "86 F",
        "is_confirmed": "on",
    }
    signed_in("helper").post(address("firing_finish", firing.pk), sent)
    outcomes = LoadItem.owned.for_studio(cast.studio).order_by("pk")
    assert [one.outcome for one in outcomes] == [Outcome.FINE, Outcome.CRACKED]
    sheet = signed_in().get(address("controller_sheet", firing.pk))
    assert sheet.status_code == 200


def test_other_work_is_judged_as_its_schedule_was_designed(cast, signed_in):
    schedule = kept(cast, signed_in, "test", is_dammed="on")
    firing = book_work(
        schedule=schedule, things=["Tile"], starts_at=NOW, by=None, at=NOW
    )
    assert subject_of(firing).is_dammed
    assert subject_of(firing).thickness_mm == pytest.approx(12)
    running.start_firing(firing=firing, by=None, at=NOW)
    firing.refresh_from_db()
    rows = [
        f"{seconds:.0f},{celsius:.1f}"
        for seconds, celsius in firing.booking.planned_curve
    ]
    import_readings(
        firing=firing,
        data="\n".join(["Seconds,Temp (°C)", *rows]).encode(),
        file_name="log.csv",
        unit="C",
        by=None,
        at=NOW,
    )
    assert judge_firing(firing).verdict != "not judged"


def test_the_same_design_is_the_same_version_and_another_the_next(cast, signed_in):
    first = kept(cast, signed_in)
    assert kept(cast, signed_in) == first
    second = kept(cast, signed_in, height="19 mm", residual_mpa="0.3")
    assert (first.version, second.version) == (1, 2)
    other_kiln = make.kiln(studio=cast.studio)
    assert kept(cast, signed_in, kiln=other_kiln.pk).version == 1
    assert kept(cast, signed_in, "test").version == 1
    page = text_of(signed_in("helper").get(address("schedule_list")))
    assert f"Slump: {cast.glass} in {cast.kiln}" in page
    assert "Version 2 of 2" in page
    changes = changes_between(first, second, cast.viewer())
    named = {change.what: (change.before, change.after) for change in changes}
    assert named["Height of the glass"] == ("0.35 in", "0.75 in")
    assert named["Limit of what stays"] == ("0.5 MPa", "0.3 MPa")
    assert "Anneal soak" in named
    assert not changes_between(first, first, cast.viewer())
    page = text_of(signed_in().get(address("schedule_detail", second.pk)))
    assert "From version 1 to version 2" in page
    assert "0.3 MPa" in page
    third = kept(cast, signed_in, height="25 mm")
    url = address("schedule_detail", third.pk)
    assert "From version 2 to version 3" in text_of(signed_in().get(url))
    assert "From version 1 to" in text_of(signed_in().get(url, {"against": "1"}))
    for nonsense in ("x", "99", "-1", "²", "9" * 40):
        assert signed_in().get(url, {"against": nonsense}).status_code == 200


@pytest.mark.parametrize("kind", ["slump", "test", "re-anneal"])
def test_a_piece_is_booked_by_a_kept_schedule(cast, signed_in, slab, kind):
    schedule = kept(cast, signed_in, kind, height="9 mm", is_dammed="on")
    html = signed_in().get(address("schedule_book", schedule.pk)).content.decode()
    assert slab.title in html
    answer = signed_in().post(
        address("schedule_book", schedule.pk),
        {"starts_at": starts(), "piece": slab.pk},
    )
    firing = Firing.owned.for_studio(cast.studio).get(schedule=schedule)
    assert answer["Location"] == address("firing_detail", firing.pk)
    running.start_firing(firing=firing, by=None, at=timezone.now())
    item = firing.items.get()
    running.finish_firing(
        firing=firing,
        outcomes={item.pk: (Outcome.FINE, "")},
        by=None,
        at=timezone.now(),
        hand=build.READ_COLD,
    )
    event = PieceEvent.owned.for_studio(cast.studio).filter(piece=slab).latest("pk")
    assert event.firing_kind == kind
    assert event.outcome == Outcome.FINE
    page = text_of(signed_in().get(reverse("studio:piece_detail", args=[slab.pk])))
    assert firing.get_kind_display() in page


def test_a_piece_of_other_glass_or_with_dams_is_refused(cast, signed_in, slab):
    bare = kept(cast, signed_in, height="9 mm")
    assert slab.is_dammed
    with pytest.raises(Refused, match="is dammed"):
        book_fuse(
            piece=slab, kiln=cast.kiln, schedule=bare, starts_at=NOW, by=None, at=NOW
        )
    other = make.glass(studio=cast.studio)
    dammed = kept(cast, signed_in, glass=other.pk, is_dammed="on")
    with pytest.raises(Refused, match="is of"):
        book_fuse(
            piece=slab, kiln=cast.kiln, schedule=dammed, starts_at=NOW, by=None, at=NOW
        )
    thin = kept(cast, signed_in, height="5 mm", is_dammed="on")
    with pytest.raises(Refused, match="higher now"):
        book_fuse(
            piece=slab, kiln=cast.kiln, schedule=thin, starts_at=NOW, by=None, at=NOW
        )
    assert not Booking.owned.for_studio(cast.studio).exists()


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"things": ""}, "Say what goes in"),
        ({"things": "x" * 200}, "at most 160 letters"),
        ({"things": "\n".join("abcdefghijklmnopqrstuvwxyz")}, "at most 20 lines"),
        ({"starts_at": "2020-01-01T09:00"}, "That is past"),
        ({"starts_at": "soon"}, "Write a day and a time"),
    ],
)
def test_a_booking_filled_in_wrongly_is_said(cast, signed_in, changes, said):
    schedule = kept(cast, signed_in)
    sent = {"starts_at": starts(), "things": "Tile"} | changes
    answer = signed_in().post(address("schedule_book", schedule.pk), sent)
    assert answer.status_code == 422
    assert said in text_of(answer)
    assert not Firing.owned.for_studio(cast.studio).exists()


def test_a_taken_kiln_is_refused_with_the_next_free_time(cast, signed_in):
    schedule = kept(cast, signed_in)
    build.booking(kiln=cast.kiln, starts_at=timezone.now(), hours=48)
    answer = signed_in().post(
        address("schedule_book", schedule.pk), {"starts_at": starts(), "things": "Tile"}
    )
    assert answer.status_code == 409
    assert "is taken by" in text_of(answer)


def test_a_piece_and_other_work_do_not_share_a_schedule(cast, signed_in, slab):
    schedule = kept(cast, signed_in, is_dammed="on")
    answer = signed_in().post(
        address("schedule_book", schedule.pk),
        {"starts_at": starts(), "piece": slab.pk, "things": "Tile"},
    )
    assert answer.status_code == 422
    assert "A piece is fired alone" in text_of(answer)


def test_what_cannot_be_designed_is_not_kept(cast, signed_in):
    for wrong in ({"height": "9 lengths"}, {"kind": "enamel", "height": "20 mm"}):
        answer = signed_in().post(address("schedule_keep"), asked(cast) | wrong)
        assert address("schedule_designer") in answer["Location"]
        page = signed_in().get(answer["Location"])
        assert page.status_code in (409, 422)
    assert not Schedule.owned.for_studio(cast.studio).exists()


def test_a_load_is_fired_by_a_kept_enamel_schedule(cast, signed_in):
    painted = build.painted(make.piece(studio=cast.studio, glass=cast.glass, layers=3))
    where = {"kiln": cast.kiln.pk}
    page = signed_in().get(address("load_new"), where)
    assert "Fired by" not in text_of(page), "there is nothing to choose"
    schedule = kept(cast, signed_in, "enamel")
    html = (
        signed_in()
        .get(address("load_new"), where | {"schedule": schedule.pk})
        .content.decode()
    )
    assert "standing programme" in html
    assert f'value="{schedule.pk}" id="schedule-2"' in html
    passes = [one.pk for one in painted]
    looked = where | {
        "schedule": "",
        "passes": passes[:1],
        "starts_at": "2031-05-06T07:08",
    }
    html = (
        signed_in()
        .get(address("load_new"), looked, headers={"HX-Request": "true"})
        .content.decode()
    )
    assert 'value="2031-05-06T07:08"' in html, "what was typed stays"
    assert html.count('name="passes"') == len(passes)
    assert html.count("checked") == 2, "one layer, and the standing programme"
    sent = where | {"passes": passes, "starts_at": starts(), "schedule": schedule.pk}
    signed_in().post(address("load_new"), sent)
    firing = Firing.owned.for_studio(cast.studio).get()
    assert firing.schedule == schedule
    standing = schedules.compute_enamel_schedule(
        studio=cast.studio, glass=cast.glass, kiln=cast.kiln, by=None, at=NOW
    )
    again = schedules.compute_enamel_schedule(
        studio=cast.studio, glass=cast.glass, kiln=cast.kiln, by=None, at=NOW
    )
    assert standing == again, "kept ones do not push the standing programme aside"
    assert standing.rule == ScheduleRule.STANDARD


def test_a_load_refuses_an_enamel_schedule_for_other_sheets(cast, signed_in):
    painted = build.painted(make.piece(studio=cast.studio, glass=cast.glass, layers=3))
    thin = kept(cast, signed_in, "enamel", height="2 mm")
    slump = kept(cast, signed_in, "slump")
    other_kiln = make.kiln(studio=cast.studio)
    elsewhere = kept(cast, signed_in, "enamel", kiln=other_kiln.pk)
    for schedule, said in (
        (thin, "thinner sheets"),
        (slump, "no enamel schedule"),
        (elsewhere, "was fitted to"),
    ):
        with pytest.raises(Refused, match=said):
            make_up_enamel_firing(
                studio=cast.studio,
                kiln=cast.kiln,
                passes=painted,
                schedule=schedule,
                starts_at=NOW,
                by=None,
                at=NOW,
            )


def test_another_studios_schedule_is_not_there(cast, strangers, signed_in):
    schedule = kept(cast, signed_in)
    theirs = signed_in("owner", strangers)
    assert theirs.get(address("schedule_book", schedule.pk)).status_code == 404
    assert schedule.name not in text_of(theirs.get(address("schedule_list")))
    forged = asked(cast)
    answer = theirs.post(address("schedule_keep"), forged)
    assert address("schedule_designer") in answer["Location"]
    assert not Schedule.owned.for_studio(strangers.studio).exists()
