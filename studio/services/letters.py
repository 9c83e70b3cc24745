"""The program's own mail: the links that only their person should have.

Sent by the worker where `STUDIO_EMAIL_URL` is set. Each link is made when it is sent, so
that neither an order of work nor a log holds one.
"""

from django.core.mail import send_mail
from django.template.loader import render_to_string


def send_letter(
    name: str, *, to: str, subject: str, context: dict[str, object]
) -> None:
    """Send the letter of that name in templates/emails to one address."""
    text = render_to_string(f"emails/{name}.txt", context).strip()
    # A line break in a studio's name would end the header.
    send_mail(" ".join(subject.split()), f"{text}\n", None, [to])
