"""The overview of every site, and the library and debrief of an archive, in a browser."""

import json
import re
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import BrowserContext, Locator, Page, expect
from sqlalchemy import text

from tests.archive.company import company, shown
from tests.archive.conftest import Archive
from tests.archive.test_months import made
from tests.archive.test_overview import tap
from tests.browser.served import Served

pytestmark = pytest.mark.slow
SIZES = [{"width": 1024, "height": 768}, {"width": 1920, "height": 1080}, {"width": 390, "height": 844}]
TITLES = {"north": "A Short Walk", "south": "Two by Lantern Light", "west": "The Ferry, and What Came of It Afterwards"}

HEARD_NOW = text("""
WITH told AS (SELECT * FROM jsonb_to_recordset(CAST(:rows AS jsonb)) AS row (site text, told jsonb)),
    heard AS (INSERT INTO festoon.heard (site, waiting) SELECT site, 0 FROM told)
INSERT INTO festoon.pictures SELECT site, 'a', now(), told FROM told
""")


@pytest.fixture
def sites(archive: Archive, tmp_path: Path) -> Iterator[dict[str, Served]]:
    with company(archive, tmp_path, TITLES) as sites:
        yield sites


@pytest.fixture
def page(archive: Archive, sites: dict[str, Served], clean: BrowserContext) -> Iterator[Page]:
    archive.site("east")
    with shown(archive) as server:
        page = clean.new_page()
        page.goto(f"{server.base}/overview")
        expect(rows(page)).to_have_count(4)
        yield page


def rows(page: Page) -> Locator:
    return page.get_by_role("list", name="Runs, worst first").get_by_role("listitem")


def test_the_worst_is_first_and_leads_to_its_wall(page: Page, sites: dict[str, Served]) -> None:
    """A motor that stops at one site brings that to the top by itself; one touch, and its wall is there."""
    for kind in ("motor_start", "motor_stop"):
        tap(sites["south"], kind)
    expect(rows(page).first).to_have_attribute("aria-label", "south: Two by Lantern Light")
    expect(rows(page).first).to_contain_text("Film stands: House 1")
    expect(rows(page).last).to_contain_text("Never heard of")
    expect(page.get_by_role("heading", level=1)).to_have_text("1 run needs somebody now")
    rows(page).first.get_by_role("link").click()
    page.get_by_role("article", name="House 1").wait_for()
    assert page.url.startswith(sites["south"].base)


@pytest.mark.parametrize("size", SIZES, ids=lambda size: str(size["width"]))
def test_it_fits_and_is_open_to_everybody(page: Page, sites: dict[str, Served], size: dict[str, int]) -> None:
    """Nothing is cut off at any size, and no rule of accessibility that a program can check is broken."""
    for kind in ("motor_start", "motor_stop"):
        tap(sites["south"], kind)
    expect(rows(page).first).to_contain_text("Film stands")
    page.set_viewport_size({"width": size["width"], "height": size["height"]})
    assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth")
    for link in rows(page).get_by_role("link").all():
        box = link.bounding_box()
        assert box is not None
        assert box["height"] >= 48
    assert Axe().run(page).response["violations"] == []


def test_sixty_sites_fit_a_wall(archive: Archive, clean: BrowserContext) -> None:
    """What needs somebody is large and first, and the quiet sites of a large company are all seen with it at once."""
    _live(archive, {f"site{number}": ["House 2"] if number in {20, 40} else [] for number in range(1, 61)})
    with shown(archive) as server:
        page = clean.new_page()
        page.set_viewport_size({"width": 1920, "height": 1080})
        page.goto(f"{server.base}/overview")
        expect(rows(page)).to_have_count(60)
        expect(rows(page).first).to_contain_text("Dark gate: House 2")
        assert page.evaluate("() => document.documentElement.scrollHeight <= innerHeight")
        assert Axe().run(page).response["violations"] == []
        for size in SIZES:
            page.set_viewport_size({"width": size["width"], "height": size["height"]})
            assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth")


def _live(archive: Archive, dark: dict[str, list[str]]) -> None:
    """Sites with a live run each and what is dark there, as if their forwarding had told it just now."""
    stations = [{"house": str(house), "phase": "showing"} for house in (1, 2)]
    told = {"format": 1, "title": "Two by Lantern Light", "state": "running", "stations": stations}
    for site in dark:
        archive.site(site)
        made(archive, site, "a", datetime.now(UTC).date(), 2, None)
    # All in one statement, after all that takes long: a site that said nothing for a while counts as silent.
    rows = [{"site": site, "told": told | {"dark": houses}} for site, houses in dark.items()]
    with archive.owner.begin() as owner:
        owner.execute(HEARD_NOW, {"rows": json.dumps(rows)})


def test_a_server_that_says_nothing_is_told_across_the_page(
    archive: Archive,
    clean: BrowserContext,
) -> None:
    """What is old is never shown as now."""
    archive.site("north")
    with shown(archive) as server:
        page = clean.new_page()
        page.goto(f"{server.base}/overview")
        expect(rows(page)).to_have_count(1)
        server.stall()
        expect(page.get_by_role("heading", name="No word from the server")).to_be_visible()
        server.go_on()
        expect(page.get_by_role("heading", name="No word from the server")).to_have_count(0)


def test_a_run_of_a_site_is_found_and_gone_through(page: Page, sites: dict[str, Served]) -> None:
    """The library has the runs of all sites and nothing that changes them; a debrief is the site's own."""
    tap(sites["north"], "motor_start")
    page.get_by_role("link", name="Library of runs").click()
    page.get_by_role("combobox", name="Site").select_option("north")
    run = page.get_by_role("list", name="Runs").get_by_role("listitem")
    expect(run).to_have_count(1)
    expect(run).to_contain_text("north:a-short-walk")
    expect(page.get_by_role("button", name=re.compile("Remove|Put away"))).to_have_count(0)
    run.get_by_role("link").click()
    expect(page.get_by_text("A Short Walk").first).to_be_visible()
    expect(page.get_by_text(re.compile("live at its site and not finished"))).to_be_visible()
    expect(page.get_by_role("heading", name=re.compile("What happened"))).to_be_visible()


def test_sites_and_months_are_charts_that_are_their_tables(archive: Archive, clean: BrowserContext) -> None:
    """What goes wrong where is told as figures and bars, for one site or all."""
    today = datetime.now(UTC).date()
    for site, trouble in {"north": '{"film_trip": 2}', "south": '{"misfit": 6}'}.items():
        archive.site(site)
        made(archive, site, "a", today, 2, trouble)
    with shown(archive) as server:
        page = clean.new_page()
        page.goto(f"{server.base}/months")
        sites = page.get_by_role("table", name="By site").get_by_role("row")
        expect(sites).to_have_text(
            [re.compile("Alarms an hour"), re.compile(r"south\s+3.00"), re.compile(r"north\s+1.00")]
        )
        assert Axe().run(page).response["violations"] == []
        page.get_by_role("combobox", name="Site").select_option("north")
        expect(page.get_by_role("table", name="By kind").get_by_role("row")).to_have_count(2)
        page.set_viewport_size({"width": 390, "height": 844})
        assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth")
