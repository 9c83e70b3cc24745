"""Taking a record in once, by its key, and forgetting keys that are old."""

from collections.abc import Callable
from datetime import datetime

from django.db import transaction
from django.http.response import HttpResponseBase

from studio.jobs import on_forget
from studio.models import SENT_AGAIN_WITHIN, Person, SentOnce


@transaction.atomic
def take_once(
    *, person: Person, key: str, at: datetime, act: Callable[[], HttpResponseBase]
) -> HttpResponseBase | str:
    """Act and return the answer, or return where it led when it came before.

    The key is written first: a second request with it waits for the first. What is
    refused changes nothing, and its key may come again.
    """
    taken, is_new = SentOnce.objects.get_or_create(
        person=person, key=key, defaults={"at": at}
    )
    if not is_new:
        return taken.answer
    response = act()
    if response.status_code >= 400:
        transaction.set_rollback(True)
    else:
        led_to = response.headers.get("Location") or response.headers.get("HX-Redirect")
        taken.answer = (led_to or "")[:500]
        taken.save(update_fields=["answer"])
    return response


@on_forget
def forget_keys(now: datetime) -> int:
    """Delete keys that no phone will send any more; return how many."""
    return SentOnce.objects.filter(at__lt=now - SENT_AGAIN_WITHIN).delete()[0]
