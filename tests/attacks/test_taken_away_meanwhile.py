"""What lets somebody in is taken away at the moment they use it: afterwards it is gone."""

import pytest
from django.test import Client as Browser
from django.urls import reverse
from django.utils import timezone

from commissions.models import ShareLink
from commissions.services import sharing
from studio.models import Membership, Piece, SignedIn
from tests.commissions import build
from tests.patience import in_form
from tests.studio.views.pages import address
from tests.threads import at_once

TRIALS = in_form(3, 30)
pytestmark = pytest.mark.django_db(transaction=True)


def sign_in(person):
    browser = Browser()
    sent = {"username": person.email, "password": "a long pass phrase"}
    assert browser.post(address("sign_in"), sent).status_code == 302
    return browser


@pytest.mark.parametrize("trial", range(TRIALS))
def test_a_session_ended_while_it_is_written_does_not_come_back(cast, trial):
    here, there = sign_in(cast.owner), sign_in(cast.owner)
    switch = {"studio": cast.studio.pk}
    ended, used = at_once(
        lambda: here.post(address("devices_end_others")),
        lambda: there.post(address("studio_switch"), switch),
    )
    assert ended.status_code == 302
    assert used.status_code < 500
    assert there.get(address("today")).status_code == 302, "still in"
    assert here.get(address("today")).status_code == 200
    assert SignedIn.objects.filter(person=cast.owner).count() == 1


@pytest.mark.parametrize("trial", range(TRIALS))
def test_a_link_closed_while_its_quote_is_accepted_lets_nobody_in_after(cast, trial):
    quote = build.sent(cast)
    token = build.token(quote.commission)
    link = ShareLink.owned.for_studio(cast.studio).get(commission=quote.commission)
    sent = {"quote": quote.pk, "name": "Perpetua Vane", "accepts": "on"}
    accept = reverse("commissions:shared_quote_accept", args=[token])
    _, answer = at_once(
        lambda: sharing.revoke_share_link(link=link, by=None, at=timezone.now()),
        lambda: Browser().post(accept, sent),
    )
    assert answer.status_code in {302, 410}
    was_accepted = answer.status_code == 302
    assert Piece.across_studios.count() == was_accepted, (
        "what was said is what is stored"
    )
    page = reverse("commissions:shared_page", args=[token])
    assert Browser().get(page).status_code == 410
    assert Browser().post(accept, sent).status_code == 410


@pytest.mark.parametrize("trial", range(TRIALS))
def test_access_ended_while_it_is_used_does_all_or_nothing(cast, trial):
    browser = sign_in(cast.helper)
    theirs = Membership.owned.for_studio(cast.studio).filter(person=cast.helper)
    units = {"temperature_unit": "C", "length_unit": "mm"}
    before = theirs.values_list("temperature_unit", "length_unit").get()
    _, answer = at_once(
        lambda: theirs.update(is_active=False),
        lambda: browser.post(address("my_units"), units),
    )
    assert answer.status_code in {302, 403, 422}
    kept = theirs.values_list("temperature_unit", "length_unit").get()
    assert (kept == before) == (answer.status_code != 302)
    assert not theirs.get().is_active, "saving did not bring the access back"
    assert browser.get(address("today")).status_code == 403
