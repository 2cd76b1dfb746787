"""A desk that hears nothing more."""

from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.browser.hands import name
from tests.browser.served import TITLES, Served, served_plans, written_plan

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


@pytest.mark.parametrize("desk", ["wall", "booth"])
def test_a_desk_of_a_run_that_is_no_longer_live_leads_to_the_one_that_is(
    desk: str, two_houses: Served, context: BrowserContext, tmp_path: Path
) -> None:
    """Where the server was started with another plan no tap is promised to be sent: the desk goes on to that run."""
    page = context.new_page()
    page.goto(two_houses.desk(desk))
    if desk == "booth":
        name(page, "Ines")
    two_houses.kill()
    with served_plans(written_plan(tmp_path, TITLES[1]), port=two_houses.port):
        expect(page.get_by_role("heading", name="This run is no longer live")).to_be_visible(timeout=RETURN_MS)
        assert "are sent when it is back" not in page.get_by_role("region", name="Connection").inner_text()
        page.get_by_role("link", name="Go to the live run").click()
        expect(page.get_by_role("heading", name=TITLES[1])).to_be_visible(timeout=RETURN_MS)


def test_a_wall_that_cannot_know_which_run_leads_to_all(two_runs: Served, context: BrowserContext) -> None:
    """Where several runs are live a wall without one says so, and leads to where one is chosen."""
    page = context.new_page()
    page.goto(f"{two_runs.base}/wall")
    expect(page.get_by_role("main").get_by_text("Several runs are live: choose one.")).to_be_visible(timeout=RETURN_MS)
    page.get_by_role("link", name="All live runs").click()
    expect(page.get_by_role("navigation", name=TITLES[0])).to_be_visible(timeout=RETURN_MS)
