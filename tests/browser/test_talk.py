"""What a crew says across the booths: ready, a call, what is wrong in a house, and what is changed as film goes by."""

import re
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect

from tests.browser.hands import choose, events, open_booth, tap
from tests.browser.served import PLAN, Served, served_plans

pytestmark = pytest.mark.slow

READ_MS = 10_000
RETURN_MS = 20_000
SMALLEST_PX = 48
LARGE_PX = 40
"""Chosen: what is read from across a room, on a wall of 1080 lines."""

CHANGED_SIGMA_S = 15.0
"""How little a change that is ticked off tells of when its mark was in the gate (web/js/live/steps.js)."""

RINGS_S = 5
"""A little longer than from one ring to the next."""

RING = [120, 80, 120]
"""How a call is felt (web/js/live/signals.js)."""

MARK = """
[[marks]]
id = "flat"
after = "short"
duration = "0:30"
say = "Lens and masking to flat"
"""

NOTE_RINGS = """() => {
    window.shaken = [];
    Object.defineProperty(Navigator.prototype, "vibrate", { value: (pattern) => window.shaken.push(pattern) });
}"""
"""Notes what is shaken, which no test can feel."""

LOOK_MS = 100
LATER = "(until_s) => document.querySelector('booth-desk').now_s > until_s"

Show = Callable[[timedelta], AbstractContextManager[Served]]


@pytest.fixture
def show(tmp_path: Path) -> Show:
    """Serves a show of two houses, each in a booth of its own, whose motors start so long from now."""

    def started(ahead: timedelta) -> AbstractContextManager[Served]:
        text = PLAN.format(title="A Short Walk", now=datetime.now(UTC) + ahead) + MARK
        for house, booth in (("1", "North"), ("2", "South")):
            text = text.replace(f'house = "{house}"', f'house = "{house}"\nbooth = "{booth}"')
        path = tmp_path / "booths.plan.toml"
        path.write_text(text, encoding="utf-8")
        return served_plans(path)

    return started


@pytest.fixture
def before_the_start(show: Show) -> Iterator[Served]:
    """Both houses are threaded, and the motors start in ten minutes."""
    with show(timedelta(minutes=10)) as served:
        yield served


@pytest.fixture
def tablets(browser: Browser) -> Iterator[tuple[BrowserContext, BrowserContext]]:
    """Two tablets that are touched."""
    size = {"width": 1024, "height": 768}
    with (
        browser.new_context(service_workers="block", viewport=size, has_touch=True, locale="en-US") as one,  # type: ignore[arg-type]
        browser.new_context(service_workers="block", viewport=size, has_touch=True, locale="en-US") as other,  # type: ignore[arg-type]
    ):
        yield one, other


def booth_of(tablet: BrowserContext, served: Served, name: str, by: str) -> Page:
    """Open the booth desk of one booth, for somebody by name."""
    page = tablet.new_page()
    page.add_init_script(f"({NOTE_RINGS})()")
    open_booth(page, served, "All", by=by)
    page.get_by_role("group", name="Booth").get_by_role("button", name=name).tap()
    return page


def wall_of(context: BrowserContext, served: Served) -> Page:
    page = context.new_page()
    page.goto(served.desk("wall"))
    page.get_by_role("article", name="House 1").wait_for()
    return page


def call(booth: Page, to: str, words: str) -> None:
    """Say one of the usual things to a booth, or to every booth."""
    booth.get_by_role("button", name="Call a booth").tap()
    booth.get_by_role("group", name="Whom to call").get_by_role("button", name=to).tap()
    booth.get_by_role("group", name="What to say").get_by_role("button", name=words, exact=True).tap()


def called(booth: Page) -> Locator:
    """What was called out at a desk, and what became of it."""
    return booth.get_by_role("group", name="Called from here")


def ringing(desk: Page, words: str) -> Locator:
    """A call or a report among the alarms of a desk."""
    return desk.get_by_role("region", name="Alarms").get_by_role("listitem", name=re.compile(re.escape(words)))


def acknowledge(booth: Page, words: str) -> None:
    button = booth.get_by_role("button", name=re.compile(f"^Acknowledge: {re.escape(words)}"))
    button.tap(timeout=RETURN_MS)
    expect(button).to_have_count(0, timeout=READ_MS)


def shaken(booth: Page) -> list[list[int]]:
    """How a tablet was felt since it was last asked."""
    felt: list[list[int]] = booth.evaluate("() => window.shaken.splice(0)")
    return felt


def later(booth: Page, seconds: float) -> None:
    """Wait until so much time has passed at a desk; it is not looked at with every frame, each of which costs."""
    until_s = booth.evaluate("() => document.querySelector('booth-desk').now_s") + seconds
    booth.wait_for_function(LATER, arg=until_s, polling=LOOK_MS)


def test_no_call_is_lost_or_doubled_or_rung_twice_while_a_tablet_is_away(
    before_the_start: Served, context: BrowserContext, tablets: tuple[BrowserContext, BrowserContext]
) -> None:
    """What is said to a tablet that is away rings when it is back; what it says itself is sent once, at its time."""
    wall = wall_of(context, before_the_start)
    north = booth_of(tablets[0], before_the_start, "North", by="Ines")
    south = booth_of(tablets[1], before_the_start, "South", by="Odile")
    call(north, "South", "Ready?")
    for desk in (south, wall):
        expect(ringing(desk, "Call to booth South: Ready? (Ines)")).to_have_count(1, timeout=READ_MS)
    expect(called(north)).to_contain_text("Booth South: Ready? · not heard yet")
    expect(ringing(north, "Ready?")).to_have_count(0)
    south.wait_for_function("() => window.shaken.length > 1", timeout=READ_MS)
    assert {tuple(felt) for felt in shaken(south)} == {tuple(RING)}
    acknowledge(south, "Call to booth South")
    expect(called(north)).to_contain_text(re.compile(r"heard by Odile at [0-9]+:[0-9]{2}:[0-9]{2}"), timeout=READ_MS)
    expect(ringing(wall, "Ready?")).to_have_count(0)

    shaken(south)
    tablets[1].set_offline(True)
    expect(south.get_by_role("alert").filter(has_text="No word from the server")).to_be_visible(timeout=READ_MS)
    call(south, "North", "Come to the doorway")
    expect(called(south)).to_contain_text("Come to the doorway · waiting to be sent")
    call(north, "South", "Stand by to start")
    call(north, "Every booth", "Hold the start")
    expect(called(north)).to_contain_text("Every booth: Hold the start · not heard yet")
    later(north, RINGS_S)
    assert (shaken(north), shaken(south)) == ([], [])
    away_until = datetime.now(UTC)
    tablets[1].set_offline(False)

    acknowledge(north, "Call to booth North: Come to the doorway (Odile)")
    for words in ("Call to booth South: Stand by to start", "Call to every booth: Hold the start"):
        expect(ringing(south, words)).to_have_count(1, timeout=RETURN_MS)
    south.wait_for_function("() => window.shaken.length > 0", timeout=READ_MS)
    assert RING in shaken(south)
    acknowledge(south, "Call to booth South: Stand by to start")
    acknowledge(south, "Call to every booth: Hold the start")
    expect(called(south)).to_contain_text("Come to the doorway · ✓ heard by Ines", timeout=READ_MS)
    expect(called(north).get_by_text(re.compile("heard by Odile"))).to_have_count(3, timeout=READ_MS)
    for tablet in (north, south):
        shaken(tablet)
    later(south, RINGS_S)
    assert (shaken(north), shaken(south)) == ([], [])
    said = [event for event in events(north, before_the_start) if event["kind"] == "call"]
    texts = ["Come to the doorway", "Hold the start", "Ready?", "Stand by to start"]
    assert sorted(event["text"] for event in said) == texts
    (late,) = (event for event in said if event["to"] == "North")
    assert datetime.fromisoformat(late["t"]) < away_until - timedelta(seconds=RINGS_S)
    expect(north.get_by_role("region", name="Who did what")).to_contain_text("Call to booth North: Come to the doorway")


def test_a_call_that_comes_in_after_a_later_one_was_heard_rings_all_the_same(
    before_the_start: Served, tablets: tuple[BrowserContext, BrowserContext]
) -> None:
    """An acknowledgement is of what was heard: not what a tablet that was away had said, nor what it missed."""
    north = booth_of(tablets[0], before_the_start, "North", by="Ines")
    south = booth_of(tablets[1], before_the_start, "South", by="Odile")
    call(north, "South", "Ready?")
    expect(ringing(south, "Call to booth South: Ready?")).to_be_visible(timeout=READ_MS)
    tablets[1].set_offline(True)
    south.get_by_role("button", name=re.compile("^Acknowledge: Call to booth South: Ready")).tap()
    call(south, "North", "Come to the doorway")
    call(north, "South", "Stand by to stop")
    heard = {"id": "third", "t": datetime.now(UTC).isoformat(), "kind": "call", "to": "North", "text": "Lights."}
    address = f"{before_the_start.base}/api/runs/{before_the_start.runs[0]}/events"
    assert north.request.post(address, data=heard | {"source": "tap"}).ok
    acknowledge(north, "Call to booth North: Lights.")
    tablets[1].set_offline(False)
    acknowledge(north, "Call to booth North: Come to the doorway (Odile)")
    expect(called(south)).to_contain_text("Come to the doorway · ✓ heard by Ines", timeout=READ_MS)
    expect(called(north)).to_contain_text("Ready? · ✓ heard by Odile", timeout=READ_MS)
    expect(called(north)).to_contain_text("Stand by to stop · not heard yet")
    acknowledge(south, "Call to booth South: Stand by to stop (Ines)")
    expect(called(north)).to_contain_text("Stand by to stop · ✓ heard by Odile", timeout=READ_MS)


def test_one_touch_says_that_a_house_is_ready_and_the_others_are_missing_by_name(
    show: Show, context: BrowserContext, tablets: tuple[BrowserContext, BrowserContext]
) -> None:
    """Nobody is asked until somebody is ready; then wall and booths name who is not, largest in the last minute."""
    with show(timedelta(seconds=75)) as served:
        wall = wall_of(context, served)
        north = booth_of(tablets[0], served, "North", by="Ines")
        south = booth_of(tablets[1], served, "South", by="Odile")
        missing = [desk.get_by_text("Not ready: House 2", exact=True) for desk in (wall, north, south)]
        expect(north.get_by_text("a crew of one may do without")).to_be_visible(timeout=READ_MS)
        expect(wall.get_by_text("Not ready")).to_have_count(0)
        north.get_by_role("button", name="House 1: ready").tap()
        for said in missing:
            expect(said).to_be_visible(timeout=READ_MS)
        expect(south.get_by_text("a crew of one may do without")).to_have_count(0)
        expect(north.get_by_role("button", name="House 1: ready, done")).to_contain_text("Ines")
        north.wait_for_function(LATER, arg=-59, polling=LOOK_MS)
        size = "(said) => parseFloat(getComputedStyle(said).fontSize)"
        wall.wait_for_function("() => document.querySelector('wall-desk').now_s > -59")
        assert missing[0].evaluate(size) > LARGE_PX
        south.get_by_role("button", name="House 2: ready").tap()
        for said in missing:
            expect(said).to_have_count(0, timeout=READ_MS)
        expect(wall.get_by_role("region", name="Before the start")).to_contain_text("Ready: starts in")
        told = [(event["station"], event["by"]) for event in events(north, served) if event["kind"] == "ready"]
        assert told == [("a", "Ines"), ("b", "Odile")]


def test_what_a_house_reports_calls_its_booth_until_somebody_has_it_and_has_seen_to_it(
    before_the_start: Served, context: BrowserContext, tablets: tuple[BrowserContext, BrowserContext]
) -> None:
    """An usher's dark screen rings in its own booth alone; one touch has it, one more has seen to it."""
    wall = wall_of(context, before_the_start)
    north = booth_of(tablets[0], before_the_start, "North", by="Ines")
    south = booth_of(tablets[1], before_the_start, "South", by="Odile")
    dark = {"id": "dark", "t": datetime.now(UTC).isoformat(), "kind": "report", "station": "a", "what": "no_picture"}
    address = f"{before_the_start.base}/api/runs/{before_the_start.runs[0]}/events"
    assert wall.request.post(address, data=dark | {"source": "tap", "by": "Ida"}).ok
    for desk in (wall, north, south):
        expect(ringing(desk, "House 1: no picture, reported by Ida")).to_be_visible(timeout=READ_MS)
    north.wait_for_function("() => window.shaken.length > 0", timeout=READ_MS)
    assert shaken(south) == []
    north.get_by_role("button", name="I have it: House 1: no picture, reported by Ida").tap()
    expect(ringing(wall, "House 1: no picture")).to_contain_text("Ines has it", timeout=READ_MS)
    north.get_by_role("button", name="Seen to: House 1: no picture, reported by Ida").tap()
    for desk in (wall, north, south):
        expect(ringing(desk, "House 1: no picture")).to_have_count(0, timeout=READ_MS)
    over = events(north, before_the_start)[-1]
    assert (over["kind"], over["what"], over["by"]) == ("report_over", "no_picture", "Ines")


def test_trouble_seen_from_the_booth_calls_the_others_and_not_who_saw_it(
    before_the_start: Served, context: BrowserContext, tablets: tuple[BrowserContext, BrowserContext]
) -> None:
    """A touch of the pad is a report of its house: everybody sees it, and the tablet that said it does not ring."""
    wall = wall_of(context, before_the_start)
    south = booth_of(tablets[1], before_the_start, "South", by="Odile")
    second = booth_of(tablets[0], before_the_start, "South", by="Bo")
    choose(south, "House 2")
    tap(south, "No sound")
    for desk in (wall, south, second):
        expect(ringing(desk, "House 2: no sound, reported by Odile")).to_be_visible(timeout=READ_MS)
    second.wait_for_function("() => window.shaken.length > 0", timeout=READ_MS)
    assert RING in shaken(second)
    tap(south, "Film rubs")
    expect(ringing(wall, "House 2: film rubs, no sound")).to_be_visible(timeout=READ_MS)
    second.get_by_role("button", name=re.compile("^I have it: House 2")).tap()
    second.get_by_role("button", name=re.compile("^Seen to: no sound")).tap()
    expect(ringing(wall, "House 2: film rubs, reported by Odile")).to_be_visible(timeout=READ_MS)
    later(south, RINGS_S)
    assert shaken(south) == []


def test_a_change_is_ticked_off_as_film_goes_by(
    show: Show, context: BrowserContext, tablets: tuple[BrowserContext, BrowserContext]
) -> None:
    """What a mark asks for is a step with its countdown; one touch is its pass, seen on the wall's chart."""
    with show(timedelta(seconds=-50)) as served:
        wall = wall_of(context, served)
        north = booth_of(tablets[0], served, "North", by="Ines")
        started = {"id": "start", "t": (datetime.now(UTC) - timedelta(seconds=50)).isoformat(), "kind": "chain_start"}
        assert wall.request.post(f"{served.base}/api/runs/{served.runs[0]}/events", data=started | {"source": "tap"}).ok
        step = north.get_by_role("region", name="Next").get_by_role(
            "button", name=re.compile("Lens and masking to flat")
        )
        expect(step).to_contain_text(re.compile("House 1: .*[0-9]:[0-9]{2} *(left|over)", re.DOTALL), timeout=READ_MS)
        expect(wall.get_by_role("region", name="Next")).to_contain_text("House 1: Lens and masking to flat")
        step.tap()
        expect(north.get_by_role("group", name="Latest tap")).to_contain_text(
            re.compile("House 1: Lens and masking to flat: done.*taken", re.DOTALL)
        )
        expect(step).to_have_count(0, timeout=READ_MS)
        wall.get_by_text("The chart as a table", exact=True).click()
        table = wall.get_by_role("region", name="The chart as a table")
        expect(table.get_by_role("columnheader", name="Lens and masking to flat")).to_be_visible()
        expect(table.get_by_role("row", name=re.compile("^1 "))).to_contain_text("observed")
        (passed,) = (event for event in events(north, served) if event["kind"] == "mark_pass")
        assert (passed["station"], passed["mark"], passed["sigma_s"]) == ("a", "flat", CHANGED_SIGMA_S)


@pytest.mark.parametrize(("width", "height"), [(1024, 768), (390, 844)])
def test_a_call_is_made_with_a_thumb(before_the_start: Served, browser: Browser, width: int, height: int) -> None:
    """On a tablet and on a phone everything of the form and of the alarms can be hit, and breaks no rule of access."""
    with browser.new_context(
        service_workers="block", viewport={"width": width, "height": height}, has_touch=True, locale="en-US"
    ) as context:
        booth = booth_of(context, before_the_start, "North", by="Ines")
        booth.get_by_role("button", name="House 1: ready").tap()
        for words in (
            {"kind": "call", "to": "all", "text": "Hold."},
            {"kind": "report", "station": "a", "what": "people"},
        ):
            event = {"id": words["kind"], "t": datetime.now(UTC).isoformat(), "source": "tap", "by": "Bo"} | words
            assert booth.request.post(
                f"{before_the_start.base}/api/runs/{before_the_start.runs[0]}/events", data=event
            ).ok
        expect(ringing(booth, "Call to every booth: Hold. (Bo)")).to_be_visible(timeout=READ_MS)
        expect(ringing(booth, "House 1: trouble among the people")).to_be_visible(timeout=READ_MS)
        booth.get_by_role("button", name="Call a booth").tap()
        form = booth.get_by_role("group", name="Call a booth")
        ready = booth.get_by_role("group", name="Stations that are ready")
        parts = (form, booth.get_by_role("region", name="Alarms"), ready)
        boxes = [button.bounding_box() for part in parts for button in part.get_by_role("button").all()]
        shown = [box for box in boxes if box]
        assert len(shown) > 15
        assert [box for box in shown if min(box["height"], box["width"]) < SMALLEST_PX] == []
        assert booth.evaluate("() => document.documentElement.scrollWidth") <= width
        results = Axe().run(booth)
        assert results.violations_count == 0, results.generate_report()
        form.get_by_label("Other words").fill("Bring the splicer, please")
        form.get_by_role("button", name="Call", exact=True).tap()
        expect(form).to_have_count(0)
        expect(called(booth)).to_contain_text("Every booth: Bring the splicer, please · not heard yet", timeout=READ_MS)
