"""The program as a web server starts it, with two ways to break it at will."""

from studio.wsgi import application as ours

from commissions import sharing  # isort: skip - needs the apps to be loaded

in_order = sharing.find_link


def find_link(token):
    """Break inside Django, with the token in the fault's own words."""
    if token.endswith("BREAK"):
        raise RuntimeError(f"cannot read {token} of /c/{token}/")
    return in_order(token)


sharing.find_link = find_link


def application(environ, start_response):
    """Break outside Django when the address asks for it."""
    if "break=server" in environ["QUERY_STRING"]:
        raise RuntimeError(f"cannot answer {environ['RAW_URI']}")
    return ours(environ, start_response)
