"""Walks every address as everybody, and sends every form it finds with odd values.

Seeded: the same seed sends the same requests. `tests/attacks/test_fuzz.py` sends some
hundreds; for as many as wanted:

    python -m tests.attacks.fuzz --requests 100000 --seed 1
"""

import argparse
import copy
import datetime as dt
import heapq
import logging
import os
import time
import traceback
from collections import Counter
from dataclasses import dataclass, field
from random import Random
from unittest import mock
from urllib.parse import parse_qsl, urlencode, urlsplit

if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
    import django

    django.setup()

from django.apps import apps
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.db import transaction
from django.db.models import CharField, F, TextField, Value
from django.db.models.functions import Concat
from django.test import Client, override_settings
from django.test.client import BOUNDARY, MULTIPART_CONTENT, encode_multipart
from django.test.utils import setup_test_environment
from django.urls import Resolver404, resolve, reverse
from django.utils import timezone

from commissions import guard
from commissions.models import ShareLink
from commissions.selectors.share_links import link_token
from studio.models import Job, Membership, Role, Studio
from studio.tenancy import StudioOwned
from tests.attacks import fuzz_values
from tests.attacks.fuzz_pages import Form, read_page
from tests.contracts.test_permissions import ADDRESSES, model_for
from tests.demo import MONDAY_MORNING
from tests.worker import run_waiting_jobs

SLOW_ON_PURPOSE: dict[str, str] = {}
"""Addresses that may take longer than two seconds, and why."""

HEADERS = {
    "Content-Security-Policy": ["default-src 'self'"],
    "X-Content-Type-Options": ["nosniff"],
    "X-Frame-Options": ["DENY"],
    "Cache-Control": ["no-store"],
    # No address at all where the address is a private link.
    "Referrer-Policy": ["same-origin", "no-referrer"],
}
ENDS_MORE_THAN_A_RECORD = {
    "studio:sign_out", "studio:password_change", "studio:studio_delete", "studio:demo_remove",
    "studio:currency_edit", "studio:member_edit", "studio:studio_edit",
}  # fmt: skip
"""Sent like the others, but undone: nothing would be left to walk through."""
NAMES = {"name", "title", "caption", "text", "note", "notes", "words", "address"}
VISITORS = [*map(str, Role), "client", "nobody", "neighbour"]
ODD_VERBS = ["PUT", "DELETE", "PATCH", "HEAD", "OPTIONS", "TRACE", "PROPFIND", "POST"]
JOBS_AFTER = 150
FORMS_OF_A_PAGE = 8
TOLD = 600
"""Letters of a request or a page that a problem shows."""


@dataclass
class Problem:
    """A request that was answered wrongly, with what is needed to send it again."""

    what: str
    request: str
    detail: str = ""

    def __str__(self) -> str:
        return f"{self.what}\n  {self.request}\n{self.detail}"


@dataclass
class Report:
    """What was sent and what came back."""

    seed: int
    statuses: Counter = field(default_factory=Counter)
    slowest: list[tuple[float, str]] = field(default_factory=list)
    addresses: set[str] = field(default_factory=set)
    acted: set[str] = field(default_factory=set)
    """Addresses that took a form and acted on it."""
    forms: set[tuple] = field(default_factory=set)
    jobs: Counter = field(default_factory=Counter)
    problems: list[Problem] = field(default_factory=list)

    def __str__(self) -> str:
        lines = [
            f"seed {self.seed}: {sum(self.statuses.values())} requests, "
            f"{len(self.addresses)} addresses, {len(self.acted)} of them acted on a form, "
            f"{len(self.forms)} forms",
            "  never asked for: "
            + ", ".join(sorted({a.name for a in ADDRESSES} - self.addresses)),
            "  by status: "
            + ", ".join(f"{k}: {n}" for k, n in sorted(self.statuses.items())),
            "  jobs: " + ", ".join(f"{k}: {n}" for k, n in sorted(self.jobs.items())),
            *(
                f"  {seconds:6.2f} s  {told}"
                for seconds, told in sorted(self.slowest)[::-1]
            ),
            *(f"PROBLEM {problem}" for problem in self.problems),
        ]
        return "\n".join(lines)

    def same(self, problem: Problem) -> bool:
        """Tell whether this kind of problem is known already."""
        return any(known.what == problem.what for known in self.problems)


class Fuzz:
    """One walk through the demo; `slow_s` is how long an answer may take."""

    def __init__(
        self, studio: Studio, report: Report, *, seed: int, slow_s: float
    ) -> None:
        self.random = Random(seed)
        self.report = report
        self.slow_s = slow_s
        self.seed = seed
        self.step = 0
        self.most = 0
        self.started = MONDAY_MORNING
        self.studio = studio
        self.other = Studio.objects.exclude(pk=studio.pk).order_by("pk").first()
        self.secrets = {of.pk: f"Zq{of.pk}secret" for of in (studio, self.other)}
        for of in (studio, self.other):
            mark_names(of, self.secrets[of.pk])
        self.foreign = [numbers(self.other, model) for model in owned_models()]
        self.foreign = sorted({pk for pks in self.foreign for pk in pks})
        self.tokens = [link_token(link) for link in ShareLink.owned.for_studio(studio)]
        self.parameters = ["page", "q", "next"]
        self.links: list[str] = []
        self.browsers = {visitor: self._browser(visitor) for visitor in VISITORS}

    def _browser(self, visitor: str) -> Client:
        browser = Client(raise_request_exception=False)
        if visitor in {"client", "nobody"}:
            return browser
        where, role = (
            (self.other, Role.OWNER)
            if visitor == "neighbour"
            else (self.studio, visitor)
        )
        member = (
            Membership.owned.for_studio(where).filter(role=role).order_by("pk").first()
        )
        browser.force_login(
            member.person, backend="django.contrib.auth.backends.ModelBackend"
        )
        return browser

    def now(self) -> dt.datetime:
        """Return the instant of this step: the walk has a clock of its own."""
        return self.started + dt.timedelta(seconds=self.step)

    # --- The walk -----------------------------------------------------------------

    def run(self, requests: int) -> None:
        """Send so many requests."""
        self.most = requests
        with (
            mock.patch("studio.jobs.send"),
            mock.patch.object(timezone, "now", self.now),
        ):
            while self.step < self.most:
                # Owners meet every form, so they come more often than anybody else.
                turns = [(v, a) for v in [*VISITORS, "owner"] for a in ADDRESSES]
                self.random.shuffle(turns)
                for visitor, address in turns:
                    if self.step >= self.most:
                        break
                    self._visit(visitor, address)

    def _visit(self, visitor: str, address) -> None:
        if (
            visitor == "client"
            and "token" not in address.arguments
            and self._rarely(0.7)
        ):
            return
        where = self._filled(address)
        if self._rarely(0.15) and self.links:
            where = self.random.choice(self.links)
        if self._rarely(0.25):
            where += "?" + self._query()
        answer = self.send(visitor, "GET", where)
        if self._rarely(0.3):
            self.send(visitor, self.random.choice(ODD_VERBS), where)
        if self._rarely(0.3):
            body, kind = self.random.choice(fuzz_values.BODIES)
            self.send(visitor, "POST", where, body, kind)
        if answer.status_code == 405:
            self.send(visitor, "POST", where)
        elif answer.status_code in {200, 409, 422} and is_page(answer):
            self._forms(visitor, where, answer)

    def _forms(self, visitor: str, where: str, answer) -> None:
        page = read_page(answer.content.decode(), address=where)
        self.links = [
            *self.links,
            *self.random.sample(page.links, min(3, len(page.links))),
        ][-400:]
        for link in page.links:
            self.parameters += [
                key
                for key, _ in parse_qsl(urlsplit(link).query)
                if key not in self.parameters
            ]
        unseen = [
            form for form in page.forms if signature(form) not in self.report.forms
        ]
        # Every page has the one to sign out: once is enough.
        rest = [
            form
            for form in page.forms
            if form not in unseen and not form.address.startswith("/sign-out/")
        ]
        self.random.shuffle(rest)
        for form in [*unseen, *rest][:FORMS_OF_A_PAGE]:
            self.report.forms.add(signature(form))
            for _ in range(self.random.choice([1, 1, 2, 3])):
                self._fill_in(visitor, form)

    def _fill_in(self, visitor: str, form: Form) -> None:
        if self.step >= self.most:
            return
        way = self.random.random()
        likely = {
            f.name: fuzz_values.likely(f, self.random, now=self.now())
            for f in form.fields
        }
        values = dict(likely)
        if way < 0.55:
            chosen = self.random.sample(
                form.fields, min(len(form.fields), self.random.choice([1, 1, 2]))
            )
        elif way < 0.65:
            chosen = form.fields
        else:
            chosen = []
        for f in chosen:
            values[f.name] = fuzz_values.odd(f, self.random, foreign=self.foreign)
        if 0.65 <= way < 0.7:
            values = {name: [b""] for name in values}
        elif 0.7 <= way < 0.74:
            values = {}
        if form.buttons and self._rarely(0.85):
            name, value = self.random.choice(form.buttons)
            values = {**values, name: [value.encode()]}
        if self._rarely(0.03):
            values = {**values, "never asked for": [b"1"]}
        self._submit(visitor, form, values)

    def _submit(self, visitor: str, form: Form, values: dict) -> None:
        has_file = any(
            isinstance(v, SimpleUploadedFile) for vs in values.values() for v in vs
        )
        htmx = {"HX-Request": "true"} if form.is_htmx or self._rarely(0.2) else {}
        if form.method == "GET":
            pairs = [
                (k, v.name if isinstance(v, SimpleUploadedFile) else v)
                for k, vs in values.items()
                for v in vs
            ]
            # No browser sends longer addresses, and no server takes them.
            query = urlencode(pairs)[:8_000]
            self.send(
                visitor,
                "GET",
                f"{form.address.partition('?')[0]}?{query}",
                headers=htmx,
            )
        elif form.is_multipart or has_file:
            body = encode_multipart(BOUNDARY, values)
            self.send(
                visitor,
                form.method,
                form.address,
                body,
                MULTIPART_CONTENT,
                headers=htmx,
            )
        else:
            body = urlencode(values, doseq=True).encode()
            kind = "application/x-www-form-urlencoded"
            self.send(visitor, form.method, form.address, body, kind, headers=htmx)

    def _rarely(self, share: float) -> bool:
        return self.random.random() < share

    def _query(self) -> str:
        names = self.random.sample(self.parameters, min(2, len(self.parameters)))
        values = [
            self.random.choice([*fuzz_values.ODD[:-1], fuzz_values.HUGE_NUMBER]).encode(
                "utf-8", "surrogatepass"
            )
            for _ in names
        ]
        return urlencode(list(zip(names, values, strict=True)))[:8_000]

    def _filled(self, address) -> str:
        filled = {name: self._argument(address, name) for name in address.arguments}
        return reverse(address.name, kwargs=filled)

    def _argument(self, address, name: str) -> object:
        if name == "token":
            return self.random.choice(
                [*self.tokens, *self.tokens, "nonsense", self.tokens[0][:-1] + "A"]
            )
        if name == "number":
            return self.random.choice([1, 1, 2, 3, 7, 0, 10**12])
        if name == "size":
            return self.random.choice(["small", "large", "huge"])
        if name == "uidb64":
            return self.random.choice(["nonsense", "x" * 200, "MQ"])
        model = model_for(address.name)
        own = numbers(self.studio, model) if model else [1]
        if self._rarely(0.85) and own:
            return self.random.choice(own)
        return self.random.choice([0, 10**9, 2**63, 10**30, *self.foreign[:20]])

    # --- One request --------------------------------------------------------------

    def send(
        self,
        visitor,
        method,
        where,
        body=b"",
        kind="application/x-www-form-urlencoded",
        *,
        headers=None,
    ):
        """Send a request, look at the answer, and do waiting jobs now and then."""
        self.step += 1
        browser = self.browsers[visitor]
        cookies = copy.deepcopy(browser.cookies)
        path, _, query = where.partition("?")
        name = name_of(path)
        # What the machine does beside is no fault of ours: its own seconds count.
        started = time.process_time()
        with transaction.atomic():
            answer = browser.generic(
                method, path, body, kind, QUERY_STRING=query, headers=headers or {}
            )
            seconds = time.process_time() - started
            content = (
                b"".join(answer.streaming_content)
                if answer.streaming
                else answer.content
            )
            if answer.status_code >= 500 or name in ENDS_MORE_THAN_A_RECORD:
                transaction.set_rollback(True)
                browser.cookies = cookies
        told = (
            f"[seed {self.seed}, step {self.step}] {visitor}: {method} {where[:TOLD]} "
            f"({kind}) {body[:TOLD]!r} -> {answer.status_code} {name}"
        )
        self.report.statuses[answer.status_code] += 1
        self.report.addresses.add(name)
        sent_away = answer.headers.get("Location", "").startswith("/sign-in/")
        if method == "POST" and answer.status_code in {200, 204, 302} and not sent_away:
            self.report.acted.add(name)
        heapq.heappush(self.report.slowest, (round(seconds, 3), told[:300]))
        if len(self.report.slowest) > 10:
            heapq.heappop(self.report.slowest)
        for problem in self._wrong(
            visitor, method, name, answer, content, seconds, told
        ):
            if not self.report.same(problem):
                self.report.problems.append(problem)
        if self.step % JOBS_AFTER == 0:
            self._do_jobs()
        if answer.headers.get("Location", "").startswith("/sign-in/"):
            # Signed out by something it did: it comes in again.
            self.browsers[visitor] = self._browser(visitor)
        return answer

    def _wrong(self, visitor, method, name, answer, content, seconds, told):
        if answer.status_code >= 500:
            where, trace = fault_of(answer)
            yield Problem(f"{answer.status_code} {name} {where}", told, trace)
        if seconds > self.slow_s and name not in SLOW_ON_PURPOSE:
            yield Problem(f"slow {name}", f"{seconds:.2f} s {told}")
        for header, values in HEADERS.items():
            sent = answer.headers.get(header, "")
            if answer.status_code < 500 and not any(value in sent for value in values):
                yield Problem(f"{answer.status_code} {name} without {header}", told)
        kind = answer.headers.get("Content-Type", "")
        if content and (not kind or (kind.startswith("text/") and "utf-8" not in kind)):
            yield Problem(f"{answer.status_code} {name} is of kind {kind!r}", told)
        if answer.status_code >= 400 and not self._is_our_page(method, answer, content):
            yield Problem(
                f"{answer.status_code} {name} is no page of ours",
                told,
                content[:TOLD].decode("utf-8", "replace"),
            )
        if b"Traceback (most recent" in content:
            yield Problem(f"{name} shows a traceback", told)
        for secret in self._hidden_from(visitor, name):
            if (at := content.find(secret.encode())) >= 0:
                yield Problem(
                    f"{name} shows {visitor} another studio's words",
                    told,
                    content[max(0, at - 200) : at + 60].decode("utf-8", "replace"),
                )

    def _hidden_from(self, visitor: str, name: str) -> set[str]:
        own, others = self.secrets[self.studio.pk], self.secrets[self.other.pk]
        if name.startswith("commissions:shared"):
            # Whoever has the link reads what it is about, a neighbour beside the own name.
            return set() if visitor == "neighbour" else {others}
        if visitor in {"client", "nobody"}:
            return {own, others}
        return {own} if visitor == "neighbour" else {others}

    def _is_our_page(self, method: str, answer, content: bytes) -> bool:
        if method == "HEAD" or (answer.status_code == 405 and not content):
            return True
        return (
            not is_page(answer)
            or b"<main" in content
            or bool(answer.wsgi_request.headers.get("HX-Request"))
        )

    def _do_jobs(self) -> None:
        for state in run_waiting_jobs():
            self.report.jobs[str(state)] += 1
        broken = Job.across_studios.filter(error__startswith="Something in the program")
        for job in broken:
            problem = Problem(
                f"job {job.name} failed by a fault",
                f"seed {self.seed}, step {self.step}: {job.arguments}",
            )
            if not self.report.same(problem):
                self.report.problems.append(problem)
        broken.delete()


def signature(form: Form) -> tuple:
    """Return what makes two forms the same one, whichever record they are about."""
    fields = tuple(sorted({f.name for f in form.fields})[:12])
    return (
        form.method,
        name_of(form.address.partition("?")[0]),
        fields,
        tuple(form.buttons[:3]),
    )


def name_of(path: str) -> str:
    """Return the name of an address, or that it has none."""
    try:
        return resolve(path).view_name
    except Resolver404:
        return "no address"


def is_page(answer) -> bool:
    """Tell whether an answer is HTML."""
    return not answer.streaming and answer.headers.get("Content-Type", "").startswith(
        "text/html"
    )


def fault_of(answer) -> tuple[str, str]:
    """Return where the exception behind a 500 was raised, and its last lines."""
    if not (exc := getattr(answer, "exc_info", None)):
        return "", answer.content[:TOLD].decode("utf-8", "replace")
    frames = traceback.extract_tb(exc[2])
    ours = [f for f in frames if "site-packages" not in f.filename] or frames
    where = f"{exc[0].__name__} {os.path.relpath(ours[-1].filename)}:{ours[-1].name}"
    return where, "".join(traceback.format_exception(*exc))[-2500:]


def owned_models() -> list[type]:
    """Return every kind of record that belongs to a studio."""
    return [model for model in apps.get_models() if issubclass(model, StudioOwned)]


def numbers(studio: Studio, model: type) -> list[int]:
    """Return the numbers of a studio's records."""
    return list(
        model.owned.for_studio(studio).order_by("pk").values_list("pk", flat=True)
    )


def mark_names(studio: Studio, secret: str) -> None:
    """Put a word into all that a studio's people wrote, to know it again elsewhere.

    Issued invoices are frozen by triggers, which are away meanwhile.
    """
    guard.drop_triggers(using="default")
    Studio.objects.filter(pk=studio.pk).update(name=f"{studio.name} {secret}")
    for model in owned_models():
        for f in model._meta.get_fields():
            is_text = isinstance(f, CharField | TextField) and not getattr(
                f, "choices", None
            )
            if (
                is_text
                and f.name in NAMES
                and not f.unique
                and (f.max_length or 999) >= 60
            ):
                marked = Concat(F(f.name), Value(f" {secret}"))
                model.across_studios.filter(studio=studio).exclude(
                    **{f.name: ""}
                ).update(**{f.name: marked})
    guard.create_triggers(using="default")


def main() -> None:
    """Send many requests to a demo in a folder of its own, and print what came."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--requests", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--slow", type=float, default=2.0, help="seconds")
    parser.add_argument(
        "--walk", type=int, default=2_000, help="requests before the demo is new again"
    )
    given = parser.parse_args()
    from commissions.demo.load import load
    from firing.physics.slab.warm import warm_up

    logging.disable(logging.CRITICAL)
    setup_test_environment()
    call_command("migrate", verbosity=0)
    warm_up()
    load(now=MONDAY_MORNING, seed=7)
    studio = Studio.objects.get(name="Ebbside Kilns")
    report = Report(seed=given.seed)
    left, seed = given.requests, given.seed
    began = time.monotonic()
    while left > 0:
        with override_settings(DESIGN_BUDGET_SECONDS=1.0), transaction.atomic():
            fuzz = Fuzz(studio, report, seed=seed, slow_s=given.slow)
            before = len(report.problems)
            fuzz.run(min(left, given.walk))
            transaction.set_rollback(True)
        for problem in report.problems[before:]:
            print("PROBLEM", problem, flush=True)
        left, seed = left - given.walk, seed + 1
        print(
            f"{given.requests - left} requests, {time.monotonic() - began:.0f} s",
            dict(report.statuses),
            flush=True,
        )
    print(report)
    raise SystemExit(bool(report.problems))


if __name__ == "__main__":
    main()
