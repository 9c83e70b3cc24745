"""Calendar feeds, read back by another library than the one that writes them."""

import datetime as dt

import pytest
import vobject
from django.utils import timezone

from firing.kiln_time.selectors.feeds import token_of
from firing.kiln_time.services import bookings
from firing.kiln_time.services.feeds import make_feed
from firing.models import CalendarLink, Plan, PlannedWork
from studio.models import DaysAway, HistoryEntry, Membership
from tests import make
from tests.firing import build

HOUR, DAY = dt.timedelta(hours=1), dt.timedelta(days=1)


@pytest.fixture
def now():
    return timezone.now().replace(microsecond=0)


def link_to(cast, kind="studio", *, kiln=None, role="maker"):
    return make_feed(
        studio=cast.studio,
        person=cast.person(role),
        kind=kind,
        kiln=kiln,
        at=timezone.now(),
    )


def read(client, link, **headers):
    answer = client.get(f"/calendar/{token_of(link)}/", headers=headers)
    assert answer.status_code == 200
    assert answer["Content-Type"].startswith("text/calendar")
    return vobject.readOne(answer.content.decode())


def events(calendar):
    return {one.summary.value: one for one in getattr(calendar, "vevent_list", [])}


class TestFile:
    def test_has_what_the_standards_want(self, cast, client, now):
        build.booking(kiln=cast.kiln, starts_at=now + DAY)
        calendar = read(client, link_to(cast))
        # RFC 5545, section 3.6, and RFC 7986, section 5.
        assert calendar.version.value == "2.0"
        assert calendar.prodid.value
        assert calendar.contents["name"][0].value == "Gullmarsh: The whole studio"
        assert calendar.contents["refresh-interval"][0].value == "PT30M"
        assert calendar.contents["source"][0].value.startswith("http://testserver/")
        event = events(calendar)["Rental"]
        for name in ("uid", "dtstamp", "sequence", "last-modified", "status", "url"):
            assert event.contents[name], name

    def test_lines_end_and_fold_as_the_standard_wants(self, cast, client, now):
        build.booking(kiln=cast.kiln, starts_at=now + DAY, title="Ö" * 150)
        told = client.get(f"/calendar/{token_of(link_to(cast))}/").content
        # RFC 5545, section 3.1: CRLF, and at most 75 octets a line.
        assert told.endswith(b"\r\n")
        assert b"\n" not in told.replace(b"\r\n", b"")
        assert max(len(line) for line in told.split(b"\r\n")) <= 75
        assert "Ö" * 150 in events(vobject.readOne(told.decode()))

    def test_says_instants_in_utc_and_days_as_days(self, cast, client, now):
        build.booking(kiln=cast.kiln, starts_at=now + DAY, hours=5)
        piece = make.piece(studio=cast.studio, glass=cast.glass, title="Ebb")
        make.promised(piece, now.date() + 9 * DAY)
        found = events(read(client, link_to(cast)))
        assert found["Rental"].dtstart.value == now + DAY
        assert found["Rental"].dtend.value == now + DAY + 5 * HOUR
        promised = found["Ebb is promised"]
        assert promised.dtstart.value == now.date() + 9 * DAY
        assert promised.dtend.value == now.date() + 10 * DAY
        assert promised.transp.value == "TRANSPARENT"


class TestChanges:
    @pytest.fixture
    def booked(self, cast, now):
        return build.booking(kiln=cast.kiln, starts_at=now + DAY)

    def test_keep_the_identifier_and_raise_the_sequence(
        self, cast, client, booked, now
    ):
        link = link_to(cast)
        before = events(read(client, link))["Rental"]
        bookings.cancel_booking(booking=booked, reason="ill", by=None, at=now)
        after = events(read(client, link))["Rental"]
        assert after.uid.value == before.uid.value
        assert int(after.sequence.value) > int(before.sequence.value)
        assert after.status.value == "CANCELLED"
        assert before.status.value == "CONFIRMED"
        assert after.contents["last-modified"][0].value >= before.dtstamp.value

    def test_a_cancelled_booking_goes_after_a_month(self, cast, client, booked, now):
        bookings.cancel_booking(
            booking=booked, reason="ill", by=None, at=now - 31 * DAY
        )
        assert events(read(client, link_to(cast))) == {}

    def test_a_promised_day_that_moves_keeps_its_identifier(self, cast, client, now):
        piece = make.piece(studio=cast.studio, glass=cast.glass, title="Ebb")
        make.promised(piece, now.date() + 9 * DAY)
        link = link_to(cast)
        before = events(read(client, link))["Ebb is promised"]
        make.promised(piece, now.date() + 12 * DAY)
        HistoryEntry.across_studios.create(
            studio=cast.studio, piece=piece, at=now, what="Promised for another day"
        )
        after = events(read(client, link))["Ebb is promised"]
        assert after.uid.value == before.uid.value
        assert int(after.sequence.value) > int(before.sequence.value)

    def test_none_is_no_new_file(self, cast, client, booked):
        link = link_to(cast)
        address = f"/calendar/{token_of(link)}/"
        first = client.get(address)
        mark = f'"other", {first["ETag"]}'
        again = client.get(address, headers={"If-None-Match": mark})
        assert (again.status_code, again.content) == (304, b"")
        assert client.get(address).content == first.content


class TestKinds:
    def test_a_kilns_has_only_that_kiln(self, cast, client, now):
        other = make.kiln(studio=cast.studio, name="Other")
        build.booking(kiln=cast.kiln, starts_at=now + DAY, title="Mine")
        build.booking(kiln=other, starts_at=now + DAY, title="Theirs")
        found = events(read(client, link_to(cast, "kiln", kiln=cast.kiln)))
        assert set(found) == {"Mine"}
        assert found["Mine"].location.value == str(cast.kiln)

    def test_planned_work_that_a_new_plan_moves_keeps_its_identifier(
        self, cast, client, now
    ):
        piece = make.piece(studio=cast.studio, glass=cast.glass, title="Reed bed")
        link, seen = link_to(cast, "person"), []
        for number in (1, 2):
            Plan.across_studios.filter(state="accepted").update(state="superseded")
            plan = Plan.across_studios.create(
                studio=cast.studio,
                number=number,
                state="accepted",
                asked_at=now,
                closed_at=now + number * HOUR,
            )
            PlannedWork.across_studios.create(
                studio=cast.studio,
                plan=plan,
                person=cast.maker,
                piece=piece,
                task="assembly",
                starts_at=now + number * DAY,
                ends_at=now + number * DAY + HOUR,
            )
            (one,) = events(read(client, link)).values()
            seen.append(one)
        before, after = seen
        assert before.uid.value == after.uid.value
        assert int(after.sequence.value) > int(before.sequence.value)
        assert after.last_modified.value > before.last_modified.value
        assert after.dtstart.value - before.dtstart.value == DAY

    def test_a_persons_has_their_days_away_and_promises(self, cast, client, now):
        for role in ("maker", "helper"):
            DaysAway.across_studios.create(
                studio=cast.studio,
                membership=cast.membership(role),
                starts_date=now.date() + DAY,
                ends_date=now.date() + 3 * DAY,
            )
        build.booking(kiln=cast.kiln, starts_at=now + DAY)
        found = events(read(client, link_to(cast, "person")))
        (away,) = found.values()
        assert away.summary.value == f"{cast.maker} is away"
        assert away.dtend.value - away.dtstart.value == 3 * DAY


class TestLink:
    def test_is_made_shown_and_taken_away_by_its_person(self, cast, signed_in, client):
        maker = signed_in("maker")
        maker.post("/kilns/calendar/", {"what": f"kiln {cast.kiln.pk}"})
        link = CalendarLink.across_studios.get()
        address = f"/calendar/{token_of(link)}/"
        assert address in maker.get("/kilns/calendar/").content.decode()
        assert (
            address not in signed_in("owner").get("/kilns/calendar/").content.decode()
        )
        remove = f"/kilns/calendar/{link.pk}/remove/"
        assert signed_in("owner").post(remove).status_code == 404
        maker.post(remove)
        assert client.get(address).status_code == 404

    def test_opens_nothing_once_its_person_has_left(self, cast, client):
        link = link_to(cast)
        Membership.across_studios.filter(person=cast.maker).update(is_active=False)
        assert client.get(f"/calendar/{token_of(link)}/").status_code == 404

    @pytest.mark.parametrize("change", ["x", "é", ""])
    def test_that_is_forged_opens_nothing(self, cast, client, change):
        token = token_of(link_to(cast))[:-1] + change
        assert client.get(f"/calendar/{token}/").status_code == 404

    def test_has_no_money_and_no_client_in_it(self, demo, client):
        person = Membership.owned.for_studio(demo).first().person
        link = make_feed(
            studio=demo, person=person, kind="studio", kiln=None, at=timezone.now()
        )
        told = client.get(f"/calendar/{token_of(link)}/").content.decode()
        assert "BEGIN:VEVENT" in told
        assert "$" not in told

    def test_asks_as_often_however_much_there_is(
        self, cast, client, now, django_assert_max_num_queries
    ):
        link = link_to(cast)
        for number in range(12):
            build.booking(
                kiln=cast.kiln, starts_at=now + number * DAY, title=f"Rental {number}"
            )
        with django_assert_max_num_queries(9):
            assert len(events(read(client, link))) == 12
