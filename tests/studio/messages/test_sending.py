"""Messages are sent once, by real servers on loopback, in spite of what may go wrong."""

import datetime as dt
import email
import email.policy
import json
from base64 import urlsafe_b64decode

import jwt
import pytest
from cryptography.hazmat.primitives.asymmetric import ec

from studio.errors import Refused
from studio.letters import Letter
from studio.models import Delivery, Message, MessageWishes, Phone, Topic
from studio.outbox import letters_in
from studio.services import deliveries
from studio.services.deliveries import send_due
from studio.services.messages import (
    add_phone,
    address_token,
    after_quiet,
    post_letter,
    save_wishes,
    stop_token,
    tell,
    tell_the_morning,
)
from studio.web_push import check_endpoint, public_key
from tests.cast import NOW
from tests.studio.messages.servers import Browser, mail_server, push_service
from tests.threads import at_once

MINUTE, HOUR, DAY = (
    dt.timedelta(minutes=1),
    dt.timedelta(hours=1),
    dt.timedelta(days=1),
)


def write(viewer):
    return Letter(
        title="Teal: power cut", text=f"It fell to {viewer.temperature(400)}."
    )


def tell_all(cast, *, key="firing 1 event 1", at=NOW, is_urgent=True, topic="firings"):
    tell(
        studio=cast.studio,
        topic=topic,
        key=key,
        write=write,
        path="/firings/1/",
        at=at,
        is_urgent=is_urgent,
    )


@pytest.fixture
def mailbox(settings):
    with mail_server() as (box, port):
        settings.MAIL_IS_SET = True
        settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", port
        # As `.env.example` writes it, with a name of its own.
        settings.DEFAULT_FROM_EMAIL = "Slowcool <robot@mail.example>"
        settings.ADDRESS = "https://studio.example"
        yield box


def only(cast, *roles):
    """Let all others want to know of nothing."""
    for role in ("owner", "maker", "helper", "technician"):
        if role not in roles:
            save_wishes(membership=cast.membership(role), mail=[], phone=[])


def read(envelope):
    return email.message_from_bytes(envelope.content, policy=email.policy.default)


class TestMail:
    def test_reaches_everybody_in_their_own_units_once(self, cast, mailbox):
        tell_all(cast)
        tell_all(cast)
        assert send_due(clock=lambda: NOW) == 4
        assert send_due(clock=lambda: NOW + HOUR) == 0
        assert len(mailbox.letters) == 4
        letter = read(mailbox.letters[0])
        assert letter["Subject"] == "Teal: power cut"
        assert "752 °F" in letter.get_content()
        assert "https://studio.example/firings/1/" in letter.get_content()
        assert "robot@mail.example" in letter["From"]
        assert cast.studio.name in letter["From"]

    def test_says_how_to_end_it_as_the_standard_wants(self, cast, mailbox, client):
        only(cast, "maker")
        tell_all(cast)
        send_due(clock=lambda: NOW)
        letter = read(mailbox.letters[0])
        # RFC 8058, section 3.1.
        assert letter["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
        address = letter["List-Unsubscribe"].strip().strip("<>")
        path = address.removeprefix("https://studio.example")
        assert client.get(path).status_code == 200
        tell_all(cast, key="another")
        assert send_due(clock=lambda: NOW) == 1
        answer = client.post(path, {"List-Unsubscribe": "One-Click"})
        assert answer.status_code == 200
        tell_all(cast, key="a third")
        assert send_due(clock=lambda: NOW) == 0

    def test_with_a_forged_link_is_not_ended(self, cast, client):
        forged = stop_token(cast.membership("maker"), "firings")[:-2] + "AA"
        assert client.post(f"/messages/stop/{forged}/").status_code == 404

    def test_waits_while_the_server_is_down_and_loses_nothing(self, cast, mailbox):
        only(cast, "maker")
        mailbox.refuses = "451 Try later"
        tell_all(cast)
        now = NOW
        while now < NOW + DAY:
            send_due(clock=lambda at=now: at)
            now += 10 * MINUTE
        waiting = Delivery.across_studios.get()
        assert waiting.state == "waiting"
        assert "451" in waiting.problem
        assert waiting.attempts < 40
        mailbox.refuses = ""
        send_due(clock=lambda: NOW + DAY + HOUR)
        send_due(clock=lambda: NOW + DAY + 2 * HOUR)
        assert len(mailbox.letters) == 1

    def test_that_is_put_off_by_the_server_waits(self, cast, mailbox):
        only(cast, "maker")

        async def greylisted(server, session, envelope, address, options):
            return "450 try again later"

        mailbox.handle_RCPT = greylisted
        tell_all(cast)
        send_due(clock=lambda: NOW)
        assert Delivery.across_studios.get().state == "waiting"

    def test_that_waited_is_not_sent_to_whoever_no_longer_wants_it(self, cast, mailbox):
        only(cast, "maker", "owner")
        tell_all(cast)
        save_wishes(membership=cast.membership("maker"), mail=[], phone=[])
        gone = cast.membership("owner")
        gone.is_active = False
        gone.save()
        send_due(clock=lambda: NOW)
        assert mailbox.letters == []
        states = set(Delivery.across_studios.values_list("state", flat=True))
        assert states == {"failed"}

    def test_that_cannot_be_connected_waits(self, cast, mailbox, settings):
        only(cast, "maker")
        settings.EMAIL_PORT = 9
        tell_all(cast)
        tell_all(cast, key="second")
        # The server is asked once, and nobody waits behind it.
        assert send_due(clock=lambda: NOW) == 1
        states = Delivery.across_studios.values_list("state", flat=True)
        assert set(states) == {"waiting"}

    def test_of_a_worker_that_died_is_sent_by_the_next(
        self, cast, mailbox, monkeypatch
    ):
        only(cast, "maker")
        tell_all(cast)

        def die(*_, **__):
            raise KeyboardInterrupt

        with monkeypatch.context() as patch:
            patch.setattr(deliveries, "hand_over", die)
            with pytest.raises(KeyboardInterrupt):
                send_due(clock=lambda: NOW)
        assert send_due(clock=lambda: NOW + MINUTE) == 0
        assert send_due(clock=lambda: NOW + 11 * MINUTE) == 1
        assert len(mailbox.letters) == 1

    def test_to_an_address_the_server_refuses_is_told_and_sent_again(
        self, cast, mailbox, signed_in
    ):
        only(cast, "maker")

        async def no_such(server, session, envelope, address, options):
            return "550 no such user"

        mailbox.handle_RCPT = no_such
        tell_all(cast)
        send_due(clock=lambda: NOW)
        failed = Delivery.across_studios.get()
        assert failed.state == "failed"
        for role in ("owner", "maker"):
            page = signed_in(role).get("/messages/").content.decode()
            assert "does not take this address" in page
        assert "Not sent" not in signed_in("helper").get("/messages/").content.decode()
        del mailbox.handle_RCPT
        signed_in("maker").post(f"/messages/sent/{failed.pk}/again/")
        failed.refresh_from_db()
        send_due(clock=lambda: failed.send_at)
        assert len(mailbox.letters) == 1

    def test_without_a_server_is_a_file_that_the_owner_finds(self, cast, signed_in):
        only(cast, "maker")
        tell_all(cast)
        send_due(clock=lambda: NOW)
        (file,) = letters_in(cast.studio.pk)
        letter = email.message_from_bytes(
            file.read_bytes(), policy=email.policy.default
        )
        assert letter["To"] == cast.maker.email
        owner = signed_in("owner")
        assert file.name in owner.get("/messages/").content.decode()
        sent = owner.get(f"/messages/letters/{file.name}/")
        assert b"Teal: power cut" in b"".join(sent.streaming_content)
        file.unlink()


@pytest.mark.django_db(transaction=True)
def test_two_workers_send_it_once(cast, mailbox):
    only(cast, "maker")
    tell_all(cast)
    at_once(*[lambda: send_due(clock=lambda: NOW)] * 3)
    assert len(mailbox.letters) == 1


class TestPush:
    @pytest.fixture
    def service(self, tmp_path, settings, monkeypatch):
        settings.PUSH_TO_ANY_HOST = True
        with push_service(tmp_path) as (got, address, certificate, answer):
            monkeypatch.setenv("SSL_CERT_FILE", str(certificate))
            yield got, address, answer

    def subscribe(self, cast, address, browser):
        only(cast, "maker")
        save_wishes(
            membership=cast.membership("maker"), mail=[], phone=list(Topic.values)
        )
        return add_phone(
            membership=cast.membership("maker"),
            name="Phone",
            endpoint=address,
            p256dh=browser.p256dh,
            auth=browser.auth,
            at=NOW,
        )

    def test_is_opened_by_the_browser_that_asked(self, cast, service):
        got, address, _ = service
        browser = Browser()
        self.subscribe(cast, address, browser)
        tell_all(cast)
        send_due(clock=lambda: NOW)
        ((headers, body),) = got
        assert len(body) <= 4096
        told = json.loads(browser.opened(body))
        assert told["title"] == "Teal: power cut"
        assert told["path"] == "/firings/1/"
        # RFC 8030, sections 5.2 to 5.4.
        assert int(headers["ttl"]) > 0
        assert headers["Urgency"] == "high"
        assert len(headers["Topic"]) <= 32
        assert headers["content-encoding"] == "aes128gcm"

    def test_is_signed_by_the_key_that_the_page_names(self, cast, service):
        got, address, _ = service
        self.subscribe(cast, address, Browser())
        tell_all(cast)
        send_due(clock=lambda: NOW)
        scheme, _, fields = got[0][0]["authorization"].partition(" ")
        given = dict(one.strip().split("=", 1) for one in fields.split(","))
        # RFC 8292, sections 2 and 3.
        assert scheme == "vapid"
        named = urlsafe_b64decode(given["k"] + "=" * (-len(given["k"]) % 4))
        assert named == public_key()
        key = ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), named)
        claims = jwt.decode(
            given["t"], key, algorithms=["ES256"], audience="https://127.0.0.1"
        )
        assert claims["sub"].startswith("mailto:")

    def test_that_is_long_is_cut_to_one_record(self, cast, service):
        got, address, _ = service
        browser = Browser()
        self.subscribe(cast, address, browser)
        tell(
            studio=cast.studio,
            topic="firings",
            key="long",
            write=lambda viewer: Letter(title="Teal", text="é" * 9000),
            path="/firings/1/",
            at=NOW,
        )
        send_due(clock=lambda: NOW)
        assert len(got[0][1]) <= 4096
        assert json.loads(browser.opened(got[0][1]))["text"].startswith("éé")

    @pytest.mark.parametrize("status", [404, 410])
    def test_to_a_phone_that_is_gone_is_said_and_not_tried_again(
        self, cast, service, status
    ):
        got, address, answer = service
        phone = self.subscribe(cast, address, Browser())
        answer["status"] = status
        tell_all(cast)
        send_due(clock=lambda: NOW)
        phone.refresh_from_db()
        assert phone.gone_at == NOW
        assert Delivery.across_studios.get().state == "failed"
        tell_all(cast, key="next")
        assert send_due(clock=lambda: NOW + HOUR) == 0
        assert len(got) == 1

    def test_is_tried_again_when_the_service_is_busy(self, cast, service):
        got, address, answer = service
        self.subscribe(cast, address, Browser())
        answer["status"] = 503
        tell_all(cast)
        send_due(clock=lambda: NOW)
        answer["status"] = 201
        send_due(clock=lambda: NOW + 5 * MINUTE)
        assert Delivery.across_studios.get().state == "sent"
        assert len(got) == 2

    @pytest.mark.parametrize(
        "address",
        [
            "http://push.example/1",
            "https://127.0.0.1/1",
            "https://[::1]/",
            "https://[64:ff9b::7f00:1]/",
            "https://[2002:7f00:1::]/",
            "https://224.0.0.1/",
            "https://push.example:99999/",
            "ftp://x",
        ],
    )
    def test_goes_to_no_private_machine(self, address):
        with pytest.raises(Refused):
            check_endpoint(address)


def test_the_decryption_of_these_tests_is_the_standards():
    """RFC 8291, appendix A: its keys and its message."""

    def raw(text):
        return urlsafe_b64decode(text + "=" * (-len(text) % 4))

    private = int.from_bytes(raw("q1dXpw3UpT5VOmu_cf_v6ih07Aems3njxI-JWgLcM94"), "big")
    browser = Browser(
        key=ec.derive_private_key(private, ec.SECP256R1()),
        secret=raw("BTBZMqHH6r4Tts7J_aSIgg"),
    )
    body = raw(
        "DGv6ra1nlYgDCS1FRnbzlwAAEABBBP4z9KsN6nGRTbVYI_c7VJSPQTBtkgcy27ml"
        "mlMoZIIgDll6e3vCYLocInmYWAmS6TlzAC8wEqKK6PBru3jl7A_yl95bQpu6cVPT"
        "pK4Mqgkf1CXztLVBSt2Ks3oZwbuwXPXLWyouBWLVWGNWQexSgSxsj_Qulcy4a-fN"
    )
    assert browser.opened(body) == b"When I grow up, I want to be a watermelon"


class TestWishes:
    def test_quiet_hours_hold_back_what_can_wait(self, cast):
        night = dt.datetime(2026, 3, 5, 8, 0, tzinfo=dt.UTC)  # 3 in the morning there
        only(cast, "maker")
        tell_all(cast, at=night, is_urgent=False, topic="unloading")
        tell_all(cast, at=night, key="cut")
        later, now = Delivery.across_studios.order_by("-send_at")
        assert now.send_at == night
        assert later.send_at == dt.datetime(2026, 3, 5, 12, 0, tzinfo=dt.UTC)

    def test_hold_back_danger_too_if_somebody_says_so(self, cast):
        night = dt.datetime(2026, 3, 5, 8, 0, tzinfo=dt.UTC)
        only(cast)
        save_wishes(
            membership=cast.membership("maker"),
            mail=["firings"],
            phone=[],
            quiet_from=dt.time(22),
            quiet_to=dt.time(7),
            is_woken=False,
        )
        tell_all(cast, at=night)
        assert Delivery.across_studios.get().send_at > night

    @pytest.mark.parametrize(
        ("begins", "ends", "at", "free"),
        [
            ((22, 0), (7, 0), "2026-03-04T23:00+00:00", "2026-03-05T07:00+00:00"),
            ((22, 0), (7, 0), "2026-03-05T06:59+00:00", "2026-03-05T07:00+00:00"),
            ((22, 0), (7, 0), "2026-03-05T07:00+00:00", "2026-03-05T07:00+00:00"),
            ((12, 0), (14, 0), "2026-03-05T13:00+00:00", "2026-03-05T14:00+00:00"),
            ((12, 0), (12, 0), "2026-03-05T12:00+00:00", "2026-03-05T12:00+00:00"),
        ],
    )
    def test_quiet_hours_end(self, begins, ends, at, free):
        wishes = MessageWishes(quiet_from=dt.time(*begins), quiet_to=dt.time(*ends))
        found = after_quiet(wishes, dt.datetime.fromisoformat(at), dt.UTC)
        assert found == dt.datetime.fromisoformat(free)

    def test_are_kept_by_the_page_and_one_end_alone_is_refused(self, cast, signed_in):
        client = signed_in("helper")
        given = {"mail": ["firings"], "quiet_from": "21:00", "morning_at": "06:30"}
        answer = client.post("/messages/wishes/", given)
        assert answer.status_code == 422
        assert "both hours" in answer.content.decode()
        client.post("/messages/wishes/", given | {"quiet_to": "06:00"})
        kept = MessageWishes.across_studios.get()
        assert (kept.person, kept.mail, kept.phone) == (cast.helper, ["firings"], [])

    def test_of_clients_are_for_those_who_see_money(self, cast):
        tell_all(cast, topic="clients")
        told = {one.person for one in Message.across_studios.all()}
        assert cast.helper not in told
        assert cast.owner in told

    def test_hold_for_what_was_put_off_too(self, cast, mailbox):
        only(cast, "maker")
        evening = dt.datetime(2026, 3, 5, 2, 59, tzinfo=dt.UTC)  # 21:59 there
        mailbox.refuses = "451 Try later"
        tell_all(cast, at=evening, is_urgent=False, topic="unloading")
        send_due(clock=lambda: evening)
        put_off = Delivery.across_studios.get()
        assert put_off.send_at == dt.datetime(2026, 3, 5, 12, 0, tzinfo=dt.UTC)


class TestMorning:
    EIGHT = dt.datetime(2026, 3, 4, 13, 0, tzinfo=dt.UTC)  # 8:00 there

    def test_is_told_once_a_day_at_its_hour(self, cast):
        only(cast, "maker")

        def letter(viewer, now):
            return Letter(title="Today: paint", text="Layer 3")

        for at in (self.EIGHT - 2 * HOUR, self.EIGHT, self.EIGHT + HOUR):
            tell_the_morning(write=letter, now=at)
        assert Message.across_studios.count() == 1
        tell_the_morning(write=letter, now=self.EIGHT + DAY)
        assert Message.across_studios.count() == 2
        tell_the_morning(write=letter, now=self.EIGHT + DAY + 9 * HOUR)
        assert Message.across_studios.count() == 2

    def test_says_nothing_where_nothing_is_to_be_done(self, cast):
        tell_the_morning(write=lambda viewer, now: None, now=self.EIGHT)
        assert Message.across_studios.count() == 0

    def test_has_what_the_page_of_today_has(self, demo):
        from studio.selectors.people import members
        from studio.today import morning_letter
        from studio.viewer import Viewer

        viewer = Viewer.of_member(members(demo).first())
        letter = morning_letter(viewer, dt.datetime.now(dt.UTC))
        assert letter is not None
        assert letter.title.startswith("Today: ")


class TestPhones:
    def test_are_added_and_removed_by_their_person(self, cast, signed_in, settings):
        settings.PUSH_TO_ANY_HOST = True
        browser = Browser()
        client = signed_in("helper")
        answer = client.post(
            "/messages/phones/add/",
            {
                "endpoint": "https://push.example/1",
                "p256dh": browser.p256dh,
                "auth": browser.auth,
                "name": "Phone",
            },
        )
        assert answer.status_code == 204
        phone = Phone.across_studios.get()
        assert (
            signed_in("maker").post(f"/messages/phones/{phone.pk}/remove/").status_code
            == 404
        )
        client.post(f"/messages/phones/{phone.pk}/remove/")
        assert not Phone.across_studios.exists()

    def test_with_nonsense_are_refused(self, signed_in):
        client = signed_in("helper")
        nonsense = {"endpoint": "x", "p256dh": "y", "auth": ""}
        assert client.post("/messages/phones/add/", nonsense).status_code == 422
        no_point = {
            "endpoint": "https://push.example/1",
            "p256dh": "A" * 87,
            "auth": Browser().auth,
        }
        answer = client.post("/messages/phones/add/", no_point)
        assert answer.status_code == 409
        assert "no usable keys" in answer.content.decode()


def test_a_letter_to_one_address_has_its_paper_and_is_answered_to_the_studio(
    cast, mailbox
):
    cast.studio.email = "hello@gullmarsh.example"
    cast.studio.save()
    post_letter(
        studio=cast.studio,
        to="Vane@Example.org",
        subject="Quote\n12",
        text="Hi",
        at=NOW,
    )
    send_due(clock=lambda: NOW)
    letter = read(mailbox.letters[0])
    assert letter["Subject"] == "Quote 12"
    assert letter["Reply-To"] == "hello@gullmarsh.example"
    assert letter["To"] == "Vane@Example.org"


def test_a_letter_is_ended_and_allowed_again_by_its_reader(cast, mailbox, client):
    path = f"/messages/letters/stop/{address_token(cast.studio, 'Vane@example.org')}/"

    def write_to():
        post_letter(
            studio=cast.studio, to="vane@example.org", subject="Hi", text="Hi", at=NOW
        )

    write_to()
    assert "Send me no more letters" in client.get(path).content.decode()
    client.post(path, {"List-Unsubscribe": "One-Click"})
    send_due(clock=lambda: NOW)
    assert mailbox.letters == []
    with pytest.raises(Refused, match="no more letters"):
        write_to()
    client.post(path, {"again": "1"})
    write_to()
    send_due(clock=lambda: NOW)
    assert len(mailbox.letters) == 1
