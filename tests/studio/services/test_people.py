"""People: given another role, let back in; a studio keeps an owner."""

import pytest
from django.utils import timezone

from studio import jobs
from studio.errors import Refused
from studio.models import HistoryEntry, Job, Membership, Person
from studio.selectors import people
from studio.services import people as services
from tests.cast import NOW


def take_in(cast, person, role="helper"):
    return Membership.across_studios.create(
        studio=cast.studio, person=person, role=role
    )


def change(cast, who, role=None, *, is_active=True):
    member = cast.membership(who)
    services.change_member(
        membership=member,
        role=role or member.role,
        is_active=is_active,
        by=cast.owner,
        at=NOW,
    )


def test_a_part_is_changed_and_access_ended_and_restored(cast):
    change(cast, "helper", "maker")
    assert people.membership_of(cast.helper, None).role == "maker"
    member = Membership.owned.for_studio(cast.studio).get(person=cast.helper)
    for is_active in (False, True):
        services.change_member(
            membership=member, role="maker", is_active=is_active, by=None, at=NOW
        )
        assert (people.membership_of(cast.helper, None) is not None) is is_active
    told = HistoryEntry.across_studios.order_by("pk").values_list("what", flat=True)
    assert [line.removeprefix("Gullmarsh Helper ") for line in told] == [
        "is now maker",
        "may no longer sign in",
        "may sign in again",
    ]


def test_nothing_changed_tells_nothing(cast):
    change(cast, "helper")
    assert not HistoryEntry.across_studios.exists()


@pytest.mark.parametrize(
    "said", [{"role": "maker"}, {"is_active": False}, {"role": "technician"}]
)
def test_the_last_owner_stays(cast, said):
    with pytest.raises(Refused, match="is the only owner"):
        change(cast, "owner", **said)
    assert cast.membership("owner").is_active


def test_an_owner_may_go_once_there_is_another(cast):
    change(cast, "maker", "owner")
    change(cast, "owner", is_active=False)
    assert people.membership_of(cast.owner, None) is None


def test_an_owner_who_may_not_sign_in_does_not_count(cast):
    other = take_in(
        cast, Person.objects.create_user("new@example.org", "x", name="Nia"), "owner"
    )
    services.change_member(
        membership=other, role="owner", is_active=False, by=None, at=NOW
    )
    with pytest.raises(Refused, match="is the only owner"):
        change(cast, "owner", "maker")


def test_another_studios_owner_does_not_count(cast, strangers):
    with pytest.raises(Refused, match="is the only owner"):
        change(cast, "owner", "maker")


def link_for(cast, member, by=None):
    return services.give_password_link(
        membership=member, by=by or cast.owner, at=NOW, origin="https://kiln.example"
    )


def test_a_forgotten_password_is_set_by_a_link_and_stays_until_then(cast, client):
    link = link_for(cast, cast.membership("helper"))
    cast.helper.refresh_from_db()
    assert cast.helper.check_password("a long pass phrase")
    assert client.get(link).status_code == 302
    line = HistoryEntry.across_studios.get()
    assert line.what == "Made a link by which Gullmarsh Helper sets a new password"
    assert link not in line.what


def test_nobody_makes_a_link_for_themselves(cast):
    # Else whoever finds an owner's tablet would need no old password.
    with pytest.raises(Refused, match="with the old one"):
        link_for(cast, cast.membership("owner"))


def test_whoever_may_do_more_than_this_studio_asks_who_runs_the_server(cast):
    Person.objects.filter(pk=cast.helper.pk).update(is_superuser=True)
    with pytest.raises(Refused, match="Only whoever runs the server"):
        link_for(cast, cast.membership("helper"))


def test_where_mail_is_set_the_link_is_mailed_and_not_shown(
    cast, strangers, settings, mailoutbox
):
    settings.MAIL_IS_SET = True
    member = take_in(cast, strangers.helper)
    assert link_for(cast, member) == ""
    job = Job.across_studios.get()
    assert jobs.run(job.pk, clock=timezone.now) == "done"
    (letter,) = mailoutbox
    assert letter.to == [strangers.helper.email]
    assert "https://kiln.example/password/new/" in letter.body
    # Nobody is told of a letter that is not sent.
    told = HistoryEntry.across_studios.count()
    with pytest.raises(Refused, match="only minutes ago"):
        services.give_password_link(
            membership=member, by=cast.owner, at=timezone.now(), origin=""
        )
    assert HistoryEntry.across_studios.count() == told


def test_at_home_is_the_studio_one_chose_else_the_first_one_joined(cast, strangers):
    second = take_in(strangers, cast.maker)
    person = cast.maker
    # Fernhaven would come first by name.
    assert people.membership_of(person, None).studio == cast.studio
    assert people.membership_of(person, strangers.studio.pk) == second
    assert people.membership_of(person, 999_999).studio == cast.studio
    services.choose_home(membership=second)
    person.refresh_from_db()
    assert people.membership_of(person, None) == second
    Membership.across_studios.filter(pk=second.pk).update(is_active=False)
    assert people.membership_of(person, None).studio == cast.studio
    strangers.studio.delete()
    person.refresh_from_db()
    assert person.home is None


def test_people_of_a_studio_are_those_who_may_sign_in(cast, strangers):
    change(cast, "helper", is_active=False)
    assert set(people.people_of(cast.studio)) == {
        cast.owner,
        cast.maker,
        cast.technician,
    }


def test_addresses_are_kept_in_lower_case_and_found_in_any(db):
    made = Person.objects.create_user(" Tove@Example.ORG", "x", name="Tove Marsh")
    assert made.email == "tove@example.org"
    assert Person.objects.get_by_natural_key("TOVE@example.org") == made
    assert made.get_full_name() == "Tove Marsh"
    assert str(Person(email="a@example.org")) == "a@example.org"
