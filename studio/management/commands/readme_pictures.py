"""Takes the README's pictures of a running demo, with the tests' browser."""

import importlib
from argparse import ArgumentParser
from pathlib import Path

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from studio import bootstrap

FOLDER = ".readme"
WIDTH, HEIGHT = 1280, 860
FIRING_LINK = "main a[href^='/firings/']:has-text('Groyne')"
PIECE_LINK = "a[href*='/pieces/']:has-text('Spring tide')"


class Command(BaseCommand):
    """``manage.py readme_pictures --address http://127.0.0.1:8000``."""

    help = "Take the README's pictures from a demo that is running."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--address", default="http://127.0.0.1:8000")
        parser.add_argument("--email", default="wren@example.org")
        parser.add_argument("--password", default="slow-cooling")

    def handle(self, *, address: str, email: str, password: str, **_: object) -> None:
        try:
            playwright = importlib.import_module("playwright.sync_api")
        except ModuleNotFoundError as missing:
            raise CommandError(
                "The tests' packages are needed: run `python3 manage.py test` once."
            ) from missing
        chromium = bootstrap.find_chromium()
        if chromium is None:
            raise CommandError(
                "Chromium is needed: " + bootstrap.apt_command(["chromium"])
            )
        folder = Path(settings.BASE_DIR) / FOLDER
        folder.mkdir(exist_ok=True)
        with playwright.sync_playwright() as running:
            browser = running.chromium.launch(
                executable_path=chromium, args=["--no-sandbox"]
            )
            page = browser.new_page(
                viewport={"width": WIDTH, "height": HEIGHT}, color_scheme="light"
            )
            page.goto(f"{address}/sign-in/")
            page.get_by_label("E-mail address").fill(email)
            page.get_by_label("Password").fill(password)
            page.get_by_role("button", name="Sign in").click()
            page.wait_for_load_state("networkidle")
            page.goto(f"{address}/pieces/")
            piece = page.locator(PIECE_LINK).first.get_attribute("href")
            page.goto(f"{address}/firings/?verdict=problem")
            failed = page.locator(FIRING_LINK)
            if not failed.count():
                raise CommandError("No verdict is there yet: wait for the worker.")
            verdict = f"{failed.first.get_attribute('href')}judgement/"
            for name, path in (
                ("piece", piece),
                ("kilns", "/kilns/"),
                ("verdict", verdict),
            ):
                answer = page.goto(f"{address}{path}")
                if answer is None or not answer.ok:
                    raise CommandError(f"{address}{path} did not answer with a page.")
                page.wait_for_load_state("networkidle")
                page.screenshot(path=folder / f"{name}.png")
            browser.close()
        self.stdout.write(f"Wrote piece.png, kilns.png and verdict.png into {FOLDER}.")
