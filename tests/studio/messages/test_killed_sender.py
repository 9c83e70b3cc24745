"""A real worker, killed while it hands a mail over: the next one sends it, once."""

import pytest
from django.utils import timezone

from studio.models import Delivery, DeliveryState
from tests.patience import LONG_S
from tests.studio.messages.servers import mail_server
from tests.studio.messages.test_sending import only, read, tell_all
from tests.worker import wait_until

pytestmark = [pytest.mark.worker, pytest.mark.django_db(transaction=True)]


def state():
    return Delivery.across_studios.get().state


def test_a_mail_of_a_killed_worker_is_sent_once_by_the_next(cast, real_worker):
    with mail_server() as (box, port):
        mail = {
            "STUDIO_EMAIL_URL": f"smtp://127.0.0.1:{port}",
            "STUDIO_EMAIL_FROM": "robot@mail.example",
            "STUDIO_ADDRESS": "https://studio.example",
        }
        only(cast, "maker")
        box.may_answer.clear()
        real_worker.start(**mail)
        tell_all(cast, at=timezone.now())
        assert box.is_asked.wait(LONG_S), real_worker.log
        real_worker.kill()
        assert box.is_lost.wait(LONG_S)
        assert state() == DeliveryState.SENDING
        box.may_answer.set()
        # The ten minutes after which a claim counts no more.
        Delivery.across_studios.update(lease_until=timezone.now())
        real_worker.start(**mail)
        wait_until(lambda: state() == DeliveryState.SENT)
        (letter,) = box.letters
        assert read(letter)["Subject"].startswith("Teal: power cut")
