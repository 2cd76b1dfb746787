"""What a tablet does for its reader: touch, sound, vibration, a screen that stays on; and what it says otherwise."""

import re
from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, expect

from tests.browser.hands import answer, choose, open_booth, report
from tests.browser.served import Served
from tests.browser.test_talk import later

pytestmark = pytest.mark.slow

READ_MS = 10_000
SOUND_OFF = "Sound is off: touch the screen once"
MAY_SLEEP = "This screen may go dark by itself"

NOTE_SIGNALS = """() => {
    window.shaken = [];
    window.heard = [];
    Object.defineProperty(Navigator.prototype, "vibrate", { value: (pattern) => window.shaken.push(pattern) });
    const start = OscillatorNode.prototype.start;
    OscillatorNode.prototype.start = function (...given) {
        window.heard.push(this.frequency.value);
        return start.apply(this, given);
    };
}"""
"""Notes what is shaken and sounded, which no test can feel or hear."""

STARTED = """() => {
    const { state, now_s } = document.querySelector("booth-desk");
    return state.stations.every(({ started_s }) => started_s !== null && started_s < now_s - 0.5);
}"""

NO_LOCK = """() => Object.defineProperty(Navigator.prototype, "wakeLock", {
    value: { request: () => Promise.reject(new Error("not here")) } })"""
LOCK = """() => Object.defineProperty(Navigator.prototype, "wakeLock", {
    value: { request: () => Promise.resolve(new EventTarget()) } })"""


@pytest.fixture
def tablet(browser: Browser) -> Iterator[BrowserContext]:
    """A tablet upright, that is touched."""
    with browser.new_context(
        service_workers="block", viewport={"width": 768, "height": 1024}, has_touch=True, locale="en-US"
    ) as context:
        yield context


def touch(booth: Page, words: str) -> None:
    booth.get_by_role("region", name="Pad").get_by_role("button", name=re.compile(f"^{words}")).tap()


def test_the_desk_says_that_sound_is_off_until_it_is_touched(two_houses: Served, tablet: BrowserContext) -> None:
    """Browsers keep a page silent until a touch: so the first one, wherever it is, ends that, and is no tap lost."""
    page = tablet.new_page()
    page.goto(two_houses.desk("booth"))
    expect(page.get_by_text(SOUND_OFF)).to_be_visible(timeout=READ_MS)
    page.get_by_role("region", name="Next").get_by_role("button").tap()
    expect(page.get_by_text(SOUND_OFF)).to_have_count(0)
    expect(answer(page)).to_contain_text("All motors started")


def test_act_and_watch_are_heard_and_felt_apart(two_houses: Served, tablet: BrowserContext) -> None:
    """What only drifts calls low and once; a tripped failsafe high and long, until somebody acknowledges it."""
    page = tablet.new_page()
    page.add_init_script(f"({NOTE_SIGNALS})()")
    booth = open_booth(page, two_houses, "House 2")
    report(page, two_houses, "motor_start", "a", 0.0)
    report(page, two_houses, "motor_start", "b", -1.3)  # late by 1.3 s of a reserve of 2 s: watch, and never act
    expect(booth.get_by_role("listitem", name=re.compile("^Watch: "))).to_be_visible(timeout=READ_MS)
    page.wait_for_function("() => window.shaken.length > 0 && window.heard.length > 0")
    assert booth.evaluate("() => [window.shaken, window.heard]") == [[[120]], [392]]
    booth.evaluate("() => { window.shaken = []; window.heard = []; }")
    booth.wait_for_function(STARTED)
    touch(booth, "Failsafe tripped")
    booth.wait_for_function("() => window.shaken.length >= 2", timeout=READ_MS)
    assert {tuple(pattern) for pattern in booth.evaluate("() => window.shaken")} == {(300, 100, 300, 100, 600)}
    assert min(booth.evaluate("() => window.heard")) > 800
    for words in ("House 2: the failsafe tripped", "1 to 2: the reserve is spent"):  # House 1 runs on
        booth.get_by_role("button", name=re.compile(f"^Acknowledge: {words}")).tap(timeout=READ_MS)
        expect(booth.get_by_role("button", name=re.compile(f"^Acknowledge: {words}"))).to_have_count(0, timeout=READ_MS)
    booth.evaluate("() => (window.shaken = [])")
    later(booth, 4.5)  # longer than an act that nobody acknowledged is silent
    assert booth.evaluate("() => window.shaken") == []


@pytest.mark.parametrize(("granted", "said"), [(LOCK, 0), (NO_LOCK, 1)], ids=["granted", "refused"])
def test_the_desk_says_where_the_screen_may_go_dark(
    granted: str, said: int, two_houses: Served, tablet: BrowserContext
) -> None:
    """Where the browser holds the screen awake nothing is said; where it does not the reader knows."""
    page = tablet.new_page()
    page.add_init_script(f"({granted})()")
    booth = open_booth(page, two_houses)
    expect(booth.get_by_text(MAY_SLEEP)).to_have_count(said)


def test_everything_can_be_done_from_the_keyboard(two_houses: Served, context: BrowserContext) -> None:
    """A name, a station, a tap and its taking back, without a pointer; where the focus is can be seen."""
    page = context.new_page()
    page.goto(two_houses.desk("booth"))
    press(page, "Who taps here?")
    page.keyboard.type("Ines")
    page.keyboard.press("Enter")
    for words in ("House 2 threaded", "Lamp lit", "About 2 seconds earlier", "Take back House 2: lamp lit"):
        press(page, words)
        page.keyboard.press("Enter")
        expect(answer(page)).not_to_contain_text("waiting")
    expect(answer(page)).to_contain_text("taken back")


def press(page: Page, words: str) -> None:
    """Go on with the tab key until the thing of that name has the focus, and see that it is outlined."""
    for _ in range(80):
        page.keyboard.press("Tab")
        name, outline = page.evaluate(FOCUSED)
        if name.startswith(words):
            assert outline != "none"
            return
    raise AssertionError(f"the tab key never came to {words!r}")


FOCUSED = """() => {
    let at = document.activeElement;
    while (at?.shadowRoot?.activeElement) at = at.shadowRoot.activeElement;
    const text = (at?.getAttribute("aria-label") ?? at?.closest("label")?.textContent ?? at?.textContent ?? "");
    return [text.replace(/\\s+/g, " ").trim(), at ? getComputedStyle(at).outlineStyle : "none"];
}"""


@pytest.mark.parametrize("dark", [True, False], ids=["dark", "light"])
def test_a_busy_booth_desk_breaks_no_rule_of_access(dark: bool, two_houses: Served, tablet: BrowserContext) -> None:
    """With an alarm, an answer and a pad open axe-core finds nothing, also as the device is set."""
    page = tablet.new_page()
    page.emulate_media(color_scheme="light")
    booth = open_booth(page, two_houses, "All")
    if not dark:
        booth.get_by_text("This tablet").tap()
        booth.get_by_role("button", name="Always dark").tap()
    ground = booth.evaluate("() => getComputedStyle(document.documentElement).backgroundColor")
    assert (ground == "rgb(18, 17, 14)") is dark
    touch(booth, "All motors started")
    choose(booth, "House 2")
    touch(booth, "Motor stopped")
    expect(booth.get_by_role("button", name=re.compile("^Acknowledge")).first).to_be_visible(timeout=READ_MS)
    results = Axe().run(page)
    assert results.violations_count == 0, results.generate_report()


@pytest.mark.parametrize(
    ("code", "said"), [(4401, "This device is not paired"), (4403, "This device is no longer paired")]
)
@pytest.mark.parametrize("desk", ["booth", "wall"])
def test_a_device_that_is_not_paired_is_told_where_to_pair(
    code: int, said: str, desk: str, two_houses: Served, context: BrowserContext
) -> None:
    """Where the server turns a desk away it says so, with the way to the pairing page."""
    page = context.new_page()
    page.route_web_socket(re.compile("/live"), lambda socket: socket.close(code=code))
    page.goto(two_houses.desk(desk))
    expect(page.get_by_role("alert").filter(has_text=said)).to_be_visible(timeout=READ_MS)
    expect(page.get_by_role("link", name="Pair this device")).to_have_attribute("href", "/pair")
