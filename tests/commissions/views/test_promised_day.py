"""The promised day on the pages; forms sent twice; what is done; tax and PDF."""

from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal
from threading import Barrier

import pytest
from django.db import connection
from django.urls import reverse
from django.utils import timezone

from commissions.models import Commission, PromiseCheck, Quote
from commissions.selectors import commissions
from commissions.services import intake, payments
from studio.models import Job, JobState
from studio.services import pieces as piece_services
from tests import make
from tests.commissions import build
from tests.commissions.services.test_promises import broken, change, run_checks
from tests.commissions.views.test_commissions import NEW, typed
from tests.commissions.views.test_quotes import HTMX, body_of, new
from tests.patience import LONG_S

LIST = reverse("commissions:commission_list")


def at(name, commission):
    return reverse(f"commissions:{name}", args=[commission.pk])


def text_of(answer):
    return answer.content.decode()


# --- The day --------------------------------------------------------------------------


def test_a_day_that_no_longer_holds_is_on_the_commission_and_on_today(cast, signed_in):
    quote = broken(cast)
    browser = signed_in("maker")
    detail = at("commission_detail", quote.commission)
    assert "is being worked out again" in text_of(browser.get(detail))
    run_checks(cast.studio)
    page = text_of(browser.get(detail))
    for told in (
        "Cannot be kept",
        "Since the quote was made",
        "was booked",
        "What you can do",
        "Save the agreed day",
        "The client sees none of this",
    ):
        assert told in page
    assert "can be promised for" in text_of(browser.get(reverse("studio:today")))
    assert "can be promised for" not in text_of(
        signed_in("helper").get(reverse("studio:today"))
    )


def test_the_agreed_day_is_written_down_and_kept_when_wrong(cast, signed_in):
    quote = broken(cast)
    browser = signed_in("maker")
    address = at("commission_agree_day", quote.commission)
    for day, status in (("2001-01-01", 409), ("soon", 422), ("", 422)):
        answer = browser.post(address, {"day": day})
        assert answer.status_code == status
        assert day in text_of(answer)
    answer = browser.post(address, {"day": f"{build.day(150)}"})
    assert answer.status_code == 302
    assert Quote.across_studios.get(pk=quote.pk).agreed_date == build.day(150)


def test_it_is_worked_out_again_on_request(cast, signed_in):
    quote = build.sent(cast, promised_date=build.day(200))
    run_checks(cast.studio)
    browser = signed_in("maker")
    page = text_of(browser.get(at("commission_detail", quote.commission)))
    assert "On time" in page
    browser.post(at("commission_check_day", quote.commission))
    assert PromiseCheck.across_studios.count() == 2
    plain = build.sent(cast, of=build.commission(cast, title="No day"))
    answer = browser.post(at("commission_check_day", plain.commission), follow=True)
    assert "No sent quote of this commission promises a day" in text_of(answer)


@pytest.mark.parametrize("name", ["commission_check_day", "commission_agree_day"])
def test_another_studio_s_day_is_not_there(strangers, signed_in, name):
    quote = build.sent(strangers, promised_date=build.day(200))
    assert signed_in().post(at(name, quote.commission)).status_code == 404


def test_the_quote_says_what_room_is_held(cast, signed_in):
    build.sent(
        cast, of=build.commission(cast, title="Ebb"), promised_date=build.day(90)
    )
    commission = build.commission(cast, title="Flood")
    browser = signed_in()
    body = body_of(browser.get(new(commission))) | {"when": "1"}
    told = text_of(browser.post(new(commission), body, headers=HTMX))
    assert "Kiln time is also held for an open quote: Ebb, promised for" in told


def test_a_new_version_starts_from_the_day_before_unless_the_work_changed(
    cast, signed_in
):
    quote = build.sent(cast, promised_date=build.day(90))
    browser = signed_in()
    day = f'value="{build.day(90):%Y-%m-%d}"'
    assert day in text_of(browser.get(new(quote.commission)))
    change(cast, quote.commission, layer_count=12)
    assert day not in text_of(browser.get(new(quote.commission)))


# --- Pressed twice --------------------------------------------------------------------


def test_a_form_pressed_twice_makes_one_commission(cast, signed_in):
    browser = signed_in()
    key = browser.get(NEW).context["form"].initial["request_key"]
    assert len(key) == 32
    body = typed(cast, request_key=key)
    first, second = browser.post(NEW, body), browser.post(NEW, body)
    made = Commission.across_studios.get()
    assert first["Location"] == second["Location"] == at("quote_new", made)


def test_each_form_has_a_key_of_its_own(cast, signed_in):
    browser = signed_in()
    keys = {browser.get(NEW).context["form"].initial["request_key"] for _ in range(2)}
    assert len(keys) == 2


def test_a_form_gone_back_to_and_changed_says_where_to_change_it(cast, signed_in):
    browser = signed_in()
    body = typed(cast, request_key="a" * 32)
    browser.post(NEW, body)
    answer = browser.post(NEW, body | {"layer_count": "12"})
    assert answer.status_code == 409
    assert "This form was sent before and made Slack water" in text_of(answer)
    assert 'value="12"' in text_of(answer)
    assert Commission.across_studios.get().layer_count == 20


@pytest.mark.parametrize(
    "changed",
    [
        {"client_name": "Ines Rook", "client_email": ""},
        {"client_phone": "030 1234"},
        {"reference_file": "a picture"},
    ],
    ids=["another client", "a telephone", "a picture"],
)
def test_no_client_or_picture_of_a_form_gone_back_to_is_lost_silently(
    cast, signed_in, changed
):
    browser = signed_in()
    body = typed(cast, request_key="a" * 32)
    browser.post(NEW, body)
    if "reference_file" in changed:
        changed = {"reference_file": build.image()}
    answer = browser.post(NEW, body | changed)
    assert answer.status_code == 409
    assert "This form was sent before and made Slack water" in text_of(answer)


def test_a_form_with_a_picture_pressed_twice_makes_one_commission(cast, signed_in):
    browser = signed_in()
    client = build.client(cast)
    body = typed(cast, request_key="a" * 32, client=client.pk, client_name="")
    body["client_email"] = ""
    answers = [
        browser.post(NEW, body | {"reference_file": build.image()}) for _ in range(2)
    ]
    assert [answer.status_code for answer in answers] == [302, 302]
    assert Commission.across_studios.count() == 1


def test_a_key_that_is_none_stops_nobody(cast, signed_in):
    for name in ("Perpetua", "Ines"):
        body = typed(cast, client_name=name, client_email="", request_key="<script>")
        assert signed_in().post(NEW, body).status_code == 302
    assert Commission.across_studios.count() == 2


def test_another_studio_may_have_the_same_key(cast, strangers, signed_in):
    body = {"request_key": "b" * 32}
    signed_in().post(NEW, typed(cast, **body))
    signed_in("owner", strangers).post(NEW, typed(strangers, **body))
    assert Commission.across_studios.count() == 2


@pytest.mark.django_db(transaction=True)
def test_a_form_sent_twice_at_once_makes_one_commission(cast):
    client = build.client(cast)
    facts = {
        "title": "Slack water",
        "width_mm": 300.0,
        "height_mm": 200.0,
        "layer_count": 6,
        "cap_count": 1,
        "technique": "painted",
        "passes_per_layer": 1,
        "glass": cast.glass,
    }
    together = Barrier(2, timeout=LONG_S)

    def send(_):
        try:
            together.wait()
            return intake.take_in(
                studio=cast.studio,
                client=client,
                new_client={},
                reference_file=None,
                facts=facts,
                by=cast.owner,
                at=timezone.now(),
                request_key="c" * 32,
            ).pk
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        made = set(pool.map(send, range(2)))
    assert made == {Commission.across_studios.get().pk}


# --- Done -----------------------------------------------------------------------------


def finish(cast, quote):
    """Paint, stack, fuse and finish the piece of an accepted quote."""
    piece = quote.commission.commissioned_pieces.get(is_maquette=False).piece
    now = timezone.now()
    make.paint_and_fuse(piece, by=cast.maker, at=now)
    piece_services.finish_piece(piece=piece, by=cast.maker, at=now)


def pay(cast, quote, *, amount=None):
    payments.record_payment(
        commission=quote.commission,
        amount=amount or quote.total,
        received_date=build.day(-1),
        by=cast.owner,
        at=timezone.now(),
    )


def counts(browser):
    tabs = browser.get(LIST).context["tabs"]
    return {tab["label"]: tab["count"] for tab in tabs}


def test_what_is_finished_and_paid_is_done_and_no_longer_open(cast, signed_in):
    quote = build.accepted(cast, promised_date=build.day(200))
    browser = signed_in()
    finish(cast, quote)
    assert counts(browser) == {"Open": 1, "Done": 0, "Closed": 0}
    pay(cast, quote)
    assert counts(browser) == {"Open": 0, "Done": 1, "Closed": 0}
    listed = text_of(browser.get(LIST, {"show": "done"}))
    assert "Slack water" in listed
    assert "Finished and paid" in listed
    assert "Slack water" not in text_of(browser.get(LIST))
    page = text_of(browser.get(at("commission_detail", quote.commission)))
    assert "Finished and paid" in page
    assert "part-day" not in page


def test_what_is_paid_and_not_finished_stays_open(cast, signed_in):
    pay(cast, build.accepted(cast))
    assert counts(signed_in()) == {"Open": 1, "Done": 0, "Closed": 0}


def test_a_payment_taken_back_opens_it_again(cast, signed_in):
    quote = build.accepted(cast)
    finish(cast, quote)
    pay(cast, quote)
    payments.take_back_payment(
        payment=quote.commission.payments.get(),
        reason="Bounced",
        by=cast.owner,
        at=timezone.now(),
    )
    assert counts(signed_in()) == {"Open": 1, "Done": 0, "Closed": 0}


def test_a_total_paid_in_odd_parts_is_paid(cast, signed_in):
    """Sums that binary fractions miss by a hair: 0.1 and 0.7 are less than 0.8 there."""
    quote = build.accepted(cast)
    finish(cast, quote)
    cents = [Decimal("0.1"), Decimal("0.7"), Decimal("0.35"), Decimal("0.57")]
    for amount in (*cents, quote.total - sum(cents) - Decimal("0.01")):
        pay(cast, quote, amount=amount)
    assert counts(signed_in()) == {"Open": 1, "Done": 0, "Closed": 0}
    pay(cast, quote, amount=Decimal("0.01"))
    assert counts(signed_in()) == {"Open": 0, "Done": 1, "Closed": 0}


def test_neither_list_nor_today_reads_all_that_was_ever_done(
    cast, signed_in, monkeypatch
):
    done = [build.accepted(cast), build.accepted(cast)]
    for quote in done:
        finish(cast, quote)
        pay(cast, quote)
    still_open = build.accepted(cast).commission
    read = []
    view = commissions.pieces_by_id
    monkeypatch.setattr(
        commissions,
        "pieces_by_id",
        lambda studio, ids, **more: read.extend(ids) or view(studio, ids, **more),
    )
    browser = signed_in()
    browser.get(LIST)
    browser.get(reverse("studio:today"))
    own = still_open.commissioned_pieces.get().piece_id
    assert set(read) == {own}


# --- The client's page ----------------------------------------------------------------


def test_the_tax_is_shown_with_its_rate(cast, client, signed_in):
    build.rates(cast, tax_percent=Decimal("6.25"), tax_name="Sales tax")
    quote = build.sent(cast)
    page = text_of(client.get(f"/c/{build.token(quote.commission)}/"))
    assert "Sales tax, 6.25 %" in page
    detail = reverse("commissions:quote_detail", args=[quote.pk])
    assert "Sales tax, 6.25 %" in text_of(signed_in().get(detail))


@pytest.mark.parametrize("has_libraries", [True, False])
def test_the_pdf_is_offered_where_it_can_be_made(
    cast, client, monkeypatch, has_libraries
):
    monkeypatch.setattr("commissions.documents.pdf_available", lambda: has_libraries)
    quote = build.sent(cast)
    page = text_of(client.get(f"/c/{build.token(quote.commission)}/"))
    assert ("Quote (PDF)" in page) is has_libraries


def test_a_pdf_that_could_not_be_made_is_not_offered(cast, client, monkeypatch):
    monkeypatch.setattr("commissions.documents.pdf_available", lambda: True)
    quote = build.sent(cast)
    Job.across_studios.filter(name="commissions.render_quote").update(
        state=JobState.FAILED
    )
    page = text_of(client.get(f"/c/{build.token(quote.commission)}/"))
    assert "Quote (PDF)" not in page
