"""Reads whatever is sent, in a server that waits a second for it."""

from studio import slow_senders

slow_senders.GRACE_S = 1.0


def application(environ, start_response):
    body = environ["wsgi.input"].read()
    start_response("200 OK", [("Content-Type", "text/plain")])
    return [f"{len(body)} bytes".encode()]
