"""What browsers are told with every answer, and what no address tells."""

import pytest
from django.conf import settings
from django.core.cache import cache
from django.urls import reverse

PLACES = ["/", "/no/such/page/", "/static/studio/css/base.css", "/healthz", "/c/wrong/"]
FOLDERS = ["/static/", "/static/studio/", "/static/studio/css/", "/never-served/"]


def answered(client, place):
    answer = client.get(place)
    answer.getvalue()  # Closes a file that is sent.
    return answer


@pytest.mark.parametrize("place", PLACES)
def test_every_answer_has_the_browsers_rules(client, db, place):
    answer = answered(client, place)
    rules = answer["Content-Security-Policy"]
    for rule in ("object-src 'none'", "base-uri 'none'", "frame-ancestors 'none'"):
        assert rule in rules
    assert "Access-Control-Allow-Origin" not in answer
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Referrer-Policy"] in {"same-origin", "no-referrer"}


@pytest.mark.parametrize(
    ("place", "kind"),
    [
        (reverse("studio:sign_in"), "text/html; charset=utf-8"),
        ("/no/such/page/", "text/html; charset=utf-8"),
        ("/static/studio/css/base.css", 'text/css; charset="utf-8"'),
        ("/static/studio/js/theme.js", 'text/javascript; charset="utf-8"'),
    ],
)
def test_every_answer_says_what_it_is(client, db, place, kind):
    assert answered(client, place)["Content-Type"] == kind


@pytest.mark.parametrize("place", FOLDERS)
def test_no_folder_is_listed(client, db, place):
    assert client.get(place).status_code == 404


@pytest.mark.parametrize("place", ["/", reverse("studio:sign_in"), "/c/wrong/"])
def test_nothing_is_traced(client, db, place):
    cache.clear()  # A link is opened only so often by one address.
    answer = client.trace(place, headers={"X-Secret": "seen"})
    assert answer.status_code in {404, 405}
    assert b"seen" not in answer.content


def test_a_word_for_the_next_page_travels_in_a_cookie_of_ours(signed_in):
    browser = signed_in("owner")
    browser.post(reverse("studio:devices_end_others"))
    sent = browser.cookies[settings.MESSAGE_COOKIE_NAME]
    assert sent["httponly"]
    assert sent["samesite"] == "Lax"
