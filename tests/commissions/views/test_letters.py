"""Letters to clients: written and sent when their maker says so, and once."""

import pytest

from commissions.models import ClientLetter
from studio.models import Delivery, HistoryEntry, Message, StoppedAddress
from tests.cast import NOW
from tests.commissions import build
from tests.worker import run_waiting_jobs

pytestmark = pytest.mark.django_db


@pytest.fixture
def client_(cast):
    return build.client(cast, email="vane@example.org")


def letter(**changes):
    return {
        "to": "vane@example.org",
        "subject": "Your quote",
        "text": "Dear Perpetua, here it is.",
    } | changes


def test_the_quotes_letter_begins_with_words_and_its_link(cast, client_, signed_in):
    commission = build.commission(cast, client=client_)
    quote = build.sent(cast, of=commission)
    page = signed_in("owner").get(f"/quotes/{quote.pk}/letter/")
    told = page.content.decode()
    assert "vane@example.org" in told
    assert "/c/" in told
    assert "Your quote" in told


def test_a_letter_without_its_paper_says_so_and_with_it_offers_it(
    cast, client_, signed_in
):
    quote = build.sent(cast, of=build.commission(cast, client=client_))
    owner, address = signed_in("owner"), f"/quotes/{quote.pk}/letter/"
    without = owner.get(address).content.decode()
    assert "The letter goes without it" in without
    assert "Attach" not in without
    run_waiting_jobs()
    ready = owner.get(address).content.decode()
    assert "The letter goes without it" not in ready
    assert "Attach “" in ready


def test_nothing_is_sent_before_send_is_pressed_and_then_once(cast, client_, signed_in):
    owner = signed_in("owner")
    address = f"/commissions/clients/{client_.pk}/letter/"
    owner.get(address)
    assert not Delivery.across_studios.exists()
    for _ in range(2):
        assert owner.post(address, letter()).status_code == 302
    sent = Delivery.across_studios.get()
    assert (sent.to, sent.text) == ("vane@example.org", "Dear Perpetua, here it is.")
    assert "/messages/letters/stop/" in sent.stop_path
    page = owner.get(f"/commissions/clients/{client_.pk}/").content.decode()
    assert "Your quote" in page
    assert HistoryEntry.across_studios.filter(what__contains="Wrote to").count() == 1


def test_a_letter_that_failed_is_sent_anew(cast, client_, signed_in):
    owner = signed_in("owner")
    address = f"/commissions/clients/{client_.pk}/letter/"
    owner.post(address, letter())
    Delivery.across_studios.update(state="failed", problem="no such user")
    owner.post(address, letter())
    assert Delivery.across_studios.filter(state="waiting").count() == 1


def test_news_say_where_the_piece_is(cast, client_, signed_in):
    commission = build.commission(cast, client=client_)
    told = signed_in("owner").get(f"/commissions/{commission.pk}/letter/")
    assert commission.title in told.content.decode()


def test_an_address_that_wants_no_letters_is_told_and_the_words_stay(
    cast, client_, signed_in
):
    StoppedAddress.across_studios.create(
        studio=cast.studio, address="vane@example.org", at=NOW
    )
    answer = signed_in("owner").post(
        f"/commissions/clients/{client_.pk}/letter/", letter()
    )
    assert answer.status_code == 409
    told = answer.content.decode()
    assert "no more letters" in told
    assert "Dear Perpetua, here it is." in told
    assert not ClientLetter.across_studios.exists()


def test_a_wrong_address_is_refused(client_, signed_in):
    answer = signed_in("owner").post(
        f"/commissions/clients/{client_.pk}/letter/", letter(to="vane at home")
    )
    assert answer.status_code == 422


def test_helpers_write_to_nobody(client_, signed_in):
    answer = signed_in("helper").get(f"/commissions/clients/{client_.pk}/letter/")
    assert answer.status_code == 403


def test_what_the_client_answers_is_told_once_to_who_sees_money(cast, client):
    quote = build.sent(cast)
    token = build.token(quote.commission)
    given = {"name": "Perpetua Vane", "quote": quote.pk, "accepts": "on"}
    for _ in range(2):
        client.post(f"/c/{token}/accept/", given)
    quote.refresh_from_db()
    assert quote.accepted_at is not None
    told = Message.across_studios.filter(topic="clients")
    assert {one.person for one in told} == {cast.owner, cast.maker}
    assert told.first().title == f"Perpetua Vane accepted {quote.name}"
