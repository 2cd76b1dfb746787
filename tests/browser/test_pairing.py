"""Devices elsewhere, in a browser: turned away, paired, and turned away again."""

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, Route, expect

from server.access.certificates import make_certificate
from tests.browser.served import LAN, Served, served, written_plan

pytestmark = pytest.mark.slow

READ_MS = 10_000
OPENS = """async (address) => await new Promise((resolve) => {
  const socket = new WebSocket(address);
  socket.onmessage = () => resolve("heard");
  socket.onclose = ({ code }) => resolve(code);
})"""
REPORTS = """async ([address, event]) => {
  try {
    const headers = { "content-type": "application/json" };
    return (await fetch(address, { method: "POST", credentials: "include", headers, body: event })).status;
  } catch {
    return "refused by the browser";
  }
}"""


@pytest.fixture
def house(tmp_path: Path) -> Iterator[Served]:
    """A run of two houses on a server that is open to others."""
    plan = written_plan(tmp_path)
    arguments = (str(plan), "--port", "0", "--host", "0.0.0.0", "--data", str(tmp_path / "log"))
    with served("serve", *arguments) as server:
        yield server


@pytest.fixture
def tablet(browser: Browser) -> Iterator[BrowserContext]:
    """A browser with touch and a jar of its own, whose pages raise nothing and ask for nothing that is forbidden."""
    complaints: list[str] = []
    context = browser.new_context(has_touch=True, viewport={"width": 820, "height": 1180}, locale="en-US")
    context.on("weberror", lambda error: complaints.append(str(error.error)))
    context.on("console", lambda said: complaints.append(said.text) if "Content Security" in said.text else None)
    yield context
    context.close()
    assert complaints == []


def elsewhere(house: Served, path: str = "") -> str:
    return f"http://{LAN}:{house.port}{path}"


def made_code(page: Page, house: Served, name: str, does: str = "runs the show") -> str:
    """A code as the page of paired devices shows it."""
    page.goto(f"{house.base}/pairings")
    page.get_by_label("Whose device it is").fill(name)
    page.get_by_label(does).check()
    page.get_by_role("button", name="Make a code").click()
    expect(page.get_by_role("img", name="QR code")).to_be_visible(timeout=READ_MS)
    return page.get_by_role("strong").inner_text()


def test_a_tablet_is_paired_by_a_code_and_out_when_that_ends(house: Served, page: Page, tablet: BrowserContext) -> None:
    """It asks for a code in place of the wall, shows the wall once it has one, and no longer when withdrawn."""
    screen = tablet.new_page()
    wall = elsewhere(house, f"/wall?run={house.runs[0]}")
    screen.goto(wall)
    expect(screen.get_by_role("heading", name="Pair this device")).to_be_visible(timeout=READ_MS)
    screen.get_by_label("Code").fill("0000-0000")
    screen.get_by_role("button", name="Pair").tap()
    expect(screen.get_by_role("alert")).to_contain_text("This code is wrong", timeout=READ_MS)
    code = made_code(page, house, "Ida")
    screen.get_by_label("Code").fill(code.lower())
    screen.get_by_label("Code").press("Enter")
    expect(screen.get_by_role("status")).to_contain_text("It is Ida's", timeout=READ_MS)
    screen.get_by_role("link", name="Go on to the desk").tap()
    expect(screen.get_by_role("article", name="House 1")).to_be_visible(timeout=READ_MS)
    assert screen.url == wall
    row = page.get_by_role("row", name="Ida")
    expect(row).to_contain_text("connected", timeout=READ_MS)
    expect(page.get_by_role("status")).to_have_text("Ida's device is paired.")
    expect(page.get_by_role("img", name="QR code")).to_have_count(0)
    row.get_by_role("button", name="Withdraw Ida's pairing").click()
    row.get_by_role("button", name="Yes, end it now").click()
    expect(page.get_by_text("No device is paired yet")).to_be_visible(timeout=READ_MS)
    screen.goto(wall)
    expect(screen.get_by_role("heading", name="Pair this device")).to_be_visible(timeout=READ_MS)


def test_a_scanned_code_leaves_no_trace(house: Served, page: Page, tablet: BrowserContext) -> None:
    """The address that a QR code holds pairs at once, and keeps the code neither in itself nor in the history."""
    code = made_code(page, house, "Ida")
    screen = tablet.new_page()
    asked: list[str] = []
    screen.on("request", lambda request: asked.append(request.url))
    screen.goto(elsewhere(house, f"/pair#{code}"))
    expect(screen.get_by_role("heading", name="This device is paired")).to_be_visible(timeout=READ_MS)
    assert screen.url == elsewhere(house, "/pair")
    assert screen.evaluate("() => history.length") <= 2
    assert [url for url in asked if code in url] == []
    (cookie,) = tablet.cookies()
    assert (cookie["httpOnly"], cookie["sameSite"], cookie["path"]) == (True, "Strict", "/")
    assert screen.evaluate("() => document.cookie") == ""


def test_a_device_that_looks_is_refused_its_taps(house: Served, page: Page, tablet: BrowserContext) -> None:
    """It is told so, and sees the runs all the same; the page of paired devices tells it nothing."""
    code = made_code(page, house, "Lobby", "only looks")
    screen = tablet.new_page()
    screen.goto(elsewhere(house, f"/pair#{code}"))
    expect(screen.get_by_role("status")).to_contain_text("only looks", timeout=READ_MS)
    event = '{"id": "x", "kind": "note", "text": "x", "source": "tap:lobby"}'
    assert screen.evaluate(REPORTS, [f"/api/runs/{house.runs[0]}/events", event]) == 403
    screen.goto(elsewhere(house, "/pairings"))
    expect(screen.get_by_role("alert")).to_contain_text("only looks", timeout=READ_MS)
    expect(screen.get_by_role("row", name="Lobby")).to_have_count(0)


def test_a_phone_of_the_houses_goes_on_to_the_lobby(house: Served, page: Page, tablet: BrowserContext) -> None:
    """Its role is chosen where the code is made, and said on the device and in the list."""
    screen = tablet.new_page()
    screen.goto(elsewhere(house, f"/pair#{made_code(page, house, 'Otto', 'reports from the houses')}"))
    expect(screen.get_by_role("status")).to_contain_text("It is Otto's, and reports from the houses", timeout=READ_MS)
    screen.get_by_role("link", name="Go on to the desk").tap()
    expect(screen.get_by_text("To report from a house, touch its number.")).to_be_visible(timeout=READ_MS)
    assert screen.url == elsewhere(house, "/lobby")
    expect(page.get_by_role("row", name="Otto")).to_contain_text("says what is wrong", timeout=READ_MS)


def test_a_hostile_page_gets_nowhere(house: Served, page: Page, tablet: BrowserContext) -> None:
    """In the browser of a paired device a page of another origin opens no websocket and reports nothing."""
    screen = tablet.new_page()
    screen.goto(elsewhere(house, f"/pair#{made_code(page, house, 'Ida')}"))
    expect(screen.get_by_role("heading", name="This device is paired")).to_be_visible(timeout=READ_MS)
    run = house.runs[0]
    live, report = f"ws://{LAN}:{house.port}/api/runs/{run}/live", elsewhere(house, f"/api/runs/{run}/events")
    event = '{"id": "x", "kind": "note", "text": "x", "source": "tap:lobby"}'
    assert screen.evaluate(OPENS, live) == "heard"
    hostile = tablet.new_page()
    hostile.route("http://hostile.example/**", _answer_hostile)
    hostile.goto("http://hostile.example/")
    assert hostile.evaluate(OPENS, live) == 1006
    assert hostile.evaluate(REPORTS, [report, event]) == "refused by the browser"
    snapshot: dict[str, Any] = screen.evaluate(f"async () => (await fetch('/api/runs/{run}')).json()")
    assert snapshot["events"] == []


def _answer_hostile(route: Route) -> None:
    route.fulfill(body="<!doctype html><title>Hostile</title>", content_type="text/html")


def test_the_desks_work_by_tls(tmp_path: Path, browser: Browser) -> None:
    """Page, secure cookie and websocket, as Chromium takes them, with a certificate of ours."""
    made = make_certificate(tmp_path / "tls", ["localhost", LAN], datetime.now(UTC))
    files = ("--certificate", str(made.certificate), "--key", str(made.key))
    arguments = (str(written_plan(tmp_path)), "--port", "0", "--host", "0.0.0.0", "--data", str(tmp_path / "log"))
    with served("serve", *arguments, *files) as house, browser.new_context(ignore_https_errors=True) as context:
        code = made_code(context.new_page(), house, "Ida")
        screen = context.new_page()
        at = f"https://{LAN}:{house.port}"
        screen.goto(f"{at}/pair#{code}")
        expect(screen.get_by_role("status")).to_contain_text("It is Ida's", timeout=READ_MS)
        (cookie,) = context.cookies()
        assert (cookie["name"], cookie["secure"], cookie["httpOnly"]) == ("__Host-festoon", True, True)
        with screen.expect_websocket() as socket:
            screen.goto(f"{at}/wall?run={house.runs[0]}")
        assert socket.value.url.startswith(f"wss://{LAN}:")
        expect(screen.get_by_role("article", name="House 1")).to_be_visible(timeout=READ_MS)


def test_a_list_that_is_read_again_is_trouble_no_more(house: Served, page: Page) -> None:
    """What was said while the server gave no answer goes once it does; what it refused stays."""
    page.route("**/api/pairings", lambda route: route.abort())
    page.goto(f"{house.base}/pairings")
    expect(page.get_by_role("alert")).to_contain_text("The server gave no answer", timeout=READ_MS)
    page.unroute("**/api/pairings")
    expect(page.get_by_role("alert")).to_be_empty(timeout=READ_MS)
    page.route("**/api/pairings/codes", lambda route: route.fulfill(status=403, json={"reason": "It only looks."}))
    page.get_by_label("Whose device it is").fill("Ida")
    page.get_by_role("button", name="Make a code").click()
    expect(page.get_by_role("alert")).to_have_text("It only looks.")
    with page.expect_response("**/api/pairings"):
        pass
    expect(page.get_by_role("alert")).to_have_text("It only looks.")


def test_pairing_works_from_the_keyboard_alone(house: Served, page: Page, tablet: BrowserContext) -> None:
    """A code is made and used without a pointer."""
    page.goto(f"{house.base}/pairings")
    page.get_by_label("Whose device it is").focus()
    page.keyboard.type("Ida")
    page.keyboard.press("Enter")
    code = page.get_by_role("strong").inner_text(timeout=READ_MS)
    screen = tablet.new_page()
    screen.goto(elsewhere(house, "/pair"))
    expect(screen.get_by_label("Code")).to_be_visible(timeout=READ_MS)
    screen.keyboard.press("Tab")
    screen.keyboard.type(code)
    screen.keyboard.press("Tab")
    screen.keyboard.press("Enter")
    expect(screen.get_by_role("status")).to_contain_text("It is Ida's", timeout=READ_MS)


@pytest.mark.parametrize("scheme", ["dark", "light"])
def test_everybody_can_read_the_pages(house: Served, page: Page, tablet: BrowserContext, scheme: Any) -> None:
    """axe-core finds no violation on either, in the dark and in the light, with a code and a list shown."""
    screen = tablet.new_page()
    for each in (page, screen):
        each.emulate_media(color_scheme=scheme)
    screen.goto(elsewhere(house, "/wall"))
    screen.get_by_label("Code").fill("0000-0000")
    screen.get_by_role("button", name="Pair").tap()
    expect(screen.get_by_role("alert")).to_contain_text("This code is wrong", timeout=READ_MS)
    found = _violations(screen)
    screen.goto(elsewhere(house, f"/pair#{made_code(page, house, 'Ida')}"))
    expect(screen.get_by_role("status")).to_contain_text("It is Ida's", timeout=READ_MS)
    expect(page.get_by_role("row", name="Ida")).to_be_visible(timeout=READ_MS)
    assert found + _violations(screen) + _violations(page) == ""


def _violations(page: Page) -> str:
    results = Axe().run(page)
    return "" if results.violations_count == 0 else str(results.generate_report())
