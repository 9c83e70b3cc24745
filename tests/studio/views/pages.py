"""What the tests of the studio's pages share: who is let in, and nobody's money."""

from django.urls import reverse

ROLES = ("owner", "maker", "helper", "technician")


def address(name, *args):
    return reverse(f"studio:{name}", args=args)


def text_of(answer) -> str:
    return answer.content.decode()


def statuses(signed_in, url, *, post=None):
    """Return each role's status at an address."""
    found = {}
    for role in ROLES:
        browser = signed_in(role)
        answer = browser.get(url) if post is None else browser.post(url, post)
        found[role] = answer.status_code
    return found


def assert_asks_to_sign_in(client, url, *, post=None):
    answer = client.get(url) if post is None else client.post(url, post)
    assert answer.status_code == 302
    assert answer["Location"].startswith(reverse("studio:sign_in"))
