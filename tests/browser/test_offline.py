"""The booth desk without a connection: taps keep their time, outlive the page, and are sent in their order, once."""

import re
import shutil
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page, Playwright, expect

from tests.browser.conftest import BROWSER, KEEPING, QUIET
from tests.browser.hands import answer, choose, events, open_booth, tap
from tests.browser.served import Served, served_plans, written_plan

pytestmark = [pytest.mark.slow, KEEPING]

NOTICE_MS = 10_000
RETURN_MS = 15_000
AGE = re.compile(r"is ([0-9]+ s|[0-9]+ min) old: it stood so at [0-9]+:[0-9]{2}:[0-9]{2}")
KEPT = "This desk loads without a connection."
WRONG_MS = 11 * 60_000
EXACT_S = 0.03
"""Chosen: a tenth of what a tap is uncertain by."""

UNTIL_KEPT = """async ([store, count]) => {
    const opening = indexedDB.open("festoon-booth");
    await new Promise((opened) => (opening.onsuccess = opened));
    for (let kept = -1; kept !== count; ) {
        const asked = opening.result.transaction(store).objectStore(store).count();
        kept = await new Promise((counted) => (asked.onsuccess = () => counted(asked.result)));
    }
    opening.result.close();
}"""

NOTE_CLICK = """() => addEventListener("click", () => (window.clicked_ms = performance.now()), true)"""
"""Notes when a click was, by the page's even clock, which follows no clock that is set."""

OWN_CLOCK = """() => {
    const Device = Date;
    const wrong_ms = () => Number(localStorage.getItem("wrong_ms"));
    globalThis.Date = class extends Device {
        constructor(...given) { super(...(given.length ? given : [Device.now() + wrong_ms()])); }
        static now() { return Device.now() + wrong_ms(); }
    };
}"""
"""A clock that is wrong by what a test says, over reloads too, beside a `performance` that is not touched."""

SET_WRONG = "(wrong_ms) => localStorage.setItem('wrong_ms', String(wrong_ms))"

COVERED = """() => {
    const within = (root) => [...root.querySelectorAll("*")].flatMap((each) =>
        [...(each.localName === "button" ? [each] : []), ...(each.shadowRoot ? within(each.shadowRoot) : [])]);
    const inside = (root, x, y) => {
        const at = root.elementFromPoint(x, y);
        return at?.shadowRoot?.elementFromPoint(x, y) ? inside(at.shadowRoot, x, y) : at;
    };
    const buttons = within(document).filter((button) => !button.closest("details:not([open])"));
    const covered = buttons.filter((button) => {
        button.scrollIntoView({ block: "center" });
        const { x, y, width, height } = button.getBoundingClientRect();
        return !button.contains(inside(document, x + width / 2, y + height / 2));
    });
    return [buttons.length, covered.map((button) => button.textContent)];
}"""
"""How many buttons there are to touch, and those that something else lies over when they are scrolled to."""


def wait_until_kept(booth: Page) -> None:
    """Wait until the device has its own copy of the desk, and a picture of the run."""
    booth.get_by_text("This tablet").click()
    expect(booth.get_by_text(KEPT)).to_be_visible(timeout=NOTICE_MS)
    on_the_device(booth, "pictures", 1)


def on_the_device(booth: Page, store: str, count: int) -> None:
    """Wait until so many pictures or taps are in the device's own store."""
    booth.evaluate(UNTIL_KEPT, [store, count])


def lost(booth: Page) -> None:
    """Wait until the desk says that its server is away, and how old it is."""
    expect(booth.get_by_role("alert").filter(has_text="No word from the server")).to_be_visible(timeout=NOTICE_MS)
    expect(booth.get_by_text(AGE)).to_be_visible()


def test_taps_survive_a_reload_without_a_connection(tmp_path: Path, context: BrowserContext) -> None:
    """The desk loads from the device, shows its last picture as old, and sends what was tapped, in order and once."""
    plan = written_plan(tmp_path)
    with served_plans(plan) as server:
        booth = open_booth(context.new_page(), server, by="Ines")
        wait_until_kept(booth)
        server.kill()
        lost(booth)
        tap(booth, "Motor started")
        tap(booth, "Lamp lit")
        expect(answer(booth)).to_contain_text(re.compile("lamp lit.*waiting to be sent", re.DOTALL))
        booth.reload()
        lost(booth)
        choose(booth, "House 1")
        expect(answer(booth)).to_contain_text(re.compile("lamp lit.*waiting to be sent", re.DOTALL))
        tap(booth, "Douser open")
        booth.get_by_role("button", name="Take back House 1: lamp lit").click()
    with served_plans(plan, port=server.port) as again:
        expect(answer(booth)).to_contain_text(re.compile("douser open.*✓ taken", re.DOTALL), timeout=RETURN_MS)
        expect(booth.get_by_text("No word from the server")).to_have_count(0)
        expect(booth.get_by_text("waiting to be sent")).to_have_count(0)
        got = events(booth, again)
        assert [event["kind"] for event in got] == ["motor_start", "lamp_lit", "douser_open", "retract"]
        when = [datetime.fromisoformat(event["t"]) for event in got]
        assert when == sorted(when)
        assert got[3]["retracts"] == got[1]["id"]
        booth.reload()
        expect(booth.get_by_role("region", name="Who did what").get_by_text("taken back")).to_be_visible()
        assert events(booth, again) == got


def test_taps_survive_a_flat_battery(tmp_path: Path, playwright: Playwright) -> None:
    """A browser that was ended and started again while the server is away still has the desk and the taps."""
    plan = written_plan(tmp_path)

    def started() -> BrowserContext:
        return playwright.chromium.launch_persistent_context(
            tmp_path / "profile", executable_path=shutil.which(BROWSER), args=list(QUIET), locale="en-US"
        )

    with served_plans(plan) as server:
        address = server.desk("booth")
        with started() as tablet:
            booth = open_booth(tablet.new_page(), server, by="Ines")
            wait_until_kept(booth)
            server.kill()
            tap(booth, "Lamp lit")
            expect(answer(booth)).to_contain_text("waiting to be sent")
            on_the_device(booth, "taps", 1)
    with started() as tablet:
        booth = tablet.new_page()
        booth.goto(address)
        lost(booth)
        expect(answer(booth)).to_contain_text(re.compile("lamp lit.*by Ines.*waiting to be sent", re.DOTALL))
        with served_plans(plan, port=server.port) as again:
            expect(booth.get_by_text("✓ taken")).to_be_visible(timeout=RETURN_MS)
            assert [(event["kind"], event["by"]) for event in events(booth, again)] == [("lamp_lit", "Ines")]


def test_everything_stays_in_reach_while_the_server_is_away(two_houses: Served, context: BrowserContext) -> None:
    """The say-so covers no button; what is shown has its time of day, and nothing is counted down."""
    booth = open_booth(context.new_page(), two_houses)
    booth.set_viewport_size({"width": 1024, "height": 768})
    two_houses.kill()
    lost(booth)
    count, covered = booth.evaluate(COVERED)
    assert count > 15
    assert covered == []
    step = booth.get_by_role("region", name="Next").get_by_role("button")
    expect(step).to_contain_text(re.compile("by [0-9]+:[0-9]{2}:[0-9]{2}"))
    before = step.inner_text()
    expect(booth.get_by_text(re.compile("is [6-9] s old"))).to_be_visible(timeout=NOTICE_MS)
    assert step.inner_text() == before


@pytest.mark.parametrize("wrong_ms", [WRONG_MS, -WRONG_MS], ids=["fast", "slow"])
def test_a_clock_eleven_minutes_wrong_moves_no_tap(wrong_ms: int, two_houses: Served, context: BrowserContext) -> None:
    """Whatever the tablet thinks the time is, a tap has the server's time, to some milliseconds."""
    booth = context.new_page()
    booth.clock.set_system_time(datetime.now(UTC) + timedelta(milliseconds=wrong_ms))
    open_booth(booth, two_houses)
    assert booth.evaluate("() => Date.now()") - time.time() * 1000 == pytest.approx(wrong_ms, abs=2000)
    wait_until_kept(booth)
    booth.evaluate(NOTE_CLICK)
    tap(booth, "Lamp lit")
    expect(answer(booth)).to_contain_text("✓ taken")
    (event,) = events(booth, two_houses)
    assert seconds(event) == pytest.approx(clicked_at(booth), abs=EXACT_S)
    assert event["sigma_s"] == pytest.approx(0.3, abs=0.005)


def test_a_clock_that_is_set_while_the_server_is_away_moves_no_tap(tmp_path: Path, context: BrowserContext) -> None:
    """An open page keeps its own even time; one that is loaded meanwhile has the tablet's, as it was measured."""
    plan = written_plan(tmp_path)
    page = context.new_page()
    page.add_init_script(f"({OWN_CLOCK})()")
    with served_plans(plan) as server:
        booth = open_booth(page, server)
        booth.evaluate(SET_WRONG, -WRONG_MS)
        booth.reload()
        wait_until_kept(booth)
        server.kill()
        lost(booth)
        booth.reload()
        lost(booth)
        choose(booth, "House 1")
        booth.evaluate(NOTE_CLICK)
        tap(booth, "Motor started")
        first_s = clicked_at(booth)
        booth.evaluate(SET_WRONG, WRONG_MS)
        tap(booth, "Lamp lit")
        second_s = clicked_at(booth)
    with served_plans(plan, port=server.port) as again:
        expect(answer(booth)).to_contain_text("✓ taken", timeout=RETURN_MS)
        motor, lamp = events(booth, again)
        for event, at_s in ((motor, first_s), (lamp, second_s)):
            assert seconds(event) == pytest.approx(at_s, abs=EXACT_S)


def clicked_at(booth: Page) -> float:
    """When the last click was, in seconds since 1970, to half the quickest look at the page."""
    looks: list[tuple[float, float]] = []
    for _ in range(20):
        before = time.time()
        now_ms = booth.evaluate("() => performance.now()")
        looks.append((time.time() - before, (time.time() + before) / 2 - now_ms / 1000))
    clicked_ms: float = booth.evaluate("() => window.clicked_ms")
    return min(looks)[1] + clicked_ms / 1000


def seconds(event: dict[str, Any]) -> float:
    """When an event was, in seconds since 1970."""
    return datetime.fromisoformat(event["t"]).timestamp()
