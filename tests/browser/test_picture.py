"""The picture and the chart of a running show, and that both can be read and reached."""

import re

import pytest
from playwright.sync_api import Browser, BrowserContext, expect

from tests.browser.hands import open_booth
from tests.browser.served import Served

pytestmark = pytest.mark.slow

READ_MS = 10_000
SMALLEST_PX = 48
"""WCAG 2.2, 2.5.5 asks for 44; the desks are used in the dark: chosen."""

FILM = """() => document.querySelector("wall-desk").shadowRoot.querySelector("chain-picture").shadowRoot
    .querySelector("canvas").toDataURL()"""


APART = """() => {
    const chart = document.querySelector("wall-desk").shadowRoot.querySelector("string-chart").shadowRoot;
    const box = (text) => text.getBoundingClientRect();
    const now = box(chart.querySelector(".now-text"));
    const times = [...chart.querySelectorAll(".time")].map(box);
    return times.length > 2 && times.every((time) => time.right < now.left || time.left > now.right);
}"""


def test_the_film_moves(demo: Served, clean: BrowserContext) -> None:
    """The browser goes on moving the film from what it was told last."""
    page = clean.new_page()
    page.goto(demo.desk("wall"))
    expect(page.get_by_text(re.compile("^Nothing wrong: nine motors running")).last).to_be_visible(timeout=READ_MS)
    before = page.evaluate(FILM)
    page.wait_for_function(f"(before) => ({FILM})() !== before", arg=before)


@pytest.mark.parametrize("width", [1024, 1920])
def test_the_time_that_it_is_stands_clear_of_the_others(demo: Served, browser: Browser, width: int) -> None:
    """Whatever time it is: no other is written under it on the chart."""
    with browser.new_context(viewport={"width": width, "height": 1080}) as context:
        page = context.new_page()
        page.goto(demo.desk("wall"))
        expect(page.get_by_text(re.compile("^Nothing wrong: nine motors running")).last).to_be_visible(timeout=READ_MS)
        for _ in range(10):
            assert page.evaluate(APART)
            page.wait_for_timeout(300)


@pytest.mark.parametrize("name", ["The chain as a table", "The chart as a table"])
def test_what_is_drawn_can_be_read(demo: Served, clean: BrowserContext, name: str) -> None:
    """The picture and the chart have tables that name every house."""
    page = clean.new_page()
    page.goto(demo.desk("wall"))
    page.get_by_text(name, exact=True).click()
    expect(page.get_by_role("region", name=name).get_by_role("rowheader")).to_have_count(9)


@pytest.mark.parametrize(("width", "height"), [(1024, 768), (768, 1024)])
def test_targets_on_a_tablet_are_large_enough(two_houses: Served, browser: Browser, width: int, height: int) -> None:
    """Every button can be hit with a thumb, and nothing hangs over the side."""
    with browser.new_context(viewport={"width": width, "height": height}, has_touch=True) as context:
        page = context.new_page()
        open_booth(page, two_houses, "House 2")
        expect(page.get_by_role("heading", name="House 2")).to_be_visible()
        boxes = [button.bounding_box() for button in page.get_by_role("button").all()]
        shown = [box for box in boxes if box]
        assert len(shown) > 10
        assert [box for box in shown if min(box["height"], box["width"]) < SMALLEST_PX] == []
        assert page.evaluate("() => document.documentElement.scrollWidth") <= width
