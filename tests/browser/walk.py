"""A person who walks through the pages in a real browser."""

import re

from playwright.sync_api import expect

from tests.browser.screen import faults_of, px_too_wide, set_up


class Walk:
    """A person at a browser: goes, presses, fills, and looks closely at each page."""

    def __init__(self, page, address, screenshot, size):
        self.page = page
        self.address = address
        self.screenshot = screenshot
        self.size = size
        self.complaints = []
        self.looked_at = 0
        set_up(page, size=size)
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.on(
            "console",
            lambda said: (
                self.complaints.append(f"{said.text} at {page.url}")
                if said.type == "error"
                else None
            ),
        )

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
        """Check the page as it stands: whole, no wider than the screen, accessible."""
        self.page.wait_for_load_state("networkidle")
        faults = faults_of(self.page)
        assert faults == [], f"{name}: {faults}"
        assert px_too_wide(self.page) <= 0, f"{name} is wider than the screen"
        self.looked_at += 1
        self.screenshot(f"ten-steps-{self.size}-{self.looked_at:02d}-{name}")

    def reads(self, words):
        expect(self.page.locator("main")).to_contain_text(words)
