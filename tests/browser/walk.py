"""A person walking through the pages in a real browser."""

import re

from playwright.sync_api import expect

from tests.browser.screen import SIZES, faults_of, px_too_wide, set_up, settle
from tests.patience import in_form


class Walk:
    """A person at a browser: goes, presses, fills, and looks closely at each page.

    They hold one screen in hand and look at each page on every size of screen.
    """

    def __init__(self, page, address, screenshot, *, name, size):
        self.page = page
        self.address = address
        self.screenshot = screenshot
        self.name = name
        self.complaints = []
        self.looked_at = 0
        self.hold(size)
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.on(
            "console",
            lambda said: (
                self.complaints.append(f"{said.text} at {page.url}")
                if said.type == "error"
                else None
            ),
        )

    def hold(self, size):
        """Go on with a screen of this size."""
        self.size = size
        set_up(self.page, size=size)

    def go(self, path):
        self.page.goto(self.address + path)

    def press(self, name):
        """Press a button or follow a link, whichever carries the words."""
        words = re.compile(f"^{re.escape(name)}$")
        target = self.page.get_by_role("button", name=words).or_(
            self.page.get_by_role("link", name=words)
        )
        target.first.click()

    def fill(self, **values):
        """Fill fields by their names in the form."""
        for name, value in values.items():
            self.page.locator(f"[name={name}]").first.fill(value)

    def look(self, name):
        """Check the page as it stands: whole, no wider than the screen, accessible.

        The last in the size in hand; the long form does so in every size.
        """
        settle(self.page)
        self.looked_at += 1
        in_hand = self.size
        for size in (*(size for size in SIZES if size != in_hand), in_hand):
            self.hold(size)
            where = f"{name} on a {size}"
            if size == in_hand or in_form(short=False, long=True):
                faults = faults_of(self.page)
                assert faults == [], f"{where}: {faults}"
            assert px_too_wide(self.page) <= 0, f"{where} is wider than the screen"
            self.screenshot(f"{self.name}-{size}-{self.looked_at:02d}-{name}")

    def pass_by(self, _name):
        """Wait for a page like one that was looked at before."""
        settle(self.page)

    def reads(self, words):
        expect(self.page.locator("main")).to_contain_text(words)
