"""A wall that hears nothing more."""

import pytest
from playwright.sync_api import Page, expect

from tests.browser.served import Served

pytestmark = pytest.mark.slow

NOTICE_MS = 10_000
RETURN_MS = 15_000


def test_nothing_goes_on_while_the_server_is_lost(two_houses: Served, wall: Page) -> None:
    """Old is never shown as now: the age grows, and the clock stands at when the server was last heard."""
    two_houses.kill()
    expect(wall.get_by_role("alert").filter(has_text="No word from the server")).to_be_visible(timeout=NOTICE_MS)
    stood = wall.get_by_role("time").inner_text()
    for age in ("5 s old", "7 s old"):
        expect(wall.get_by_text(age)).to_be_visible(timeout=NOTICE_MS)
    expect(wall.get_by_text(f"it stood so at {stood}")).to_be_visible()
    assert wall.get_by_role("time").inner_text() == stood


def test_a_silent_connection_is_lost_though_it_is_open_and_comes_back(two_houses: Served, wall: Page) -> None:
    """A stalled network closes no socket; the desk notices by its own clock, and goes on once it is heard again."""
    lost = wall.get_by_role("heading", name="No word from the server")
    two_houses.stall()
    expect(lost).to_be_visible(timeout=NOTICE_MS)
    two_houses.go_on()
    expect(lost).to_be_hidden(timeout=RETURN_MS)
