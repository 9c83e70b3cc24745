"""People: added, given another role, let back in; a studio keeps an owner."""

import pytest

from studio.errors import Refused
from studio.models import HistoryEntry, Membership, Person
from studio.selectors import people
from studio.services import people as services
from tests.cast import NOW


def add(cast, email="New@Example.org ", name="Nia Fell", role="helper"):
    return services.add_member(
        studio=cast.studio, email=email, name=name, role=role, by=cast.owner, at=NOW
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


def test_somebody_whom_another_studio_takes_in_at_that_moment_keeps_that_account(
    cast, monkeypatch
):
    def meanwhile():
        Person.objects.create_user("new@example.org", "theirs", name="Nia Fell")
        return "never told"

    monkeypatch.setattr(services, "make_password", meanwhile)
    made = add(cast)
    assert made.password == ""
    assert made.membership.person == Person.objects.get(email="new@example.org")
    assert made.membership.person.check_password("theirs")


def test_a_new_person_gets_an_account_the_studios_units_and_a_password(cast):
    made = add(cast)
    person = Person.objects.get(email="new@example.org")
    assert person.check_password(made.password)
    assert made.membership.role == "helper"
    assert made.membership.temperature_unit == cast.studio.temperature_unit
    line = HistoryEntry.across_studios.get()
    assert line.what == "Added Nia Fell as helper"
    assert made.password not in line.what


def test_passwords_are_long_and_never_the_same():
    made = {services.make_password() for _ in range(200)}
    assert len(made) == 200
    assert all(len(password) == 19 for password in made)


def test_somebody_from_another_studio_keeps_name_and_password(cast, strangers):
    before = strangers.helper.password
    made = add(cast, email=strangers.helper.email, name="Somebody Else")
    strangers.helper.refresh_from_db()
    assert made.password == ""
    assert strangers.helper.password == before
    assert strangers.helper.name == "Fernhaven Helper"
    assert people.membership_of(strangers.helper, cast.studio.pk) == made.membership


def test_nobody_is_added_twice(cast):
    with pytest.raises(Refused, match="belongs to this studio already"):
        add(cast, email=cast.helper.email.upper())
    assert Membership.owned.for_studio(cast.studio).count() == 4


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
    other = add(cast, role="owner").membership
    services.change_member(
        membership=other, role="owner", is_active=False, by=None, at=NOW
    )
    with pytest.raises(Refused, match="is the only owner"):
        change(cast, "owner", "maker")


def test_another_studios_owner_does_not_count(cast, strangers):
    with pytest.raises(Refused, match="is the only owner"):
        change(cast, "owner", "maker")


def test_a_forgotten_password_is_replaced(cast):
    password = services.give_new_password(
        membership=cast.membership("helper"), by=cast.owner, at=NOW
    )
    cast.helper.refresh_from_db()
    assert cast.helper.check_password(password)


def test_an_owner_opens_no_door_to_another_studio(cast, strangers):
    add(cast, email=strangers.owner.email)
    member = Membership.owned.for_studio(cast.studio).get(person=strangers.owner)
    with pytest.raises(Refused, match="also signs in elsewhere"):
        services.give_new_password(membership=member, by=cast.owner, at=NOW)
    strangers.owner.refresh_from_db()
    assert strangers.owner.check_password("a long pass phrase")


def test_the_studio_that_was_opened_wins_else_the_first_by_name(cast, strangers):
    add(cast, email=strangers.owner.email)
    assert people.membership_of(strangers.owner, None).studio == strangers.studio
    assert people.membership_of(strangers.owner, cast.studio.pk).studio == cast.studio
    assert people.membership_of(strangers.owner, 999_999).studio == strangers.studio


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
