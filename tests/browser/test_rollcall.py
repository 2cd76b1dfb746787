"""The roll call's page, with a box on a pseudo-terminal behind it."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import BrowserContext, Locator, Page, expect

from tests.browser.served import Served, served, written_plan
from tests.cli.booth import Booth

pytestmark = pytest.mark.slow


@pytest.fixture
def booth(tmp_path: Path) -> Iterator[Booth]:
    with Booth(tmp_path).speaking() as speaking:
        yield speaking


@pytest.fixture
def wired(booth: Booth, tmp_path: Path) -> Iterator[Served]:
    """A run of two houses, of which the first has its motor and its lamp on contacts."""
    arguments = ("serve", str(written_plan(tmp_path)), "--contacts", str(booth.wiring), "--data", str(booth.data))
    with served(*arguments, "--port", "0") as server:
        yield server


@pytest.fixture
def page(wired: Served, context: BrowserContext) -> Page:
    page = context.new_page()
    page.goto(wired.desk("rollcall"))
    row(page, "motor").get_by_text("off").wait_for()
    return page


def row(page: Page, what: str) -> Locator:
    return page.get_by_role("row", name=f"House 1, {what}")


def test_every_contact_is_closed_seen_and_the_result_kept(
    clean: BrowserContext, wired: Served, page: Page, booth: Booth
) -> None:
    """The crew is told what is to go, sees each contact arrive, and the booth keeps the result."""
    page.get_by_role("button", name="Begin, in any order").click()
    expect(page.get_by_text("contacts do not count in the show until it ends")).to_be_visible()
    expect(page.get_by_role("status", name="Next")).to_contain_text("2 to go")
    booth.box.levels[2] = True
    expect(row(page, "lamp")).to_contain_text("closed, not opened yet")
    booth.box.levels[2] = False
    expect(row(page, "lamp")).to_contain_text("✓ seen")
    expect(row(page, "motor")).to_contain_text("missing")
    booth.box.levels[1] = True
    expect(row(page, "motor")).to_contain_text("closed, not opened yet")
    booth.box.levels[1] = False
    expect(page.get_by_role("status", name="Next")).to_contain_text("Every input was seen.")
    page.get_by_role("button", name="Keep this result").click()
    expect(page.get_by_role("status", name="Answer")).to_contain_text("✓ The result is kept with the run.")
    events = page.request.get(f"{wired.base}/api/runs/{wired.runs[0]}").json()["events"]
    assert [event["kind"] for event in events if event["kind"] != "feed_up"] == ["note"] * 3


def test_a_contact_that_moves_instead_is_told(page: Page, booth: Booth) -> None:
    """Asked to close the motor's, the lamp's moved: the wires are changed over."""
    page.get_by_role("button", name="Begin, in any order").click()
    page.get_by_role("button", name="Close House 1, motor next").click()
    expect(page.get_by_role("status", name="Next")).to_contain_text("Close House 1, motor (north/1)")
    booth.box.levels[2] = True
    expect(row(page, "motor")).to_contain_text("The lamp of House 1 (north/2) moved instead")
    expect(row(page, "lamp")).to_contain_text("closed, not opened yet")
    page.get_by_role("button", name="Skip this one").click()
    expect(page.get_by_role("status", name="Next")).to_contain_text("Close House 1, lamp (north/2)")


def test_a_port_that_is_gone_is_told_and_nothing_old_is_shown_as_now(page: Page, booth: Booth) -> None:
    """Unplugged, no level is known."""
    booth.stop()
    booth.box.unplug()
    expect(page.get_by_text("north: ")).to_be_visible()
    expect(row(page, "motor")).to_contain_text("not known")


def test_levels_that_are_not_heard_are_not_shown_as_now(page: Page) -> None:
    """The run is heard and its contacts are not: no level stands on the page."""
    page.route("**/contacts", lambda route: route.abort())
    expect(page.get_by_text("The server does not say how the contacts stand.")).to_be_visible()
    expect(row(page, "motor")).to_have_count(0)
    page.unroute("**/contacts")
    expect(row(page, "motor")).to_contain_text("off")


def test_a_run_without_contacts_says_how_to_give_it_some(two_houses: Served, context: BrowserContext) -> None:
    """An empty desk says what to do next."""
    page = context.new_page()
    page.goto(two_houses.desk("rollcall"))
    expect(page.get_by_text("This run has no contacts here: start it with a wiring file")).to_be_visible()


def test_the_page_is_accessible(page: Page) -> None:
    """By axe, with a roll call on."""
    page.get_by_role("button", name="Begin, one after another").click()
    expect(page.get_by_role("status", name="Next")).to_contain_text("Close House 1, motor")
    assert Axe().run(page).response["violations"] == []


def test_a_run_that_is_not_known_is_said_so_with_a_way_on(wired: Served, context: BrowserContext) -> None:
    """A wrong name in the address is told as that, not as a run without contacts, and leads to the live runs."""
    page = context.new_page()
    page.goto(f"{wired.base}/rollcall?run=nowhere")
    expect(page.get_by_text("No live run has the name in this address.")).to_be_visible()
    expect(page.get_by_text("This run has no contacts")).to_have_count(0)
    expect(page.get_by_role("link", name="Choose a live run")).to_have_attribute("href", "/")
