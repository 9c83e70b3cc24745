"""A neighbour's helper: the owner of one studio who is after the people of another."""

import datetime as dt
import re

import pytest
from django.contrib.auth import SESSION_KEY as SIGNED_IN
from django.test import Client as Browser
from django.utils import timezone

from studio import jobs
from studio.errors import Refused
from studio.models import HistoryEntry, Invitation, Job, Membership, Person
from studio.selectors.invitations import behind_link, token_hash
from studio.services import invitations as services
from studio.services.accounts import password_link
from tests import make
from tests.studio.views.pages import address, text_of
from tests.threads import at_once

PHRASE = "a long pass phrase"
NEW = "eelgrass at the slack of the tide"
JOIN = {"name": "Nia Fell", "new_password1": NEW, "new_password2": NEW}
TOKEN = "x3kHq0bq6uT1Yf2mPp9s-Zr_7vWcLdEaNnGgJjKkQqR"


def link(token=TOKEN):
    return address("invitation_link", token)


def sign_in(email, browser=None, password=PHRASE):
    browser = browser or Browser()
    browser.post(address("sign_in"), {"username": email, "password": password})
    assert SIGNED_IN in browser.session
    return browser


def may_enter(studio, person):
    return Membership.owned.for_studio(studio).filter(person=person).exists()


def invited_link(answer):
    """Return the path of the link that an owner is shown."""
    return re.search(r'value="http://testserver(/invitation/[^"]+)"', text_of(answer))[
        1
    ]


def without_what_is_typed(page, email):
    page = page.replace(email, "ADDRESS")
    page = re.sub(r'(X-CSRFToken": |middlewaretoken" value=)"\w+"', "", page)
    return re.sub(r"/invitation/[\w-]{9,}/|/invitations/\d+/|value=\"\d+\"", "", page)


# --- Nobody is added, seen or let in without their own yes -----------------------------


def test_the_attack_as_it_was(cast, strangers, signed_in):
    """Add the neighbour's helper, see their name, wait until they are off, walk in."""
    helper = strangers.helper
    owner = signed_in("owner")
    owner.post(address("invitation_new"), {"email": helper.email, "role": "helper"})
    assert not may_enter(cast.studio, helper)
    for name in ("settings", "history", "today"):
        assert str(helper) not in text_of(owner.get(address(name)))
    # They do come, and are then switched off at home.
    Membership.across_studios.create(studio=cast.studio, person=helper, role="helper")
    theirs = Membership.owned.for_studio(strangers.studio).filter(person=helper)
    theirs.update(is_active=False)
    here = Membership.owned.for_studio(cast.studio).get(person=helper)
    answer = owner.post(address("member_password", here.pk))
    assert answer.status_code == 409
    assert "/password/new/" not in text_of(answer)
    before = helper.password
    helper.refresh_from_db()
    assert helper.password == before


def test_an_owner_sees_the_same_whoever_has_an_account(cast, strangers, signed_in):
    seen = []
    for email in (strangers.helper.email, "nobody@example.org"):
        owner = signed_in("owner")
        answer = owner.post(
            address("invitation_new"), {"email": email, "role": "helper"}
        )
        assert answer.status_code == 200
        path = invited_link(answer)
        visitor = Browser()
        pages = [
            answer,
            owner.get(address("settings")),
            visitor.get(path, follow=True),
        ]
        seen.append([without_what_is_typed(text_of(page), email) for page in pages])
        Invitation.across_studios.all().delete()
        HistoryEntry.across_studios.all().delete()
    assert seen[0] == seen[1]


def test_where_mail_is_set_the_owner_never_holds_the_link(
    cast, signed_in, settings, mailoutbox
):
    settings.MAIL_IS_SET = True
    sent = {"email": "nia@example.org", "role": "helper"}
    owner = signed_in()
    page = text_of(owner.post(address("invitation_new"), sent, follow=True))
    assert "The invitation to nia@example.org is on its way" in page
    assert jobs.run(Job.across_studios.get().pk, clock=timezone.now) == "done"
    path = re.search(r"http://testserver(/invitation/\S+)", mailoutbox[0].body)[1]
    page = text_of(owner.get(address("settings")))
    assert "Helper, mailed" in page
    assert path not in page
    assert Browser().get(path, follow=True).status_code == 200


def test_forgotten_says_the_same_whoever_has_an_account(cast, settings):
    settings.MAIL_IS_SET = True
    seen = []
    for email in (cast.helper.email, "nobody@example.org"):
        answer = Browser().post(address("password_forgotten"), {"email": email})
        assert answer.status_code == 200
        seen.append(without_what_is_typed(text_of(answer), email))
    assert seen[0] == seen[1]


def test_a_person_is_mailed_once_in_ten_minutes_however_often_somebody_asks(
    cast, settings
):
    settings.MAIL_IS_SET = True
    for _ in range(20):
        Browser().post(address("password_forgotten"), {"email": cast.helper.email})
    job = Job.across_studios.get()
    Job.across_studios.update(
        state="done", created_at=timezone.now() - dt.timedelta(minutes=11)
    )
    Browser().post(address("password_forgotten"), {"email": cast.helper.email})
    assert Job.across_studios.exclude(pk=job.pk).count() == 1


@pytest.mark.parametrize("host", ["kiln.example:6666", "other.example"])
def test_no_request_chooses_where_a_mailed_link_leads(
    cast, signed_in, settings, mailoutbox, host
):
    settings.MAIL_IS_SET, settings.ADDRESS = True, "https://kiln.example"
    settings.ALLOWED_HOSTS = ["kiln.example", "other.example"]
    owner, member = signed_in(), cast.membership("maker").pk
    for browser, url, sent in (
        (Browser(), address("password_forgotten"), {"email": cast.helper.email}),
        (owner, address("member_password", member), {}),
        (owner, address("invitation_new"), {"email": "n@example.org", "role": "maker"}),
    ):
        assert browser.post(url, sent, headers={"host": host}).status_code < 400
    for job in Job.across_studios.all():
        assert jobs.run(job.pk, clock=timezone.now) == "done"
    links = [re.search(r"https?://\S+", letter.body)[0] for letter in mailoutbox]
    assert len(links) == 3
    assert all(found.startswith("https://kiln.example/") for found in links)


def test_without_mail_nobody_is_mailed(cast):
    answer = Browser().post(address("password_forgotten"), {"email": cast.owner.email})
    assert "Ask the owner of your studio" in text_of(answer)
    assert not Job.across_studios.exists()


# --- Links to set a password ------------------------------------------------------------


def test_a_link_kept_by_the_first_owner_does_not_open_the_second_studio(
    cast, strangers, signed_in
):
    """The helper is this studio's alone when the link is made, and joins another."""
    helper = cast.helper
    phone = sign_in(helper.email)
    answer = signed_in("owner").post(
        address("member_password", cast.membership("helper").pk)
    )
    kept = re.search(r'value="http://testserver(/password/new/[^"]+)"', text_of(answer))
    assert "/set-password/" in Browser().get(kept[1])["Location"]
    make.invitation(studio=strangers.studio, email=helper.email, token=TOKEN)
    phone.get(link())
    pk = Invitation.across_studios.get().pk
    phone.post(address("invitation_accept"), {"invitation": pk})
    assert may_enter(strangers.studio, helper)
    assert "no longer works" in text_of(Browser().get(kept[1], follow=True))


def test_a_link_made_while_somebody_joins_is_void_or_refused(cast):
    helper = cast.helper
    before = password_link(helper)
    make.member(studio=cast.studio, role="helper")
    assert Browser().get(before).status_code == 302  # others join: it still works
    other = make.studio(name="Reedmouth")
    Membership.across_studios.create(studio=other, person=helper, role="helper")
    assert Browser().get(before).status_code == 200


@pytest.mark.parametrize(
    "end", [{"role": "owner"}, {"role": "maker", "is_active": "on"}]
)
def test_an_owner_who_is_one_no_longer_leaves_no_way_in_behind(cast, signed_in, end):
    evil = make.member(studio=cast.studio, role="owner", name="Mallory")
    browser = sign_in(evil.email)
    sent = {"email": "second@example.org", "role": "owner"}
    invited = invited_link(browser.post(address("invitation_new"), sent))
    standing = {"email": "nia@example.org", "role": "helper"}
    by_another = invited_link(signed_in().post(address("invitation_new"), standing))
    answer = browser.post(address("member_password", cast.membership("helper").pk))
    kept = re.search(r'value="http://testserver(/password/new/[^"]+)"', text_of(answer))
    assert "/set-password/" in Browser().get(kept[1])["Location"]
    phone = Browser()
    phone.get(invited)
    member = Membership.owned.for_studio(cast.studio).get(person=evil)
    signed_in().post(address("member_edit", member.pk), end)
    assert "No invitation here" in text_of(phone.post(address("invitation_join"), JOIN))
    assert Browser().get(invited, follow=True).status_code == 410
    assert "no longer works" in text_of(Browser().get(kept[1], follow=True))
    assert Browser().get(by_another, follow=True).status_code == 200
    line = HistoryEntry.across_studios.order_by("pk").last()
    assert line.what.endswith(", which withdrew 1 invitation of theirs")


# --- Links of invitations -------------------------------------------------------------


def test_a_scanner_that_opens_the_link_changes_nothing(cast):
    made = make.invitation(studio=cast.studio, token=TOKEN)
    before = Invitation.across_studios.values().get()
    for method in ("get", "head"):
        scanner = Browser()
        answer = getattr(scanner, method)(link())
        assert answer["Location"] == address("invitation")
        assert answer["Referrer-Policy"] == "no-referrer"
        assert "no-store" in answer["Cache-Control"]
        page = scanner.get(address("invitation"))
        assert made.email in text_of(page)
        assert TOKEN not in text_of(page)
        assert "no-store" in page["Cache-Control"]
    for name in ("join", "accept", "decline"):
        assert scanner.get(address(f"invitation_{name}")).status_code == 405
    assert Invitation.across_studios.values().get() == before
    assert not Person.objects.filter(email=made.email).exists()


def test_a_link_is_used_once(cast):
    made = make.invitation(studio=cast.studio, token=TOKEN)
    first, second = Browser(), Browser()
    for browser in (first, second):
        browser.get(link())
    assert first.post(address("invitation_join"), JOIN)["Location"] == address("today")
    assert first.get(address("today")).status_code == 200
    late = second.post(address("invitation_join"), JOIN | {"name": "Mallory"})
    assert "No invitation here" in text_of(late)
    assert Browser().get(link(), follow=True).status_code == 410
    assert Person.objects.get(email=made.email).name == "Nia Fell"


def test_a_link_that_ran_out_opens_nothing(cast):
    make.invitation(studio=cast.studio, token=TOKEN)
    early = Browser()
    early.get(link())
    Invitation.across_studios.update(expires_at=timezone.now())
    assert Browser().get(link(), follow=True).status_code == 410
    assert "No invitation here" in text_of(early.post(address("invitation_join"), JOIN))
    assert Membership.owned.for_studio(cast.studio).count() == 4


@pytest.mark.parametrize("token", ["x", "A" * 43, TOKEN[:-1], TOKEN + "x", "é" * 9])
def test_a_guessed_link_opens_nothing(cast, token):
    make.invitation(studio=cast.studio, token=TOKEN)
    visitor = Browser()
    page = visitor.get(link(token), follow=True)
    assert page.status_code == 410
    assert cast.studio.name not in text_of(page)
    assert "No invitation here" in text_of(
        visitor.post(address("invitation_join"), JOIN)
    )


def test_what_the_database_holds_opens_nothing(cast):
    made = make.invitation(studio=cast.studio, token=TOKEN)
    assert Browser().get(link(made.token_sha256), follow=True).status_code == 410


def test_signed_in_as_somebody_else_the_link_joins_nobody(cast, strangers):
    made = make.invitation(studio=cast.studio, token=TOKEN)
    other = sign_in(strangers.maker.email)
    page = text_of(other.get(link(), follow=True))
    assert f"You are signed in as {strangers.maker.email}" in page
    assert address("invitation_accept") not in page
    answer = other.post(address("invitation_accept"), {"invitation": made.pk})
    assert answer.status_code == 409
    other.post(address("invitation_join"), JOIN)
    assert not may_enter(cast.studio, strangers.maker)
    assert not Person.objects.filter(email=made.email).exists()


def test_a_new_account_has_the_invitations_address_whatever_is_sent(cast):
    made = make.invitation(studio=cast.studio, token=TOKEN)
    browser = Browser()
    browser.get(link())
    sent = JOIN | {"email": "mallory@example.org", "role": "owner", "is_staff": "on"}
    browser.post(address("invitation_join"), sent)
    person = Person.objects.get(email=made.email)
    assert not Person.objects.filter(email="mallory@example.org").exists()
    assert Membership.across_studios.get(person=person).role == "helper"
    assert not person.is_staff


def test_the_link_sets_no_password_of_an_account_that_is_there(cast, strangers):
    make.invitation(studio=cast.studio, email=strangers.helper.email, token=TOKEN)
    thief = Browser()
    thief.get(link())
    answer = thief.post(address("invitation_join"), JOIN)
    assert answer.status_code == 409
    assert 'value="Nia Fell"' in text_of(answer)
    assert NEW not in text_of(answer)
    assert SIGNED_IN not in thief.session
    strangers.helper.refresh_from_db()
    assert strangers.helper.check_password(PHRASE)
    assert not may_enter(cast.studio, strangers.helper)


def test_a_weak_password_does_not_join(cast):
    made = make.invitation(
        studio=cast.studio, email="nia.fell@example.org", token=TOKEN
    )
    browser = Browser()
    browser.get(link())
    for weak in ("short", "password", "20261127"):
        sent = JOIN | {"new_password1": weak, "new_password2": weak}
        assert browser.post(address("invitation_join"), sent).status_code == 422
    assert not Person.objects.filter(email=made.email).exists()


def test_an_account_that_somebody_else_made_with_the_address_waits_for_nothing(
    cast, strangers
):
    """The owner of one studio makes the account; another studio invites the person."""
    make.invitation(studio=cast.studio, email="nia@example.org", token=TOKEN)
    thief = Browser()
    thief.get(link())
    thief.post(address("invitation_join"), JOIN)
    theirs = make.invitation(studio=strangers.studio, email="nia@example.org")
    page = thief.get(address("invitation"))
    assert page.status_code == 410
    assert strangers.studio.name not in text_of(thief.get(address("settings")))
    answer = thief.post(address("invitation_accept"), {"invitation": theirs.pk})
    assert answer.status_code == 409
    with pytest.raises(Refused, match="Open the link"):
        services.accept(
            invitation=theirs,
            person=Person.objects.get(email="nia@example.org"),
            is_by_link=False,
            at=timezone.now(),
        )
    assert not may_enter(strangers.studio, Person.objects.get(email="nia@example.org"))


def test_whose_address_is_shown_to_be_theirs_accepts_without_the_link(cast, strangers):
    helper = cast.helper
    Person.objects.filter(pk=helper.pk).update(email_confirmed_at=make.NOW)
    made = make.invitation(studio=strangers.studio, email=helper.email)
    other = make.invitation(studio=strangers.studio)
    browser = sign_in(helper.email)
    assert "Fernhaven invited you to join" in text_of(browser.get(address("settings")))
    page = text_of(browser.get(address("invitation")))
    assert "Join Fernhaven" in page
    assert other.email not in page
    for action in ("accept", "decline"):
        sent = {"invitation": other.pk}
        assert browser.post(address(f"invitation_{action}"), sent).status_code == 409
    answer = browser.post(address("invitation_accept"), {"invitation": made.pk})
    assert answer["Location"] == address("today")
    assert "<summary>Fernhaven</summary>" in text_of(browser.get(address("today")))
    assert may_enter(strangers.studio, helper)


def test_whoever_has_the_link_signs_in_and_accepts_or_declines(cast, strangers):
    for action in ("accept", "decline"):
        made = make.invitation(
            studio=cast.studio, email=strangers.helper.email, token=f"{TOKEN}{action}"
        )
        browser = Browser()
        page = text_of(browser.get(link(f"{TOKEN}{action}"), follow=True))
        assert f"{address('sign_in')}?next={address('invitation')}" in page
        sign_in(strangers.helper.email, browser)
        assert "Accept" in text_of(browser.get(address("invitation")))
        answer = browser.post(
            address(f"invitation_{action}"), {"invitation": made.pk}, follow=True
        )
        assert answer.status_code == 200
        assert may_enter(cast.studio, strangers.helper) == (action == "accept")
        Membership.owned.for_studio(cast.studio).filter(
            person=strangers.helper
        ).delete()


def test_without_an_account_one_declines(cast):
    made = make.invitation(studio=cast.studio, token=TOKEN)
    browser = Browser()
    browser.get(link())
    answer = browser.post(
        address("invitation_decline"), {"invitation": made.pk}, follow=True
    )
    assert "You declined to join Gullmarsh" in text_of(answer)
    assert Browser().get(link(), follow=True).status_code == 410


def test_only_owners_of_this_studio_touch_its_invitations(cast, strangers, signed_in):
    made = make.invitation(studio=cast.studio, token=TOKEN)
    for name in ("invitation_renew", "invitation_withdraw"):
        url = address(name, made.pk)
        for role in ("maker", "helper", "technician"):
            assert signed_in(role).post(url).status_code == 403
        assert signed_in("owner", strangers).post(url).status_code == 404
        assert signed_in().get(url).status_code == 405
    assert made.email not in text_of(signed_in("helper").get(address("settings")))
    renewed = signed_in().post(address("invitation_renew", made.pk))
    assert Browser().get(link(), follow=True).status_code == 410
    assert Browser().get(invited_link(renewed), follow=True).status_code == 200
    page = text_of(
        signed_in().post(address("invitation_withdraw", made.pk), follow=True)
    )
    assert f"The invitation of {made.email} is withdrawn" in page


def test_the_page_needs_its_own_form(cast):
    strict = Browser(enforce_csrf_checks=True)
    make.invitation(studio=cast.studio, token=TOKEN)
    strict.get(link())
    for name in ("join", "accept", "decline"):
        assert strict.post(address(f"invitation_{name}"), JOIN).status_code == 403


# --- At the same moment ---------------------------------------------------------------


def accepted(made, person):
    return lambda: services.accept(
        invitation=made, person=person, is_by_link=True, at=timezone.now()
    )


def joined(made, name):
    return lambda: services.accept_as_new(
        invitation=made, name=name, password=NEW, at=timezone.now()
    )


@pytest.mark.django_db(transaction=True)
def test_of_two_who_join_by_one_link_at_once_one_is_in(cast):
    made = make.invitation(studio=cast.studio, token=TOKEN)
    ends = at_once(joined(made, "First"), joined(made, "Second"))
    assert sorted(type(end).__name__ for end in ends) == ["Membership", "Refused"]
    assert Person.objects.filter(email=made.email).count() == 1
    assert Membership.owned.for_studio(cast.studio).count() == 5


@pytest.mark.django_db(transaction=True)
def test_two_studios_taken_up_at_once_make_one_account(cast, strangers):
    email = "nia@example.org"
    here = make.invitation(studio=cast.studio, email=email)
    there = make.invitation(studio=strangers.studio, email=email)
    ends = at_once(joined(here, "First"), joined(there, "Second"))
    assert sorted(type(end).__name__ for end in ends) == ["Membership", "Refused"]
    assert Person.objects.filter(email=email).count() == 1


@pytest.mark.django_db(transaction=True)
def test_accepted_twice_at_once_is_accepted_once(cast, strangers):
    made = make.invitation(studio=cast.studio, email=strangers.helper.email)
    act = accepted(made, strangers.helper)
    ends = at_once(act, act)
    assert sorted(type(end).__name__ for end in ends) == ["Membership", "Refused"]
    assert may_enter(cast.studio, strangers.helper)


@pytest.mark.django_db(transaction=True)
def test_accepted_and_withdrawn_at_once_is_one_of_both(cast, strangers):
    made = make.invitation(studio=cast.studio, email=strangers.helper.email)
    at_once(
        accepted(made, strangers.helper),
        lambda: services.withdraw(invitation=made, by=cast.owner, at=timezone.now()),
    )
    made.refresh_from_db()
    assert (made.accepted_at is None) != (made.withdrawn_at is None)
    assert may_enter(cast.studio, strangers.helper) == (made.withdrawn_at is None)


@pytest.mark.django_db(transaction=True)
def test_a_link_renewed_while_it_is_accepted_lets_nobody_in_twice(cast, strangers):
    make.invitation(studio=cast.studio, email=strangers.helper.email, token=TOKEN)
    read = behind_link(token_hash(TOKEN), at=timezone.now())
    ends = at_once(
        accepted(read, strangers.helper),
        lambda: services.make_new_link(
            invitation=read, by=cast.owner, at=timezone.now(), origin="http://x"
        ),
    )
    assert sum(isinstance(end, Refused) for end in ends) == 1
    assert may_enter(cast.studio, strangers.helper) == isinstance(ends[1], Refused)
