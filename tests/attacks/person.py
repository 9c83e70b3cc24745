"""Somebody with a browser, over real HTTP: cookies, tokens, and what they are told."""

import http.client
import http.cookiejar
import re
import time
import urllib.error
import urllib.parse
import urllib.request
from dataclasses import dataclass

from tests.patience import LONG_S

# What comes instead of an answer from a server that is killed.
CUT_OFF = (OSError, http.client.HTTPException)
TOKEN = re.compile(r'name="csrfmiddlewaretoken" value="([^"]+)"')


@dataclass(frozen=True)
class Answer:
    """What the server said, and how long it took [s]."""

    status: int
    text: str
    headers: dict[str, str]
    took_s: float


class Stay(urllib.request.HTTPRedirectHandler):
    """Shows a redirect instead of following it."""

    def redirect_request(self, *_):
        return None


class Person:
    """One visitor, signed in or not."""

    def __init__(self, address: str) -> None:
        self.address = address
        cookies = urllib.request.HTTPCookieProcessor(http.cookiejar.CookieJar())
        self._opener = urllib.request.build_opener(cookies, Stay())
        self._token = ""

    def get(self, path: str) -> Answer:
        answer = self._ask(urllib.request.Request(self.address + path))
        self.take_token(answer)
        return answer

    def take_token(self, answer: Answer) -> None:
        """Send the next form as one of this page."""
        if found := TOKEN.search(answer.text):
            self._token = found.group(1)

    def post(self, path: str, data: dict[str, str]) -> Answer:
        """Send a form with the token of the last page."""
        fields = {"csrfmiddlewaretoken": self._token, **data}
        body = urllib.parse.urlencode(fields, doseq=True).encode()
        return self._ask(urllib.request.Request(self.address + path, data=body))

    def send_file(self, path: str, name: str, data: bytes) -> Answer:
        """Send a form with one file in it, called `name`."""
        mark = b"xxMARKxx"
        parts = [
            b'name="csrfmiddlewaretoken"\r\n\r\n' + self._token.encode(),
            b'name="%s"; filename="kiln.csv"\r\n\r\n' % name.encode() + data,
        ]
        body = b"".join(
            b"--" + mark + b"\r\nContent-Disposition: form-data; " + part + b"\r\n"
            for part in parts
        )
        request = urllib.request.Request(
            self.address + path,
            data=body + b"--" + mark + b"--\r\n",
            headers={"Content-Type": f"multipart/form-data; boundary={mark.decode()}"},
        )
        return self._ask(request)

    def sign_in(self, email: str, password: str) -> None:
        self.get("/sign-in/")
        answer = self.post("/sign-in/", {"username": email, "password": password})
        assert answer.status == 302, answer.text

    def _ask(self, request: urllib.request.Request) -> Answer:
        began = time.perf_counter()
        try:
            with self._opener.open(request, timeout=LONG_S) as response:
                found = response
                text = response.read().decode(errors="replace")
        except urllib.error.HTTPError as refused:
            found = refused
            text = refused.read().decode(errors="replace")
        took_s = time.perf_counter() - began
        return Answer(found.status, text, dict(found.headers), took_s)
