"""From a client's request to two options they can choose between, nothing asked twice."""

import pytest
from playwright.sync_api import expect

from commissions.models import Quote
from tests.browser.walk import Walk
from tests.conftest import keeper

pytestmark = [
    pytest.mark.browser,
    pytest.mark.slow,
    pytest.mark.django_db(transaction=True),
]

ASKED = {
    "client_name": "Ada Fenwright",
    "client_email": "ada@example.org",
    "title": "Low water",
    "brief": "A creek at low water, for the hall.",
    "width_mm": "12",
    "height_mm": "8",
    "layer_count": "20",
}


class CountingWalk(Walk):
    """A person whose presses and typed fields are counted."""

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.presses, self.typed = 0, []

    def press(self, name):
        self.presses += 1
        super().press(name)

    def fill(self, **values):
        self.typed += values
        super().fill(**values)

    def check(self, label):
        self.presses += 1
        self.page.get_by_label(label).check()

    def empty_fields(self):
        """Return the names of what can be seen and typed into, and holds nothing."""
        return self.page.locator("main :is(input, textarea):visible").evaluate_all(
            "all => all.filter(one => !one.value).map(one => one.name)"
        )


def test_two_options_are_priced_sent_and_one_is_picked(
    cast, page, new_context, sign_in, live_server, screenshot
):
    sign_in("maker")
    walk = CountingWalk(page, live_server.url, screenshot, name="options", size="desk")
    walk.go("/commissions/")
    walk.press("New commission")
    walk.fill(**ASKED)
    expect(page.get_by_label("Maquette width")).to_be_hidden()
    walk.check("Make a maquette first")
    expect(page.get_by_label("Maquette width")).to_be_visible()
    walk.press("Save and quote")

    # The quote shows what was typed, and asks for nothing but words and a date.
    walk.reads("Size: 12 × 8 in")
    walk.reads(ASKED["client_name"])
    assert walk.empty_fields() == ["message", "promised_date"]
    walk.press("Keep this quote")
    walk.press("Add an option")

    # The option starts from the brief, so only what differs is typed.
    held = {
        name: page.locator(f"[name={name}]").input_value()
        for name in ("width_mm", "height_mm", "layer_count")
    }
    assert held == {"width_mm": "12 in", "height_mm": "8 in", "layer_count": "20"}
    expect(page.get_by_label("Make a maquette first")).to_be_checked()
    assert walk.empty_fields() == ["name"], "and that may stay empty"
    walk.look("option")
    walk.fill(width_mm="9", height_mm="6")
    walk.press("Add the option")
    walk.reads("9 × 6 in")
    walk.press("Send both to the client")

    link = page.locator("input[value*='/c/']").first.input_value()
    href = page.get_by_role("link", name="Open my mail program").get_attribute("href")
    assert href.startswith("mailto:ada@example.org?")
    # Six pages, nine fields and seven presses: under two minutes at 40 words a minute.
    assert walk.presses == 7
    assert len(walk.typed) == len(ASKED) + 2

    guest_page = new_context(reduced_motion="reduce").new_page()
    guest = Walk(
        guest_page,
        live_server.url,
        keeper(guest_page),
        name="options-client",
        size="desk",
    )
    guest_page.goto(link)
    guest.look("choose")
    cards = guest_page.locator(".option")
    first, second = (card.bounding_box() for card in cards.all())
    assert first["y"] == second["y"], "side by side"
    assert first["x"] + first["width"] <= second["x"]
    for card, size, option in zip(cards.all(), ("12 × 8", "9 × 6"), "AB", strict=True):
        total = cast.viewer().money(Quote.across_studios.get(option=option).total)
        expect(card).to_contain_text(size)
        expect(card).to_contain_text(total)
    guest_page.get_by_label("9 × 6 in").check()
    guest.fill(name="Ada Fenwright")
    guest_page.get_by_label("I accept this quote").check()
    guest.press("Accept the quote")
    expect(guest_page.get_by_text("Choose one of 2")).to_have_count(0)
    taken = Quote.across_studios.get(accepted_at__isnull=False)
    assert (taken.option, taken.option_name) == ("B", "9 × 6 in")
    for one in (walk, guest):
        assert one.complaints == []
