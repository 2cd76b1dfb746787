"""Reports from the houses: a phone in the lobby, a lobby screen and a booth desk at once."""

import re
from collections.abc import Iterator
from contextlib import AbstractContextManager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Locator, Page, ViewportSize, expect

from tests.browser.hands import name as named
from tests.browser.served import LAN, PLAN, Served, served

pytestmark = pytest.mark.slow

READ_MS = 10_000
RETURN_MS = 15_000
SMALLEST_PX = 48
PHONE: ViewportSize = {"width": 390, "height": 844}
STATION = {"1": "a", "2": "b"}

KEPT = """async () => {
    const opening = indexedDB.open("festoon-booth");
    await new Promise((opened) => (opening.onsuccess = opened));
    for (let kept = 0; kept === 0; ) {
        const asked = opening.result.transaction("taps").objectStore("taps").count();
        kept = await new Promise((counted) => (asked.onsuccess = () => counted(asked.result)));
    }
    opening.result.close();
}"""
"""Waits until a report is in the device's own store."""

LOSE_ONE_ANSWER = """() => {
    const real = fetch;
    let asked = 0;
    window.fetch = async (address, ...more) => {
        const response = await real(address, ...more);
        if (!address.endsWith("/events") || ++asked > 1) return response;
        throw new TypeError("the network went");
    };
}"""
"""The server takes the first report, and the page hears no answer."""

POST = """async ([address, event]) => {
    const headers = { "content-type": "application/json" };
    return (await fetch(address, { method: "POST", headers, body: JSON.stringify(event) })).status;
}"""

SMALL = """(least_px) => {
    const within = (root) => [...root.querySelectorAll("*")].flatMap((each) =>
        [...(each.matches("button, input, a") ? [each] : []), ...(each.shadowRoot ? within(each.shadowRoot) : [])]);
    return within(document)
        .map((each) => [each.textContent, each.getBoundingClientRect()])
        .filter(([, { width, height }]) => width > 0 && (width < least_px || height < least_px))
        .map(([text, { width, height }]) => [text.trim(), width, height]);
}"""
"""What there is to touch that is smaller than a finger."""


def plan_of(folder: Path, starts: datetime) -> Path:
    """A show of two houses, an hour long."""
    path = folder / "walk.plan.toml"
    text = PLAN.format(title="A Short Walk", now=starts).replace("10:00", "1:00:00")
    path.write_text(text, encoding="utf-8")
    return path


def opened(plan: Path, port: int = 0) -> AbstractContextManager[Served]:
    """A server that other devices can reach."""
    data = ("--data", str(plan.parent / "log"))
    return served("serve", str(plan), "--port", str(port), "--host", "0.0.0.0", *data)


@pytest.fixture
def house(tmp_path: Path) -> Iterator[Served]:
    """A run of two houses, ten minutes after its planned start."""
    with opened(plan_of(tmp_path, datetime.now(UTC) - timedelta(minutes=10))) as server:
        yield server


@pytest.fixture
def phone(browser: Browser) -> Iterator[BrowserContext]:
    """A plain phone with a jar of its own, whose pages raise nothing and ask for nothing that is forbidden."""
    complaints: list[str] = []
    context = browser.new_context(has_touch=True, is_mobile=True, viewport=PHONE, locale="en-US")
    context.on("weberror", lambda error: complaints.append(str(error.error)))
    context.on("console", lambda said: complaints.append(said.text) if "Content Security" in said.text else None)
    yield context
    context.close()
    assert complaints == []


@pytest.fixture
def screen(browser: Browser) -> Iterator[BrowserContext]:
    """The lobby's television, a device of its own."""
    with browser.new_context(viewport={"width": 1920, "height": 1080}, locale="en-US") as context:
        yield context


def elsewhere(house: Served, path: str) -> str:
    return f"http://{LAN}:{house.port}{path}"


def lobby(context: BrowserContext, house: Served, page: Page, name: str, role: str) -> Page:
    """The lobby on a device that was paired so; `page` is at the computer that Festoon runs on."""
    made = page.request.post(f"{house.base}/api/pairings/codes", data={"name": name, "role": role}).json()
    device = context.new_page()
    device.goto(elsewhere(house, f"/pair#{made['code']}"))
    expect(device.get_by_role("heading", name="This device is paired")).to_be_visible(timeout=READ_MS)
    device.goto(elsewhere(house, "/lobby"))
    expect(device.get_by_role("rowheader")).to_have_count(2, timeout=READ_MS)
    return device


def said(page: Page, house: Served, kind: str, ago_s: float = 0.0, **keys: Any) -> None:
    """Have the server know what somebody at a booth says."""
    t = (datetime.now(UTC) - timedelta(seconds=ago_s)).isoformat()
    event = {"id": f"{kind} {ago_s} {len(events(page, house))}", "t": t, "kind": kind, "source": "tap", **keys}
    answer = page.request.post(f"{house.base}/api/runs/{house.runs[0]}/events", data=event)
    assert answer.ok, answer.text()


def events(page: Page, house: Served) -> list[dict[str, Any]]:
    """What the server has of the run."""
    found: list[dict[str, Any]] = page.request.get(f"{house.base}/api/runs/{house.runs[0]}").json()["events"]
    return found


def touch(device: Page, house: str, what: str) -> None:
    """Report from a house: two touches."""
    device.get_by_role("button", name=house, exact=True).tap()
    device.get_by_role("dialog").get_by_role("button", name=what).tap()


def answer(device: Page) -> Locator:
    """Where the last report of a device is answered."""
    return device.get_by_role("group", name="Your last report")


def reports(device: Page) -> Locator:
    """The lines of the houses."""
    return device.get_by_role("region", name="Reports from the houses").get_by_role("listitem")


def test_a_report_goes_to_the_booth_and_back(
    house: Served, page: Page, phone: BrowserContext, screen: BrowserContext, context: BrowserContext
) -> None:
    """Two touches in the house call the booth; who has it and when it was seen to come back, on every lobby desk."""
    usher = lobby(phone, house, page, "Otto", "report")
    wall = lobby(screen, house, page, "Lobby", "look")
    booth = context.new_page()
    booth.goto(house.desk("booth"))
    named(booth, "Ida")
    touch(usher, "2", "No sound")
    expect(answer(usher)).to_have_text(re.compile("House 2: no sound.*✓ sent, nobody has it yet"), timeout=READ_MS)
    expect(booth.get_by_text("House 2: no sound, reported by Otto").first).to_be_visible(timeout=READ_MS)
    expect(reports(wall)).to_have_text([re.compile("House 2.*no sound.*by Otto.*nobody has it yet", re.DOTALL)])
    said(page, house, "ack", alarm="house_report:b", by="Ida")
    expect(answer(usher)).to_contain_text("✓ Ida has it", timeout=READ_MS)
    expect(reports(wall)).to_have_text([re.compile("House 2.*Ida has it", re.DOTALL)])
    said(page, house, "report_over", station="b", what="no_sound", by="Ida")
    expect(answer(usher)).to_contain_text(re.compile("✓ seen to at [0-9]+:[0-9]{2}"), timeout=READ_MS)
    expect(reports(wall)).to_have_text([re.compile("House 2.*seen to at", re.DOTALL)])
    expect(booth.get_by_text("House 2: no sound, reported by Otto")).to_have_count(0)
    report, *_ = events(page, house)
    assert (report["kind"], report["station"], report["what"], report["by"]) == ("report", "b", "no_sound", "Otto")
    assert [event["kind"] for event in events(page, house)] == ["report", "ack", "report_over"]


def test_words_come_along_and_others_reports_are_seen(
    house: Served, page: Page, phone: BrowserContext, screen: BrowserContext
) -> None:
    """A few words before the second touch are read at every desk; what others report is one line a house."""
    usher = lobby(phone, house, page, "Otto", "report")
    wall = lobby(screen, house, page, "Lobby", "look")
    usher.get_by_role("button", name="1", exact=True).tap()
    usher.get_by_label("A few words first").fill("row 10, left")
    usher.get_by_role("button", name="Trouble among the people").tap()
    said(page, house, "report", station="a", what="unsteady", by="Ines")
    said(page, house, "report", station="b", what="out_of_focus", by="Ines")
    words = re.compile("House 1.*people \\(row 10, left\\).*by Otto.*unsteady.*by Ines.*nobody has it", re.DOTALL)
    expect(reports(wall)).to_have_text([words, re.compile("House 2.*out of focus.*Ines", re.DOTALL)], timeout=READ_MS)
    expect(answer(usher)).to_contain_text("trouble among the people (row 10, left)")
    expect(reports(usher)).to_have_text([re.compile("House 1.*unsteady", re.DOTALL), re.compile("House 2")])
    expect(reports(usher).filter(has_text="row 10")).to_have_count(0)


def test_a_screen_that_only_looks_has_no_form(house: Served, page: Page, screen: BrowserContext) -> None:
    """It sees the reports, and nothing on it can be touched but the order of the houses."""
    wall = lobby(screen, house, page, "Lobby", "look")
    said(page, house, "report", station="a", what="no_picture", by="Ines")
    expect(reports(wall)).to_have_text([re.compile("House 1.*no picture", re.DOTALL)], timeout=READ_MS)
    expect(wall.get_by_role("button")).to_have_text([re.compile("^House"), re.compile("^Now"), re.compile("^Then")])
    expect(wall.get_by_text("touch its number")).to_have_count(0)


def test_a_slip_is_taken_back(house: Served, page: Page, phone: BrowserContext, screen: BrowserContext) -> None:
    """The wrong house was touched: the booth is called no more, and the lobby's line is gone."""
    usher = lobby(phone, house, page, "Otto", "report")
    wall = lobby(screen, house, page, "Lobby", "look")
    touch(usher, "1", "No picture")
    expect(reports(wall)).to_have_count(1, timeout=READ_MS)
    usher.get_by_role("button", name="Take back House 1: no picture").tap()
    expect(answer(usher)).to_contain_text("✓ taken back", timeout=READ_MS)
    expect(reports(wall)).to_have_count(0)
    view = page.request.get(f"{house.base}/api/runs/{house.runs[0]}").json()["view"]
    assert [alarm["key"] for alarm in view["alarms"] if alarm["state"] != "returned"] == []
    expect(usher.get_by_role("button", name=re.compile("^Take back"))).to_have_count(0)


def test_an_earlier_page_s_report_is_still_one_s_own(house: Served, page: Page, phone: BrowserContext) -> None:
    """A lobby that is loaded again knows what it has said, and takes it back; what another device said it cannot."""
    usher = lobby(phone, house, page, "Otto", "report")
    touch(usher, "1", "Out of focus")
    expect(answer(usher)).to_contain_text("✓ sent", timeout=READ_MS)
    said(page, house, "report", station="b", what="no_sound", by="Otto")
    usher.reload()
    expect(answer(usher)).to_contain_text("House 1: out of focus", timeout=READ_MS)
    expect(usher.get_by_role("button", name=re.compile("^Take back"))).to_have_count(1)
    usher.get_by_role("button", name="Take back House 1: out of focus").tap()
    expect(answer(usher)).to_contain_text("✓ taken back", timeout=READ_MS)


def test_a_report_without_a_connection_waits_with_its_time(house: Served, page: Page, phone: BrowserContext) -> None:
    """It is said to wait, goes out once the network is back, once, and says when it was touched."""
    usher = lobby(phone, house, page, "Otto", "report")
    phone.set_offline(True)
    expect(usher.get_by_role("alert").filter(has_text="No word from the server")).to_be_visible(timeout=READ_MS)
    before = datetime.now(UTC)
    touch(usher, "2", "No picture")
    touched = datetime.now(UTC)
    expect(answer(usher)).to_contain_text("House 2: no picture waiting to be sent")
    assert events(page, house) == []
    phone.set_offline(False)
    expect(answer(usher)).to_contain_text("✓ sent", timeout=RETURN_MS)
    expect(usher.get_by_text("No word from the server")).to_have_count(0, timeout=RETURN_MS)
    (report,) = events(page, house)
    assert before - timedelta(seconds=0.5) < datetime.fromisoformat(report["t"]) < touched + timedelta(seconds=0.5)


def test_a_report_outlives_its_page(house: Served, page: Page, phone: BrowserContext) -> None:
    """Left without a connection, the lobby sends what it had when it is opened again, with its time, once."""
    usher = lobby(phone, house, page, "Otto", "report")
    phone.set_offline(True)
    touch(usher, "1", "Picture unsteady")
    expect(answer(usher)).to_contain_text("waiting to be sent")
    touched = datetime.now(UTC)
    usher.evaluate(KEPT)
    usher.close()
    phone.set_offline(False)
    again = phone.new_page()
    again.goto(elsewhere(house, "/lobby"))
    expect(answer(again)).to_contain_text("House 1: picture unsteady ✓ sent", timeout=RETURN_MS)
    (report,) = events(page, house)
    assert abs(datetime.fromisoformat(report["t"]) - touched) < timedelta(seconds=2)


def test_an_answer_that_is_lost_doubles_nothing(house: Served, page: Page, phone: BrowserContext) -> None:
    """The server took it and the phone did not hear of it: sent again, it is the same report."""
    usher = lobby(phone, house, page, "Otto", "report")
    usher.evaluate(LOSE_ONE_ANSWER)
    touch(usher, "2", "No sound")
    expect(answer(usher)).to_contain_text("✓ sent", timeout=RETURN_MS)
    touch(usher, "1", "No sound")
    expect(answer(usher)).to_contain_text("House 1: no sound ✓ sent", timeout=RETURN_MS)
    assert [event["station"] for event in events(page, house)] == ["b", "a"]


def test_reports_outlive_the_server(tmp_path: Path, page: Page, phone: BrowserContext) -> None:
    """Two reports while it is down go out in their order when it is back, and the phone is still paired."""
    plan = plan_of(tmp_path, datetime.now(UTC) - timedelta(minutes=10))
    with opened(plan) as server:
        usher = lobby(phone, server, page, "Otto", "report")
        server.kill()
        expect(usher.get_by_role("alert").filter(has_text="No word from the server")).to_be_visible(timeout=READ_MS)
        touch(usher, "1", "No sound")
        touch(usher, "2", "No sound")
        expect(usher.get_by_text("waiting to be sent")).to_have_count(2)
    with opened(plan, port=server.port) as again:
        expect(usher.get_by_text("waiting to be sent")).to_have_count(0, timeout=RETURN_MS)
        expect(answer(usher)).to_contain_text("House 2: no sound ✓ sent", timeout=RETURN_MS)
        assert [event["station"] for event in events(page, again)] == ["a", "b"]


def test_too_much_waits_and_says_so(house: Served, page: Page, phone: BrowserContext) -> None:
    """After six at once the seventh is kept, with the reason, and nothing of it is lost."""
    usher = lobby(phone, house, page, "Otto", "report")
    for number in range(6):
        event = {"id": f"r{number}", "kind": "report", "station": "a", "what": "people", "source": "tap"}
        assert usher.evaluate(POST, [f"/api/runs/{house.runs[0]}/events", event]) == 200
    touch(usher, "2", "No picture")
    expect(answer(usher)).to_contain_text(re.compile("waiting to be sent: .*send this again later"), timeout=READ_MS)
    assert len(events(page, house)) == 6


def test_a_start_is_asked_to_be_held(
    tmp_path: Path, page: Page, phone: BrowserContext, screen: BrowserContext, context: BrowserContext
) -> None:
    """One touch calls the booth; it holds, and every lobby desk has the new times. After the start nobody asks."""
    with opened(plan_of(tmp_path, datetime.now(UTC) + timedelta(minutes=20))) as house:
        usher = lobby(phone, house, page, "Otto", "report")
        wall = lobby(screen, house, page, "Lobby", "look")
        booth = context.new_page()
        booth.goto(house.desk("booth"))
        usher.get_by_role("button", name="Ask to hold the start").tap()
        asked = "Lobby: Please hold the start 5 minutes (Otto)"
        expect(booth.get_by_text(asked).first).to_be_visible(timeout=READ_MS)
        expect(answer(usher)).to_contain_text("Please hold the start 5 minutes")
        expect(wall.get_by_role("button", name="Ask to hold the start")).to_have_count(0)
        named(booth, "Ida")
        booth.get_by_role("button", name=f"Hold 5 min: {asked}").click()
        for device in (usher, wall):
            expect(device.get_by_text("Held 5 minutes")).to_be_visible(timeout=READ_MS)
        expect(usher.get_by_role("row", name=re.compile("[0-9] was to start [0-9]"))).to_have_count(2, timeout=READ_MS)
        expect(answer(usher)).to_contain_text(re.compile("✓ answered at [0-9]+:[0-9]{2}"), timeout=READ_MS)
        expect(booth.get_by_text(asked)).to_have_count(0)
        for station in STATION.values():
            said(page, house, "motor_start", station=station)
        expect(usher.get_by_role("button", name="Ask to hold the start")).to_have_count(0, timeout=READ_MS)


def test_two_booths_that_confirm_one_hold_hold_once(
    tmp_path: Path, page: Page, phone: BrowserContext, screen: BrowserContext, context: BrowserContext
) -> None:
    """One of them had no connection and confirmed as well: the start is five minutes later, not ten."""
    with opened(plan_of(tmp_path, datetime.now(UTC) + timedelta(minutes=20))) as house:
        usher = lobby(phone, house, page, "Otto", "report")
        booths = [where.new_page() for where in (context, screen)]
        for booth, who in zip(booths, ("Ida", "Bo"), strict=True):
            booth.goto(house.desk("booth"))
            named(booth, who)
        usher.get_by_role("button", name="Ask to hold the start").tap()
        holds = [booth.get_by_role("button", name="Hold 5 min: Lobby") for booth in booths]
        for hold in holds:
            expect(hold).to_be_visible(timeout=READ_MS)
        screen.set_offline(True)
        for hold in holds:
            hold.click()
        expect(holds[0]).to_have_count(0, timeout=READ_MS)
        screen.set_offline(False)
        expect(holds[1]).to_have_count(0, timeout=RETURN_MS)
        expect(booths[0].get_by_text(re.compile("by Bo, tap"))).to_have_count(1, timeout=RETURN_MS)
        view = page.request.get(f"{house.base}/api/runs/{house.runs[0]}").json()["view"]
        assert view["hold_s"] == 300.0
        assert [event["seconds"] for event in events(page, house) if event["kind"] == "hold"] == [300.0, 300.0]


def test_a_phone_that_is_withdrawn_is_told_and_reports_no_more(
    house: Served, page: Page, phone: BrowserContext
) -> None:
    """In the middle of it: the whole screen says so, and leads to where it is paired anew."""
    usher = lobby(phone, house, page, "Otto", "report")
    (line,) = page.request.get(f"{house.base}/api/pairings").json()
    assert page.request.post(f"{house.base}/api/pairings/{line['id']}/withdrawal", data={}).ok
    expect(usher.get_by_role("alert").filter(has_text="not paired")).to_be_visible(timeout=RETURN_MS)
    expect(usher.get_by_role("link", name="Pair this device")).to_be_visible()
    expect(usher.get_by_role("button", name="1", exact=True)).to_have_count(0)
    assert events(page, house) == []


def test_every_page_of_a_phone_is_the_lobby(house: Served, page: Page, phone: BrowserContext) -> None:
    """The wall's address, the booth's and the first page lead there."""
    usher = lobby(phone, house, page, "Otto", "report")
    for path in ("/", f"/wall?run={house.runs[0]}", "/booth", "/pairings", "/library"):
        usher.goto(elsewhere(house, path))
        assert usher.url == elsewhere(house, "/lobby")


def test_a_report_is_made_from_the_keyboard(house: Served, page: Page) -> None:
    """At this computer: to a house, to what is wrong, and back where one was; Escape says nothing."""
    page.goto(f"{house.base}/lobby")
    number = page.get_by_role("button", name="2", exact=True)
    expect(number).to_be_visible(timeout=READ_MS)
    number.focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("button", name="No picture")).to_be_focused()
    page.keyboard.press("Escape")
    expect(page.get_by_role("dialog")).to_have_count(0)
    expect(number).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.get_by_role("button", name="No picture")).to_be_focused()
    page.keyboard.press("Shift+Tab")
    page.keyboard.type("the left speaker")
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    expect(page.get_by_role("button", name="No sound")).to_be_focused()
    page.keyboard.press("Enter")
    expect(answer(page)).to_contain_text("House 2: no sound (the left speaker) ✓ sent", timeout=READ_MS)
    expect(number).to_be_focused()
    (report,) = events(page, house)
    assert "by" not in report


@pytest.mark.parametrize("scheme", ["dark", "light"])
def test_everybody_can_read_and_touch_it(house: Served, page: Page, phone: BrowserContext, scheme: Any) -> None:
    """On a phone axe-core finds nothing, and nothing is smaller than a finger: asked, answered, without a network."""
    usher = lobby(phone, house, page, "Otto", "report")
    usher.emulate_media(color_scheme=scheme)
    said(page, house, "report", station="a", what="no_picture", by="Ines")
    said(page, house, "report", station="b", what="people", by="Ines", ago_s=60)
    said(page, house, "report_over", station="b", by="Ida", ago_s=30)
    expect(reports(usher)).to_have_count(2, timeout=READ_MS)
    found = _faults(usher)
    usher.get_by_role("button", name="1", exact=True).tap()
    expect(usher.get_by_role("dialog")).to_be_visible()
    found += _faults(usher)
    phone.set_offline(True)
    usher.get_by_role("button", name="Out of focus").tap()
    expect(usher.get_by_role("alert").filter(has_text="No word from the server")).to_be_visible(timeout=READ_MS)
    expect(answer(usher)).to_contain_text("waiting to be sent")
    assert found + _faults(usher) == ""


def _faults(page: Page) -> str:
    results = Axe().run(page)
    found = "" if results.violations_count == 0 else str(results.generate_report())
    small = page.evaluate(SMALL, SMALLEST_PX)
    width = page.evaluate("() => document.documentElement.scrollWidth")
    return found + (f"small: {small}\n" if small else "") + ("" if width == PHONE["width"] else f"wide: {width}\n")
