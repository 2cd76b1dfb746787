"""What people read on the desks of a demonstration, by role and name."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import BrowserContext, Page, Route, expect

from tests.browser.served import TITLES, Served, served

pytestmark = pytest.mark.slow

READ_MS = 10_000
STRIKE_MS = 30_000
COLUMNS = [re.compile(f"^{name}") for name in ("House", "Now, by start", "Then, by let-out")]
HOUSES = ["3", "1", "2", "5", "4", "6", "9", "8", "7"]
"""Those of fixtures/plans/larkspur.plan.toml in film order, which is the order of their starts."""


def test_the_wall_tells_every_house_in_words(demo: Served, clean: BrowserContext) -> None:
    """The wall of the demonstration says that it is simulated, and has a card for every house in film order."""
    page = clean.new_page()
    page.goto(demo.desk("wall"))
    expect(page.get_by_role("heading", name="The Cartographer's Daughter")).to_be_visible(timeout=READ_MS)
    expect(page.get_by_text("a simulated run at 40 times speed")).to_be_visible()
    cards = page.get_by_role("article")
    expect(cards).to_have_count(len(HOUSES))
    for card, house in zip(cards.all(), HOUSES, strict=True):
        expect(card).to_have_accessible_name(f"House {house}")
        expect(card).to_contain_text(re.compile("lamp|lit|out"))
    expect(cards.first).to_contain_text("on screen since", timeout=READ_MS)


def test_a_missed_strike_is_told_with_what_to_do(clean: BrowserContext) -> None:
    """Where the drill leaves House 5 unlit the wall says what to do, and the lobby that the screen is dark.

    All the while the lobby holds one websocket for the one run, however often it reads the list of runs.
    """
    with served("demo", "--port", "0", "--speed", "20") as demo:
        wall, lobby = clean.new_page(), clean.new_page()
        sockets: list[str] = []
        lobby.on("websocket", lambda socket: sockets.append(socket.url))
        wall.goto(demo.desk("wall"))
        lobby.goto(f"{demo.base}/lobby")
        alarm = wall.get_by_role("listitem", name=re.compile("^Act now: House 5: the strike window has closed"))
        expect(alarm).to_contain_text("strike the lamp now", timeout=STRIKE_MS)
        house = lobby.get_by_role("row", name=re.compile("^5 "))
        expect(house).to_contain_text("screen dark since", timeout=READ_MS)
        expect(house).to_contain_text("on screen since", timeout=READ_MS)
        with lobby.expect_response("**/api/runs", timeout=READ_MS):
            pass
        assert [url.partition("/api")[2] for url in sockets] == [f"/runs/{demo.runs[0]}/live"]


def test_the_lobby_tells_every_house_by_its_start(demo: Served, clean: BrowserContext) -> None:
    """The lobby is a table of the houses by their start, in words, and says that the run is simulated."""
    page = clean.new_page()
    page.goto(f"{demo.base}/lobby")
    table = page.get_by_role("table", name="Every house")
    expect(table.get_by_role("columnheader")).to_have_text(COLUMNS, timeout=READ_MS)
    expect(table.get_by_role("rowheader")).to_have_text(HOUSES)
    expect(table.get_by_role("row", name=re.compile("^3 on screen since .* lets out "))).to_be_visible(timeout=READ_MS)
    expect(page.get_by_text("Demo: a simulated run")).to_be_visible()
    words = page.get_by_role("main").inner_text().lower()
    assert not re.search(r"\b(head|link|slack|drift|gate|leader)\b", words)


def test_the_first_page_of_one_run_is_its_wall(demo: Served, clean: BrowserContext) -> None:
    """Where only one run is live the first page is its wall, and the wall leads to the booth and the lobby."""
    page = clean.new_page()
    page.goto(demo.base)
    expect(page.get_by_role("article", name="House 3")).to_be_visible(timeout=READ_MS)
    expect(page).to_have_url(demo.desk("wall"))
    desks = page.get_by_role("navigation", name="Desks")
    expect(desks.get_by_role("link", name="booth")).to_have_attribute("href", f"/booth?run={demo.runs[0]}")
    desks.get_by_role("link", name="lobby").click()
    expect(page.get_by_role("rowheader", name="3", exact=True)).to_be_visible(timeout=READ_MS)


def test_the_first_page_of_two_runs_leads_to_each(two_runs: Served, clean: BrowserContext) -> None:
    """Where two runs are live the first page lists them with their desks, and the lobby has the houses of both."""
    page = clean.new_page()
    page.goto(two_runs.base)
    for run, title in zip(two_runs.runs, TITLES, strict=True):
        links = page.get_by_role("navigation", name=title).get_by_role("link")
        expect(links).to_have_count(2, timeout=READ_MS)
        assert [link.get_attribute("href") for link in links.all()] == [f"/wall?run={run}", f"/booth?run={run}"]
    assert violations(page) == ""
    page.get_by_role("link", name="Lobby").click()
    expect(page.get_by_role("columnheader")).to_have_text([*COLUMNS[:1], "Film", *COLUMNS[1:]], timeout=READ_MS)
    for title in TITLES:
        expect(page.get_by_role("row").filter(has=page.get_by_role("cell", name=title))).to_have_count(2)


@pytest.mark.parametrize(("path", "advice"), [("lobby", "Ask the booth"), ("", "festoon serve PLAN")])
def test_an_empty_desk_says_what_to_do(path: str, advice: str, demo: Served, clean: BrowserContext) -> None:
    """Without any live run the lobby and the first page say so, and what to do about it."""
    page = clean.new_page()
    page.route("**/api/runs", lambda route: route.fulfill(json=[]))
    page.goto(f"{demo.base}/{path}")
    main = page.get_by_role("main")
    expect(main.get_by_text(re.compile(r"^\s*No (show is running|run is live)"))).to_be_visible(timeout=READ_MS)
    expect(main.get_by_text(advice)).to_be_visible()


@pytest.mark.parametrize("desk", ["wall", "booth", "lobby"])
def test_what_is_read_out_has_two_regions_from_the_start(desk: str, demo: Served, clean: BrowserContext) -> None:
    """One alert and one status, before anything is known and after: what comes into a region that is there is heard."""
    page = clean.new_page()
    held: list[Route] = []
    known = False

    def hold(route: Route) -> None:
        if known:
            route.continue_()
        else:
            held.append(route)

    page.route("**/api/runs**", hold)
    page.goto(demo.desk(desk) if desk == "lobby" else f"{demo.base}/{desk}")
    regions = [page.get_by_role("alert"), page.get_by_role("status")]
    expect(regions[1]).to_have_text("Waiting for the server", timeout=READ_MS)
    handles = [region.element_handle() for region in regions]
    known = True
    for route in held:
        route.continue_()
    expect(regions[1]).to_contain_text("motors running", timeout=READ_MS)
    for region, handle in zip(regions, handles, strict=True):
        expect(region).to_have_count(1)
        assert region.evaluate("(now, before) => now === before", handle)


@pytest.mark.parametrize("desk", ["wall", "booth", "lobby"])
def test_no_desk_breaks_a_rule_of_access(desk: str, demo: Served, clean: BrowserContext) -> None:
    """axe-core finds no violation on a desk that shows a run, in the dark and in the light."""
    page = clean.new_page()
    page.set_viewport_size({"width": 1024, "height": 768})
    page.goto(demo.desk(desk))
    expect(page.get_by_role("heading", name="The Cartographer's Daughter")).to_be_visible(timeout=READ_MS)
    assert violations(page) == ""


@pytest.mark.parametrize("desk", ["wall", "booth", "lobby"])
def test_no_lost_desk_breaks_a_rule_of_access(desk: str, two_houses: Served, context: BrowserContext) -> None:
    """Nor on a desk that has lost its server."""
    page = context.new_page()
    page.goto(two_houses.desk(desk))
    expect(page.get_by_text("A Short Walk").first).to_be_visible(timeout=READ_MS)
    two_houses.kill()
    expect(page.get_by_role("alert").filter(has_text="No word from the server")).to_be_visible(timeout=READ_MS)
    assert violations(page) == ""


@pytest.mark.parametrize("desk", ["wall", "booth"])
def test_no_empty_desk_breaks_a_rule_of_access(desk: str, demo: Served, clean: BrowserContext) -> None:
    """Nor on a desk without a run, which says what to do."""
    page = clean.new_page()
    page.route("**/api/runs", lambda route: route.fulfill(json=[]))
    page.goto(f"{demo.base}/{desk}")
    expect(page.get_by_role("main").get_by_text("festoon serve PLAN")).to_be_visible(timeout=READ_MS)
    assert violations(page) == ""


FITS = """([width, height]) => {
  const { scrollWidth, scrollHeight } = document.documentElement;
  return scrollWidth === width && scrollHeight === height;
}"""
"""Names are fitted to a screen that has become another only once it is drawn."""


def test_the_lobby_fits_its_screen(demo: Served, clean: BrowserContext) -> None:
    """Nine houses fit a television, a tablet and a phone: there is nothing to scroll."""
    page = clean.new_page()
    page.goto(f"{demo.base}/lobby")
    expect(page.get_by_role("rowheader")).to_have_count(len(HOUSES), timeout=READ_MS)
    for width, height in [(1920, 1080), (1024, 768), (390, 844)]:
        page.set_viewport_size({"width": width, "height": height})
        page.wait_for_function(FITS, arg=[width, height], timeout=READ_MS)


def violations(page: Page) -> str:
    """What axe-core finds in the dark, and of contrast in the light; an empty text where that is nothing."""
    reports: list[str] = []
    # What is not read yet is pale on purpose.
    expect(page.locator('[aria-busy="true"]')).to_have_count(0, timeout=READ_MS)
    page.emulate_media(color_scheme="dark")
    for rules in ({}, {"runOnly": ["color-contrast"]}):
        # Without this axe-core writes down everything that breaks no rule too: half a minute on a long page.
        results = Axe().run(page, options={"resultTypes": ["violations"], **rules})
        found = results.response["violations"]
        reports += [f"{one['id']}: {one['help']}: {[node['html'] for node in one['nodes']]}" for one in found]
        page.emulate_media(color_scheme="light")
    return "\n".join(reports)
