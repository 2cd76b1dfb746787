"""The picture and the chart of a running show, and that both can be read and reached."""

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from tests.browser.hands import open_booth
from tests.browser.served import Served, served_plans

pytestmark = pytest.mark.slow

READ_MS = 10_000
FIXTURES = Path(__file__).parents[2] / "fixtures"
SMALLEST_PX = 48
"""WCAG 2.2, 2.5.5 asks for 44; the desks are used in the dark: chosen."""

FILM = """() => document.querySelector("wall-desk").shadowRoot.querySelector("chain-picture").shadowRoot
    .querySelector("canvas").toDataURL()"""


APART = """() => {
    const chart = document.querySelector("wall-desk").shadowRoot.querySelector("string-chart").shadowRoot;
    const box = (text) => text.getBoundingClientRect();
    const now = box(chart.querySelector(".now-text"));
    const times = [...chart.querySelectorAll(".time")].map(box);
    return times.length > 2 && times.every((time) => time.right < now.left || time.left > now.right);
}"""


REDRAWN = """async () => {
    const picture = document.querySelector("wall-desk").shadowRoot.querySelector("chain-picture");
    picture.frames.stop();
    picture.renderRoot.querySelector(".cards").style.minHeight = "14rem";
    await new Promise((drawn) => requestAnimationFrame(() => requestAnimationFrame(drawn)));
    const canvas = picture.renderRoot.querySelector("canvas");
    return [canvas.height, Math.round(canvas.clientHeight * devicePixelRatio)];
}"""
"""Takes room from the film for the cards above it: how high it was drawn last, and how high it is, in device pixels."""

SHOWN_S = """() => document.querySelector("wall-desk").now_s"""
BETWEEN_S = 12.0
"""Of the show's time: 0.3 s at 40 times life. Chosen."""


def test_the_film_moves(demo: Served, clean: BrowserContext) -> None:
    """The browser goes on moving the film from what it was told last."""
    page = clean.new_page()
    page.goto(demo.desk("wall"))
    expect(page.get_by_text(re.compile("^Nothing wrong: nine motors running")).last).to_be_visible(timeout=READ_MS)
    before = page.evaluate(FILM)
    page.wait_for_function(f"(before) => ({FILM})() !== before", arg=before)


def test_the_film_is_drawn_anew_as_soon_as_it_has_less_room(wall: Page) -> None:
    """What is told above the film takes room from it: in that frame it is drawn as high as it stands."""
    drawn, stands = wall.evaluate(REDRAWN)
    assert drawn == stands


def test_a_card_tells_the_picture_and_the_start_apart(wall: Page) -> None:
    """Before a start the motor's countdown and the time of the picture are not called the same."""
    card = wall.get_by_role("article", name="House 1")
    expect(card).to_contain_text(re.compile("picture at [0-9]+:[0-9]{2}"))
    expect(card).not_to_contain_text("starts")


@pytest.mark.parametrize("width", [1024, 1920])
def test_the_time_that_it_is_stands_clear_of_the_others(demo: Served, browser: Browser, width: int) -> None:
    """Whatever time it is: no other is written under it on the chart."""
    with browser.new_context(service_workers="block", viewport={"width": width, "height": 1080}) as context:
        page = context.new_page()
        page.goto(demo.desk("wall"))
        expect(page.get_by_text(re.compile("^Nothing wrong: nine motors running")).last).to_be_visible(timeout=READ_MS)
        for _ in range(10):
            assert page.evaluate(APART)
            shown_s = page.evaluate(SHOWN_S)
            page.wait_for_function(f"(until_s) => ({SHOWN_S})() > until_s", arg=shown_s + BETWEEN_S)


@pytest.mark.parametrize("name", ["The chain as a table", "The chart as a table"])
def test_what_is_drawn_can_be_read(demo: Served, clean: BrowserContext, name: str) -> None:
    """The picture and the chart have tables that name every house."""
    page = clean.new_page()
    page.goto(demo.desk("wall"))
    page.get_by_text(name, exact=True).click()
    expect(page.get_by_role("region", name=name).get_by_role("rowheader")).to_have_count(9)


STILL_MS = 300.0
"""What is not moved for so long stays, on a busy machine: chosen."""
PLACES = """() => {
    const desk = document.querySelector("wall-desk").shadowRoot;
    const cards = [...desk.querySelector("chain-picture").shadowRoot.querySelectorAll("station-card")];
    const parts = [desk.querySelector("run-header"), ...cards, desk.querySelector("string-chart")];
    return parts.map((part) => part.getBoundingClientRect()).flatMap(({x, y, width, height}) => [x, y, width, height]);
}"""
TEXT_PX = 2.0
"""What a text that changes meanwhile may move: less than anybody sees. Chosen."""


def settled(page: Page) -> list[float]:
    """Where the parts of a wall are, once they stay there: what is told first moves them."""
    places: list[float] = page.evaluate(PLACES)
    for _ in range(20):
        page.wait_for_timeout(STILL_MS)
        before, places = places, page.evaluate(PLACES)
        if places == before:
            break
    return places


@pytest.mark.parametrize("name", ["The chain as a table", "The chart as a table"])
@pytest.mark.parametrize(("width", "height"), [(1024, 768), (1920, 1080)])
def test_a_table_has_a_place_of_its_own(
    two_houses: Served, clean: BrowserContext, name: str, width: int, height: int
) -> None:
    """It opens over the chart, moves neither headline nor chain nor chart, and is closed by a touch or by Escape."""
    page = clean.new_page()
    page.set_viewport_size({"width": width, "height": height})
    page.goto(two_houses.desk("wall"))
    expect(page.get_by_role("article")).to_have_count(2, timeout=READ_MS)
    before = settled(page)
    for close in ("touch", "Escape"):
        page.get_by_text(name, exact=True).click()
        table = page.get_by_role("region", name=name)
        expect(table).to_be_in_viewport(ratio=1.0)
        assert settled(page) == pytest.approx(before, abs=TEXT_PX)
        if close == "touch":
            table.get_by_role("button", name="Close").click()
        else:
            page.keyboard.press(close)
        expect(table).to_have_count(0)


@pytest.mark.parametrize(("width", "height"), [(1024, 768), (768, 1024)])
def test_targets_on_a_tablet_are_large_enough(two_houses: Served, browser: Browser, width: int, height: int) -> None:
    """Every button can be hit with a thumb, and nothing hangs over the side."""
    with browser.new_context(
        service_workers="block", viewport={"width": width, "height": height}, has_touch=True
    ) as context:
        page = context.new_page()
        open_booth(page, two_houses, "House 2")
        expect(page.get_by_role("heading", name="House 2")).to_be_visible()
        boxes = [button.bounding_box() for button in page.get_by_role("button").all()]
        shown = [box for box in boxes if box]
        assert len(shown) > 10
        assert [box for box in shown if min(box["height"], box["width"]) < SMALLEST_PX] == []
        assert page.evaluate("() => document.documentElement.scrollWidth") <= width


OUTSIDE = """() => {
    const found = [];
    const look = (root) => {
        for (const element of root.querySelectorAll("*")) {
            if (element.shadowRoot) look(element.shadowRoot);
            const box = element.getBoundingClientRect();
            const card = element.closest("article, button");
            if (card && element.matches("b, small, .what, p") && box.right > card.getBoundingClientRect().right + 1)
                found.push(element.textContent);
            if (element.matches(".what") && box.right > element.nextElementSibling.getBoundingClientRect().left + 1)
                found.push(element.textContent);
            if (element.matches(".what, .left") && element.scrollWidth > element.clientWidth + 1)
                found.push(element.textContent);
        }
    };
    look(document);
    return found;
}"""


BESIDE_ITS_LIST = """(left_s) => {
    const list = document.createElement("prompt-list");
    list.now_s = 0;
    list.prompts = [{kind: "confirm_head", station: "h3", from_s: Math.min(left_s, 0) - 1, due_s: left_s,
        text: "House 12: confirm that the picture is on screen"}];
    list.style.width = "400px";
    document.body.append(list);
    return list.updateComplete.then(() => {
        const box = list.getBoundingClientRect();
        return [...list.shadowRoot.querySelectorAll("li *")].filter((part) =>
            part.getBoundingClientRect().right > box.right + 1).map((part) => part.textContent);
    });
}"""


@pytest.mark.parametrize("left_s", [15, -75])
def test_what_is_left_of_a_prompt_stays_on_the_wall(demo: Served, clean: BrowserContext, left_s: int) -> None:
    """A long thing to do is wrapped, so that its time is to be seen, in time and over it."""
    page = clean.new_page()
    page.set_viewport_size({"width": 1024, "height": 768})
    page.goto(demo.desk("wall"))
    expect(page.get_by_role("article")).to_have_count(9, timeout=READ_MS)
    assert page.evaluate(BESIDE_ITS_LIST, left_s) == []


@pytest.mark.parametrize(("width", "height"), [(1024, 768), (1920, 1080)])
def test_a_start_that_is_half_a_day_away_runs_into_nothing(
    tmp_path: Path, browser: Browser, width: int, height: int
) -> None:
    """The longest countdown stays in its card and clear of what is to be done, on the wall and at the booth."""
    text = (FIXTURES / "plans/larkspur.plan.toml").read_text(encoding="utf-8")
    at = f"motors_at = {datetime.now(UTC) + timedelta(hours=11.99):%Y-%m-%dT%H:%M:%SZ}"
    plan = tmp_path / "later.plan.toml"
    plan.write_text(re.sub("motors_at = .*", at, text), encoding="utf-8")
    with (
        served_plans(plan) as server,
        browser.new_context(service_workers="block", viewport={"width": width, "height": height}) as context,
    ):
        page = context.new_page()
        for desk in ("wall", "booth"):
            page.goto(server.desk(desk))
            expect(page.get_by_text("11 h 59 min").first).to_be_visible(timeout=READ_MS)
            assert page.evaluate(OUTSIDE) == []
