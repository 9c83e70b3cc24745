import pytest
from django.urls import reverse


def test_every_role_may_look_at_the_style_guide(signed_in):
    answer = signed_in("helper").get(reverse("studio:styleguide"))
    text = answer.content.decode()
    assert answer.status_code == 200
    assert 'data-theme="light"' in text
    assert 'data-theme="dark"' in text
    # The firing app's own section, added through the registry.
    assert "Kiln ribbon" in text
    assert "added-dark-ribbon" in text


def test_the_style_guide_is_served_under_the_strict_policy(signed_in):
    answer = signed_in().get(reverse("studio:styleguide"))
    policy = answer["Content-Security-Policy"]
    assert "default-src 'self'" in policy
    assert "unsafe-inline" not in policy


@pytest.mark.django_db
def test_a_stranger_is_asked_to_sign_in(client):
    answer = client.get(reverse("studio:styleguide"))
    assert answer.status_code == 302
    assert answer["Location"].startswith(reverse("studio:sign_in"))
