"""What the lobby's reader can do: sort the houses, see what changed since the last look, and have it on paper."""

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.browser.hands import report
from tests.browser.served import PLAN, Served, served_plans

pytestmark = pytest.mark.slow

READ_MS = 10_000
CLOCK = "[0-9]+:[0-9]{2}"
HALF = f"{CLOCK} [ap]m"
SHEET = """() => {
    dispatchEvent(new Event("beforeprint"));
    const style = getComputedStyle(document.querySelector("lobby-desk").shadowRoot.querySelector("lobby-sheet"));
    return [style.display, style.color, getComputedStyle(document.documentElement).backgroundColor];
}"""
"""Has the sheet drawn as a printer has it; whether it is there, and its colours."""

HOUSES = ["1", "2", "3", "4", "5", "6", "7", "8", "9"]


def test_the_houses_stand_as_the_reader_likes(demo: Served, clean: BrowserContext) -> None:
    """A touch of a heading sorts by it, and the next visit has the same order."""
    page = clean.new_page()
    page.goto(f"{demo.base}/lobby")
    houses = page.get_by_role("rowheader")
    expect(houses).to_have_text(["3", "1", "2", "5", "4", "6", "9", "8", "7"], timeout=READ_MS)
    page.get_by_role("button", name="House").click()
    expect(houses).to_have_text(HOUSES)
    expect(page.get_by_role("columnheader", name="House")).to_have_attribute("aria-sort", "ascending")
    page.reload()
    expect(houses).to_have_text(HOUSES, timeout=READ_MS)


def come_on_screen(page: Page, served: Served) -> None:
    """House 1 was started a minute ago: its head, 60 counter feet on, is at the gate since."""
    report(page, served, "motor_start", "a", 60.0)


def test_what_changed_is_marked_until_it_is_seen(two_houses: Served, context: BrowserContext) -> None:
    """A house that came on screen says so, until the reader says that it was seen."""
    lobby = context.new_page()
    lobby.goto(f"{two_houses.base}/lobby")
    expect(lobby.get_by_role("rowheader")).to_have_count(2, timeout=READ_MS)
    lobby.wait_for_function("() => Object.keys(document.querySelector('lobby-desk').memory.seen).length === 2")
    come_on_screen(lobby, two_houses)
    house = lobby.get_by_role("row", name=re.compile("^1 on screen since"))
    expect(house).to_contain_text("came on screen", timeout=READ_MS)
    lobby.get_by_role("button", name="One changed since you looked: mark as seen").click()
    expect(house).not_to_contain_text("came on screen")
    lobby.reload()
    expect(house).to_be_visible(timeout=READ_MS)
    expect(lobby.get_by_text("came on screen")).to_have_count(0)


def test_what_changed_while_the_page_was_away_is_marked(two_houses: Served, context: BrowserContext) -> None:
    """Whoever comes back to the lobby is told what is other than when it was left."""
    lobby = context.new_page()
    lobby.goto(f"{two_houses.base}/lobby")
    expect(lobby.get_by_role("rowheader")).to_have_count(2, timeout=READ_MS)
    lobby.goto("about:blank")
    come_on_screen(lobby, two_houses)
    lobby.goto(f"{two_houses.base}/lobby")
    expect(lobby.get_by_role("row", name=re.compile("^1 on screen since"))).to_contain_text(
        "came on screen", timeout=READ_MS
    )


def plan_of_a_night(folder: Path, houses: int, starts: datetime) -> Path:
    """A print with an intermission and credits, through so many houses."""
    text = PLAN.format(title="Two by Lantern Light", now=starts).replace("10:00", "30:00")
    parts = '[[print]]\nid = "pause"\nkind = "intermission"\nduration = "15:00"\n\n'
    parts += '[[print]]\nid = "rest"\nkind = "feature"\nduration = "40:00"\n\n'
    parts += '[[print]]\nid = "credits"\nkind = "credits"\nduration = "5:00"\n\n[[print]]\nid = "tail"'
    first, *_, last = text.replace('[[print]]\nid = "tail"', parts).partition('[[stations]]\nid = "b"')
    more = "".join(f'[[stations]]\nid = "s{n}"' + last.replace('"2"', f'"{n}"') for n in range(2, houses + 1))
    path = folder / "night.plan.toml"
    path.write_text(first + more, encoding="utf-8")
    return path


def test_a_house_says_when_its_doors_are_wanted(tmp_path: Path, context: BrowserContext) -> None:
    """One in its intermission says until when it is, one before it when it comes; both when they let out."""
    starts = datetime.now(UTC) - timedelta(minutes=35)
    with served_plans(plan_of_a_night(tmp_path, 2, starts)) as served:
        lobby = context.new_page()
        report(lobby, served, "motor_start", "a", 35 * 60.0)
        report(lobby, served, "motor_start", "s2", 9 * 60.0)
        lobby.goto(f"{served.base}/lobby")
        paused = f"^1 intermission until {CLOCK} credits {CLOCK}, lets out {CLOCK}"
        expect(lobby.get_by_role("row", name=re.compile(paused))).to_be_visible(timeout=READ_MS)
        showing = f"^2 on screen since {CLOCK}.* intermission {CLOCK}, lets out {CLOCK}"
        expect(lobby.get_by_role("row", name=re.compile(showing))).to_be_visible()
        expect(lobby.get_by_text("One of two houses on screen")).to_be_visible()
        expect(lobby.get_by_text(re.compile("^Next: House 1 goes on in"))).to_be_visible()


def test_what_stands_says_when_it_goes_on(two_houses: Served, context: BrowserContext) -> None:
    """As soon as the booth has said so, above all the houses."""
    lobby = context.new_page()
    for kind, ago_s in (("motor_start", 300.0), ("motor_stop", 30.0)):
        for station in ("a", "b"):
            report(lobby, two_houses, kind, station, ago_s)
    lobby.goto(f"{two_houses.base}/lobby")
    stands = lobby.get_by_role("alert").get_by_text("Houses 1 and 2 stand: lights up")
    expect(stands).to_have_text("Houses 1 and 2 stand: lights up", timeout=READ_MS)
    expect(lobby.get_by_role("main").get_by_text(re.compile(f"Since {CLOCK}. Tell people: the film"))).to_be_visible()
    zero = datetime.fromisoformat(
        lobby.request.get(f"{two_houses.base}/api/runs/{two_houses.runs[0]}").json()["info"]["zero"]
    )
    again_s = (datetime.now(UTC) - zero).total_seconds() + 120.0
    event = {"id": "again", "kind": "hold", "seconds": again_s, "source": "tap"}
    assert lobby.request.post(f"{two_houses.base}/api/runs/{two_houses.runs[0]}/events", data=event).ok
    expect(stands).to_have_text(re.compile(f"stand: lights up, to go on at {CLOCK}"), timeout=READ_MS)


@pytest.mark.parametrize("houses", [2, 30])
def test_the_lobby_prints_on_one_page(tmp_path: Path, context: BrowserContext, houses: int) -> None:
    """Every house with its times, on A4 and on letter, black on white whatever the screen is, and when that was."""
    with served_plans(plan_of_a_night(tmp_path, houses, datetime.now(UTC) + timedelta(hours=1))) as served:
        lobby = context.new_page()
        lobby.emulate_media(color_scheme="dark")
        lobby.goto(f"{served.base}/lobby")
        expect(lobby.get_by_role("rowheader")).to_have_count(houses, timeout=READ_MS)
        for paper in ("A4", "Letter"):
            pages = re.findall(rb"/Type /Page\b", lobby.pdf(format=paper, print_background=True))
            assert len(pages) == 1
        lobby.emulate_media(media="print", color_scheme="dark")
        assert lobby.evaluate(SHEET) == ["block", "rgb(0, 0, 0)", "rgb(255, 255, 255)"]
        columns = ["House", "Starts", "Intermission", "Credits", "Lets out"]
        expect(lobby.get_by_role("columnheader")).to_have_text(columns)
        expect(lobby.get_by_role("rowheader")).to_have_text([str(number) for number in range(1, houses + 1)])
        row = f"^{houses} {HALF} {CLOCK} to {HALF} {HALF} {HALF}$"
        expect(lobby.get_by_role("row", name=re.compile(row))).to_be_visible()
        expect(lobby.get_by_text(re.compile(f"Printed at {HALF} on [A-Z].*Times move"))).to_be_visible()
        expect(lobby.get_by_role("button")).to_have_count(0)


def test_the_print_gets_smaller_where_lines_wrap(tmp_path: Path, context: BrowserContext) -> None:
    """Long lines in every house: a television and a tablet still have all of them without scrolling."""
    starts = datetime.now(UTC) - timedelta(minutes=20)
    with served_plans(plan_of_a_night(tmp_path, 9, starts)) as served:
        lobby = context.new_page()
        for station in ("a", *(f"s{number}" for number in range(2, 10))):
            report(lobby, served, "motor_start", station, 15 * 60.0)
        for width, height in [(1920, 1080), (1024, 768)]:
            lobby.set_viewport_size({"width": width, "height": height})
            lobby.goto(f"{served.base}/lobby")
            expect(lobby.get_by_text("not confirmed")).to_have_count(9, timeout=READ_MS)
            extent = "() => [document.documentElement.scrollWidth, document.documentElement.scrollHeight]"
            lobby.wait_for_function(f"() => JSON.stringify(({extent})()) === '[{width},{height}]'")


BEYOND = """() => {
    const rows = document.querySelector("lobby-desk").shadowRoot.querySelector("house-table");
    const table = rows.shadowRoot.querySelector("table");
    return table.getBoundingClientRect().right - rows.getBoundingClientRect().right;
}"""
"""How far the table hangs over the side of what it stands in, in pixels."""


def test_one_house_alone_keeps_to_its_screen(tmp_path: Path, context: BrowserContext) -> None:
    """The print of a single house is large, and its line still ends where the page's edge begins."""
    text = PLAN.format(title="A Short Walk", now=datetime.now(UTC) + timedelta(minutes=2))
    plan = tmp_path / "one.plan.toml"
    plan.write_text(text[: text.rindex("[[stations]]")], encoding="utf-8")
    with served_plans(plan) as served:
        lobby = context.new_page()
        lobby.set_viewport_size({"width": 1024, "height": 768})
        lobby.goto(f"{served.base}/lobby")
        expect(lobby.get_by_role("row", name=re.compile("^1 starts in "))).to_be_visible(timeout=READ_MS)
        lobby.wait_for_function(f"() => ({BEYOND})() < 2")
