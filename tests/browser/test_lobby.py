"""What the lobby's reader can do: sort the houses, and see what changed since the last look."""

import re

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.browser.hands import report
from tests.browser.served import Served

pytestmark = pytest.mark.slow

READ_MS = 10_000
HOUSES = ["1", "2", "3", "4", "5", "6", "7", "8", "9"]


def test_the_houses_stand_as_the_reader_likes(demo: Served, clean: BrowserContext) -> None:
    """A touch of a heading sorts by it, and the next visit has the same order."""
    page = clean.new_page()
    page.goto(f"{demo.base}/lobby")
    houses = page.get_by_role("rowheader")
    expect(houses).to_have_text(["3", "1", "2", "5", "4", "6", "9", "8", "7"], timeout=READ_MS)
    page.get_by_role("button", name="House").click()
    expect(houses).to_have_text(HOUSES)
    expect(page.get_by_role("columnheader", name="House")).to_have_attribute("aria-sort", "ascending")
    page.reload()
    expect(houses).to_have_text(HOUSES, timeout=READ_MS)


def come_on_screen(page: Page, served: Served) -> None:
    """House 1 was started a minute ago: its head, 60 counter feet on, is at the gate since."""
    report(page, served, "motor_start", "a", 60.0)


def test_what_changed_is_marked_until_it_is_seen(two_houses: Served, context: BrowserContext) -> None:
    """A house that came on screen says so, until the reader says that it was seen."""
    lobby = context.new_page()
    lobby.goto(f"{two_houses.base}/lobby")
    expect(lobby.get_by_role("rowheader")).to_have_count(2, timeout=READ_MS)
    lobby.wait_for_function("() => Object.keys(document.querySelector('lobby-desk').memory.seen).length === 2")
    come_on_screen(lobby, two_houses)
    house = lobby.get_by_role("row", name=re.compile("^1 on screen since"))
    expect(house).to_contain_text("came on screen", timeout=READ_MS)
    lobby.get_by_role("button", name="One changed since you looked: mark as seen").click()
    expect(house).not_to_contain_text("came on screen")
    lobby.reload()
    expect(house).to_be_visible(timeout=READ_MS)
    expect(lobby.get_by_text("came on screen")).to_have_count(0)


def test_what_changed_while_the_page_was_away_is_marked(two_houses: Served, context: BrowserContext) -> None:
    """Whoever comes back to the lobby is told what is other than when it was left."""
    lobby = context.new_page()
    lobby.goto(f"{two_houses.base}/lobby")
    expect(lobby.get_by_role("rowheader")).to_have_count(2, timeout=READ_MS)
    lobby.goto("about:blank")
    come_on_screen(lobby, two_houses)
    lobby.goto(f"{two_houses.base}/lobby")
    expect(lobby.get_by_role("row", name=re.compile("^1 on screen since"))).to_contain_text(
        "came on screen", timeout=READ_MS
    )
