"""Invitations: made, mailed, withdrawn, answered, forgotten."""

import datetime as dt

import pytest
from django.utils import timezone

from studio import jobs
from studio.errors import Refused
from studio.models import HistoryEntry, Invitation, Job, JobState, Membership, Person
from studio.selectors import invitations as reads
from studio.services import invitations as services
from tests import make
from tests.cast import NOW

ORIGIN = "https://kiln.example"
PHRASE = "eelgrass at the slack of the tide"


def invite(cast, email="New@Example.org ", role="helper", at=NOW):
    return services.invite(
        studio=cast.studio, email=email, role=role, by=cast.owner, at=at, origin=ORIGIN
    )


def told():
    return list(
        HistoryEntry.across_studios.order_by("pk").values_list("what", flat=True)
    )


def found(invited, at=NOW):
    return reads.behind_link(reads.token_hash(invited.token), at=at)


def test_only_a_hash_of_the_token_is_stored_and_the_history_names_no_address(cast):
    invited = invite(cast)
    assert found(invited) == invited.invitation
    assert invited.token not in str(Invitation.across_studios.values().get())
    assert invited.invitation.email == "new@example.org"
    assert told() == ["Invited somebody as helper"]


def test_somebody_new_joins_with_their_own_name_and_password(cast):
    invited = invite(cast, role="technician")
    joined = services.accept_as_new(
        invitation=found(invited), name="Nia Fell", password=PHRASE, at=NOW
    )
    person = Person.objects.get(email="new@example.org")
    assert joined.person == person
    assert person.check_password(PHRASE)
    assert joined.role == "technician"
    assert joined.temperature_unit == cast.studio.temperature_unit
    # The owner handed the link over, so nothing shows whose the address is.
    assert person.email_confirmed_at is None
    assert told()[-1] == "Nia Fell accepted the invitation and is now technician"
    assert found(invited) is None


def test_somebody_with_an_account_keeps_name_and_password(cast, strangers):
    before = strangers.helper.password
    invited = invite(cast, strangers.helper.email)
    services.accept(
        invitation=found(invited), person=strangers.helper, is_by_link=True, at=NOW
    )
    strangers.helper.refresh_from_db()
    assert strangers.helper.password == before
    assert strangers.helper.name == "Fernhaven Helper"
    assert Membership.owned.for_studio(cast.studio).filter(person=strangers.helper)


def test_a_member_is_not_invited_again(cast):
    with pytest.raises(Refused, match="belongs to this studio already"):
        invite(cast, cast.helper.email.upper())
    assert not Invitation.across_studios.exists()


def test_inviting_again_replaces_part_and_link(cast):
    first = invite(cast)
    second = invite(cast, role="maker", at=NOW + dt.timedelta(days=9))
    assert found(first) is None
    assert found(second, at=NOW + dt.timedelta(days=15)).role == "maker"
    assert Invitation.across_studios.count() == 1


def test_a_new_link_ends_the_one_before(cast):
    first = invite(cast)
    read_before = found(first)
    second = services.make_new_link(
        invitation=first.invitation, by=cast.owner, at=NOW, origin=ORIGIN
    )
    assert found(first) is None
    assert found(second) == first.invitation
    with pytest.raises(Refused, match="no longer works"):
        services.decline(invitation=read_before, at=NOW)


def test_what_was_withdrawn_or_declined_is_over(cast):
    withdrawn, declined = invite(cast), invite(cast, "other@example.org")
    services.withdraw(invitation=withdrawn.invitation, by=cast.owner, at=NOW)
    services.decline(invitation=declined.invitation, at=NOW)
    for one, why in ((withdrawn, "withdrawn"), (declined, "answered already")):
        assert found(one) is None
        with pytest.raises(Refused, match=why):
            services.accept_as_new(
                invitation=one.invitation, name="Nia", password=PHRASE, at=NOW
            )
        with pytest.raises(Refused, match=why):
            services.withdraw(invitation=one.invitation, by=cast.owner, at=NOW)
    assert not reads.unanswered(cast.studio)
    assert told()[2:] == ["Withdrew an invitation", "An invitation was declined"]
    # The address may be invited once more.
    assert found(invite(cast)) is not None


def test_a_studio_invites_no_crowd_in_a_day(cast, monkeypatch):
    monkeypatch.setattr(services, "MOST_A_DAY", 3)
    for number in range(3):
        made = invite(cast, f"guest{number}@example.org")
        services.withdraw(invitation=made.invitation, by=cast.owner, at=NOW)
    with pytest.raises(Refused, match="within a day"):
        invite(cast)
    assert invite(cast, at=NOW + dt.timedelta(days=1, minutes=1))


def test_a_mailed_link_shows_whose_the_address_is(cast, settings, mailoutbox):
    settings.MAIL_IS_SET = True
    invited = invite(cast)
    assert invited.token == ""
    job = Job.across_studios.get(name=services.INVITATION_JOB)
    assert jobs.run(job.pk, clock=timezone.now) == "done"
    (letter,) = mailoutbox
    assert letter.to == ["new@example.org"]
    assert letter.subject == "Join Gullmarsh on Slowcool"
    token = letter.body.split(f"{ORIGIN}/invitation/")[1].split("/")[0]
    assert token not in str(list(Job.across_studios.values()))
    invitation = reads.behind_link(reads.token_hash(token), at=NOW)
    assert invitation.mailed_at is not None
    joined = services.accept_as_new(
        invitation=invitation, name="Nia", password=PHRASE, at=NOW
    )
    assert joined.person.email_confirmed_at == NOW


def test_nobody_is_mailed_again_and_again(cast, settings, mailoutbox):
    settings.MAIL_IS_SET = True
    now = timezone.now()

    def renewed(*, at):
        services.make_new_link(
            invitation=invited.invitation, by=cast.owner, at=at, origin=ORIGIN
        )

    def run_all():
        for job in Job.across_studios.filter(state=JobState.WAITING):
            assert jobs.run(job.pk, clock=timezone.now) == "done"

    invited = invite(cast, at=now)
    # What waits is sent once.
    renewed(at=now)
    run_all()
    assert len(mailoutbox) == 1
    with pytest.raises(Refused, match="Wait 10 minutes"):
        renewed(at=now)
    with pytest.raises(Refused, match="Wait 10 minutes"):
        invite(cast, at=now)
    renewed(at=now + services.MAILED_EVERY * 2)
    run_all()
    assert len(mailoutbox) == 2
    # What is handed over bothers nobody.
    settings.MAIL_IS_SET = False
    renewed(at=timezone.now())


def test_a_studios_name_ends_no_header(cast, settings, mailoutbox):
    settings.MAIL_IS_SET = True
    cast.studio.name = "Gullmarsh\nBcc: everybody@example.org"
    cast.studio.save()
    invited = invite(cast)
    services.mail_link(invitation=invited.invitation, origin=ORIGIN, at=NOW)
    assert mailoutbox[0].recipients() == ["new@example.org"]
    assert "\n" not in mailoutbox[0].subject


def test_nothing_is_mailed_for_what_was_withdrawn_meanwhile(cast, settings, mailoutbox):
    settings.MAIL_IS_SET = True
    invited = invite(cast)
    services.withdraw(invitation=invited.invitation, by=cast.owner, at=NOW)
    job = Job.across_studios.get(name=services.INVITATION_JOB)
    assert jobs.run(job.pk, clock=timezone.now) == "done"
    assert mailoutbox == []


def test_addresses_of_those_who_never_came_are_forgotten(cast):
    made = make.invitation(studio=cast.studio)
    later = made.expires_at + services.KEPT_FOR
    assert services.forget_invitations(later) == 0
    assert services.forget_invitations(later + dt.timedelta(seconds=1)) == 1
