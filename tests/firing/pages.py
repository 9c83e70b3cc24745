"""What the tests of this app's pages share: addresses, and the usual access checks."""

import re
from html import unescape

from django.urls import reverse


def address(name: str, *args) -> str:
    return reverse(f"firing:{name}", args=args)


def text_of(response) -> str:
    """Return a page's words without its markup, spaces made one."""
    html = response.content.decode()
    body = re.sub(r"<(script|style)[^>]*>.*?</\1>", "", html, flags=re.DOTALL)
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", body)))


def assert_doors(*, client, signed_in, strangers, url, roles, post=False, own=True):
    """Check who gets in: nobody signed in, roles too low, another studio's people.

    `own` says that the address names a record, which must not be there for strangers.
    """
    ask = "post" if post else "get"
    answer = getattr(client, ask)(url)
    assert answer.status_code == 302
    assert answer["Location"].startswith("/sign-in/")
    for role in ("owner", "maker", "helper", "technician"):
        if role not in roles:
            answer = getattr(signed_in(role), ask)(url)
            assert answer.status_code == 403, role
    if own:
        answer = getattr(signed_in("owner", strangers), ask)(url)
        assert answer.status_code == 404
