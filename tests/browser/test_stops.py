"""A chain that stands: light off the film, what is missing before a start, a start that is held, an end that is out."""

import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect

from tests.browser.hands import answer, events, open_booth
from tests.browser.served import PLAN, Served, served_plans

pytestmark = pytest.mark.slow

READ_MS = 10_000
SMALLEST_PX = 48
FREE_END = "\u2013 free end"
HOUSES = ("a", "b")
FOUR = ((2, "b"), (3, "c"), (4, "d"))

SAID = """() => {
    const said = [];
    const look = (root) => {
        for (const element of root.querySelectorAll("*")) {
            if (element.shadowRoot) look(element.shadowRoot);
            for (const name of ["aria-label", "title"]) said.push(element.getAttribute(name) ?? "");
            if (!element.matches("script, style"))
                said.push(...[...element.childNodes].filter((node) => node.nodeType === 3).map((node) => node.data));
        }
    };
    look(document);
    return said.join(" | ");
}"""
"""Every text and every name of a page, through all of its elements."""


def plan_of_contacts(folder: Path, starts: datetime, minutes: int) -> Path:
    """A show of two houses whose motors, lamps and dousers are on contacts, as long as asked for."""
    text = PLAN.format(title="A Short Walk", now=starts).replace("10:00", f"{minutes}:00")
    wired = 'motor = "contact", lamp = "contact", douser = "contact", cue = "tap"'
    path = folder / "wired.plan.toml"
    path.write_text(re.sub("motor = .*(?= })", wired, text), encoding="utf-8")
    return path


def plan_of_four(folder: Path, starts: datetime) -> Path:
    """The same with two houses more, at the end of the chain."""
    path = plan_of_contacts(folder, starts, 60)
    first, *_, last = path.read_text(encoding="utf-8").partition('[[stations]]\nid = "b"')
    text = first + "".join(f'[[stations]]\nid = "{station}"' + last.replace('"2"', f'"{k}"') for k, station in FOUR)
    path.write_text(text, encoding="utf-8")
    return path


def told(page: Page, served: Served, kind: str, station: str, ago_s: float, **more: float) -> None:
    """Have the server know what a contact saw a while ago."""
    t = (datetime.now(UTC) - timedelta(seconds=ago_s)).isoformat()
    event = {"id": f"{kind} {station} {ago_s}", "t": t, "kind": kind, "station": station, "source": "contact:box"}
    assert page.request.post(f"{served.base}/api/runs/{served.runs[0]}/events", data=event | more).ok


@pytest.fixture
def showing(tmp_path: Path, context: BrowserContext) -> Iterator[Served]:
    """A run of which both houses have had the picture for some minutes."""
    with served_plans(plan_of_contacts(tmp_path, datetime.now(UTC) - timedelta(minutes=5), 60)) as served:
        page = context.new_page()
        for kind, ago_s in (("motor_start", 300), ("lamp_lit", 280), ("douser_open", 270)):
            for station in HOUSES:
                told(page, served, kind, station, ago_s)
        page.close()
        yield served


def stop(page: Page, served: Served, *, dark: bool) -> None:
    """All motors stopped half a minute ago; with the dousers shut where it is `dark`."""
    for station in HOUSES:
        told(page, served, "motor_stop", station, 30)
        if dark:
            told(page, served, "douser_shut", station, 25)


def desk(page: Page, served: Served, name: str) -> Page:
    page.goto(served.desk(name))
    return page


def heat(page: Page) -> Locator:
    return page.get_by_role("region", name="Film in the light")


def card(page: Page) -> Locator:
    return page.get_by_role("region", name="Before the chain starts again")


def test_film_in_the_light_is_one_call_at_every_desk(showing: Served, context: BrowserContext) -> None:
    """A stop with light is one block with every house by name; one touch acknowledges all, shut dousers end it."""
    wall, lobby, booth = (context.new_page() for _ in range(3))
    desk(wall, showing, "wall")
    desk(lobby, showing, "lobby")
    open_booth(booth, showing, "All", by="Ines")
    stop(booth, showing, dark=False)
    for page in (wall, booth):
        expect(heat(page).get_by_text("Houses 1 and 2: shut the dousers")).to_be_visible(timeout=READ_MS)
    expect(lobby.get_by_role("alert").filter(has_text="Houses 1 and 2 stand: lights up")).to_be_visible()
    expect(lobby.get_by_role("row", name=re.compile("^1 stands: lights up"))).to_be_visible()
    assert "Nothing" not in wall.evaluate(SAID)
    heat(booth).get_by_role("button", name="Acknowledge").click()
    expect(heat(wall)).to_contain_text("acknowledged by Ines", timeout=READ_MS)
    acks = {event["alarm"] for event in events(booth, showing) if event["kind"] == "ack"}
    assert acks == {"film_heat:a", "film_heat:b"}
    heat(booth).get_by_role("button", name="House 1: douser shut").click()
    expect(heat(wall).get_by_text("House 2: shut the douser", exact=True)).to_be_visible(timeout=READ_MS)
    heat(booth).get_by_role("button", name="House 2: douser shut").click()
    for page in (wall, booth):
        expect(heat(page)).to_have_count(0, timeout=READ_MS)
        expect(
            page.get_by_text(re.compile("^The chain stands since .*: Houses 1 and 2 in the picture")).last
        ).to_be_visible()


def test_what_went_off_by_itself_is_acknowledged_by_one_touch(tmp_path: Path, context: BrowserContext) -> None:
    """Four alarms that went off are one line in the booth, with their texts behind it and one touch for all."""
    with served_plans(plan_of_four(tmp_path, datetime.now(UTC) - timedelta(minutes=5))) as served:
        booth = open_booth(context.new_page(), served, "All")
        houses = ("a", "b", "c", "d")
        for kind, ago_s in (("motor_start", 300), ("lamp_lit", 290), ("douser_open", 280), ("motor_stop", 30)):
            for station in houses:
                told(booth, served, kind, station, ago_s)
        expect(heat(booth)).to_contain_text("Houses 1, 2, 3 and 4", timeout=READ_MS)
        for station in houses:
            told(booth, served, "douser_shut", station, 20)
        alarms = booth.get_by_role("region", name="Alarms")
        went = alarms.get_by_text(re.compile("^(Four|Five|Six|Seven|Eight) alarms went off by themselves$"))
        expect(went).to_be_visible(timeout=READ_MS)
        text = alarms.get_by_text("House 4: film stands in the light")
        expect(text).to_be_hidden()
        went.click()
        expect(text).to_be_visible()
        alarms.get_by_role("button", name="Acknowledge all").click()
        expect(alarms.get_by_text(re.compile("went off by", re.IGNORECASE))).to_have_count(0, timeout=READ_MS)
        acks = {event["alarm"] for event in events(booth, served) if event["kind"] == "ack"}
        assert acks >= {f"film_heat:{station}" for station in houses}


def test_light_off_the_film_stays_in_the_hand(showing: Served, browser: Browser) -> None:
    """However far a phone is scrolled, the block with its dousers is on it."""
    with browser.new_context(service_workers="block", viewport={"width": 390, "height": 844}, has_touch=True) as phone:
        booth = open_booth(phone.new_page(), showing, "All")
        stop(booth, showing, dark=False)
        expect(heat(booth)).to_be_visible(timeout=READ_MS)
        booth.evaluate("() => scrollTo(0, document.documentElement.scrollHeight)")
        expect(heat(booth).get_by_role("button", name="House 2: douser shut")).to_be_in_viewport()
        assert booth.evaluate("() => document.documentElement.scrollWidth") == 390


def test_a_chain_is_made_ready_by_touch_and_every_desk_counts_down_alike(showing: Served, browser: Browser) -> None:
    """What is missing is one touch each; with nothing missing, and a time, booth and wall count down to one second."""
    with browser.new_context(
        service_workers="block", viewport={"width": 1024, "height": 768}, has_touch=True, locale="en-US"
    ) as tablet:
        wall, booth = tablet.new_page(), tablet.new_page()
        desk(wall, showing, "wall")
        open_booth(booth, showing, "All", by="Ines")
        stop(booth, showing, dark=True)
        expect(card(booth)).to_contain_text("Three things missing", timeout=READ_MS)
        expect(card(wall)).to_contain_text("Houses 1 and 2: not ready; House 1 to 2: not read")
        for house in ("House 1", "House 2"):
            card(booth).get_by_role("button", name=f"{house}: ready").tap()
            expect(card(booth)).to_contain_text("by Ines", timeout=READ_MS)
        assert "Ready: s" not in card(wall).inner_text()
        card(booth).get_by_role("button", name="House 1 to 2: laced anew").tap()
        for page in (wall, booth):
            expect(card(page)).to_contain_text("Ready: say when it starts", timeout=READ_MS)
        card(booth).get_by_role("button", name="Start in 2 min").tap()
        for page in (wall, booth):
            expect(card(page)).to_contain_text(re.compile("Ready: starts in 1:[0-9]{2}"), timeout=READ_MS)
        starts = [re.findall(r"\(([0-9:]+)\)", card(page).inner_text()) for page in (wall, booth)]
        assert starts[0] == starts[1] != []


def test_no_row_of_the_card_moves_under_the_finger(showing: Served, browser: Browser) -> None:
    """A touch leaves every button where it is; only when a kind is done are its rows one line, and can be opened."""
    with browser.new_context(
        service_workers="block", viewport={"width": 1024, "height": 768}, has_touch=True
    ) as tablet:
        booth = open_booth(tablet.new_page(), showing, "All", by="Ines")
        stop(booth, showing, dark=True)
        rows = card(booth).get_by_role("listitem").get_by_role("button")
        expect(rows).to_have_count(4, timeout=READ_MS)
        expect(card(booth).get_by_role("button").first).to_have_text("Start in 1 min")
        before = [button.bounding_box() for button in rows.all()]
        card(booth).get_by_role("button", name="House 1: ready").tap()
        expect(card(booth).get_by_role("button", name="House 1: ready, done")).to_be_visible(timeout=READ_MS)
        assert [button.bounding_box() for button in rows.all()] == before
        card(booth).get_by_role("button", name="House 2: ready").tap()
        expect(card(booth).get_by_text("✓ Houses 1 and 2 ready")).to_be_visible(timeout=READ_MS)
        card(booth).get_by_role("button", name="House 1 to 2: laced anew").tap()
        done = card(booth).get_by_text("✓ House 1 to 2 laced anew")
        expect(done).to_be_visible(timeout=READ_MS)
        expect(card(booth).get_by_role("button", name="House 1 to 2: read")).to_be_hidden()
        done.tap()
        card(booth).get_by_role("button", name="House 1 to 2: read").tap()
        card(booth).get_by_role("button", name="at rest", exact=True).tap()
        expect(card(booth).get_by_text("✓ House 1 to 2 read")).to_be_visible(timeout=READ_MS)


def test_a_lamp_is_asked_for_once_a_start_is_set(showing: Served, context: BrowserContext) -> None:
    """A lamp that has to be lit is missing all the while, and is one touch only once the start is set."""
    booth = open_booth(context.new_page(), showing, "All")
    stop(booth, showing, dark=True)
    told(booth, showing, "lamp_out", "a", 20)
    expect(card(booth)).to_contain_text("lamp to be lit before the start", timeout=READ_MS)
    expect(card(booth)).to_contain_text("Four things missing")
    lit = card(booth).get_by_role("button", name="House 1: lamp lit")
    expect(lit).to_have_count(0)
    card(booth).get_by_role("button", name="Start in 5 min").click()
    expect(lit).to_be_visible(timeout=READ_MS)
    expect(booth.get_by_role("status")).to_contain_text(re.compile("Four things missing; start at [0-9:]+"))


@pytest.mark.parametrize("lit", [True, False], ids=["act", "calm"])
def test_a_wall_of_a_chain_that_stands_shows_all_of_it(lit: bool, tmp_path: Path, context: BrowserContext) -> None:
    """Chain, chart and the way to the other desks are on the screen with the card, and the clock in the first line."""
    with served_plans(plan_of_four(tmp_path, datetime.now(UTC) - timedelta(minutes=5))) as served:
        wall = desk(context.new_page(), served, "wall")
        for kind, ago_s in (("motor_start", 300), ("lamp_lit", 290), ("douser_open", 280), ("motor_stop", 30)):
            for station in ("a", "b", "c", "d"):
                told(wall, served, kind, station, ago_s)
        for station in () if lit else ("a", "b", "c", "d"):
            told(wall, served, "douser_shut", station, 20)
        told_start = {
            "id": "start",
            "t": datetime.now(UTC).isoformat(),
            "kind": "hold",
            "source": "tap",
            "seconds": 900,
        }
        assert wall.request.post(f"{served.base}/api/runs/{served.runs[0]}/events", data=told_start).ok
        expect(card(wall)).to_contain_text("start in", timeout=READ_MS)
        expect(heat(wall)).to_have_count(1 if lit else 0)
        expect(wall.get_by_role("link", name="lobby")).to_be_in_viewport(ratio=1)
        assert wall.evaluate("() => document.documentElement.scrollHeight") <= 1080
        alarms, shown = (part.bounding_box() for part in (wall.get_by_role("region", name="Alarms"), card(wall)))
        assert alarms
        assert shown
        assert shown["x"] >= alarms["x"] + alarms["width"]


def test_a_link_is_read_on_the_card(showing: Served, context: BrowserContext) -> None:
    """The card's own entry tells the reading of the station that the link feeds, and never of the first."""
    booth = open_booth(context.new_page(), showing, "All")
    stop(booth, showing, dark=True)
    card(booth).get_by_role("button", name="House 1 to 2: read").click()
    card(booth).get_by_role("button", name="at rest", exact=True).click()
    expect(card(booth)).to_contain_text("✓ read", timeout=READ_MS)
    expect(answer(booth)).to_contain_text("House 1 to 2: read at rest")
    assert [event["station"] for event in events(booth, showing) if event["kind"] == "slack_read"] == ["b"]


def test_a_hold_moves_what_every_desk_has_planned(tmp_path: Path, context: BrowserContext) -> None:
    """The start is held by a touch at the booth: wall and lobby say so, count on it, and forget it on the way back."""
    with served_plans(plan_of_contacts(tmp_path, datetime.now(UTC) + timedelta(minutes=20), 60)) as served:
        wall, lobby, booth = (context.new_page() for _ in range(3))
        desk(wall, served, "wall")
        desk(lobby, served, "lobby")
        open_booth(booth, served, "All")
        start = wall.get_by_role("article", name="House 1")
        expect(start).to_contain_text(re.compile("start in (19|20):"), timeout=READ_MS)
        before = lobby.get_by_role("row", name=re.compile("^1 ")).inner_text()
        booth.get_by_role("button", name="Hold 5 min").click()
        expect(lobby.get_by_text("Held 5 minutes")).to_be_visible(timeout=READ_MS)
        expect(wall.get_by_text("held 5 minutes")).to_be_visible()
        expect(booth.get_by_role("group", name="When it starts")).to_contain_text("Held 5 minutes")
        expect(start).to_contain_text(re.compile("start in 24:"))
        held = lobby.get_by_role("row", name=re.compile("^1 ")).inner_text()
        assert minutes_in(held) - minutes_in(before) in (4, 5)
        booth.get_by_role("button", name="Back to the plan").click()
        expect(lobby.get_by_text("Held 5 minutes")).to_have_count(0, timeout=READ_MS)
        expect(start).to_contain_text(re.compile("start in 19:"))


def minutes_in(row: str) -> int:
    """In how many minutes a house of the lobby starts."""
    found = re.search(r"starts in (\d+) min", row)
    assert found, row
    return int(found[1])


def test_a_link_with_a_free_end_has_a_dash(tmp_path: Path, context: BrowserContext) -> None:
    """Once the film's end has left the upstream gate nothing hangs there: picture and table have a dash."""
    starts = datetime.now(UTC) - timedelta(seconds=340)  # 40 s of leader, 3 minutes, 100 s of tail: out 20 s ago
    with served_plans(plan_of_contacts(tmp_path, starts, 3)) as served:
        wall = desk(context.new_page(), served, "wall")
        for kind, ago_s in (("motor_start", 340), ("lamp_lit", 320), ("douser_open", 310)):
            for station in HOUSES:
                told(wall, served, kind, station, ago_s)
        house = wall.get_by_role("article", name="House 1")
        expect(house).to_contain_text("clear", timeout=READ_MS)
        expect(wall.get_by_text(FREE_END)).to_be_visible()
        expect(wall.get_by_text("at rest")).to_have_count(0)
        wall.get_by_text("The chain as a table", exact=True).click()
        row = wall.get_by_role("region", name="The chain as a table").get_by_role("row", name=re.compile("^1 clear"))
        expect(row).to_contain_text(re.compile(f"House 1 to 2.*{FREE_END}", re.DOTALL))


@pytest.mark.parametrize("dark", [True, False], ids=["dark", "lit"])
def test_no_desk_of_a_chain_that_stands_breaks_a_rule_of_access(
    dark: bool, showing: Served, context: BrowserContext
) -> None:
    """axe-core finds nothing on the block and on the card, and no page shows an id of a link."""
    pages = [context.new_page() for _ in range(3)]
    open_booth(pages[0], showing, "House 2")
    for page, name in zip(pages[1:], ("wall", "lobby"), strict=True):
        desk(page, showing, name)
    stop(pages[0], showing, dark=dark)
    for page in pages:
        expect(page.get_by_text(re.compile("^(Houses 1 and 2|Three things|Seven things).*")).first).to_be_attached(
            timeout=READ_MS
        )
        results = Axe().run(page)
        assert results.violations_count == 0, results.generate_report()
        assert "a>b" not in page.evaluate(SAID)


@pytest.mark.parametrize(("width", "height"), [(1024, 768), (390, 844)])
def test_targets_of_a_chain_that_stands_are_large_enough(
    showing: Served, browser: Browser, width: int, height: int
) -> None:
    """Everything of the block and the card can be hit with a thumb, and nothing hangs over the side."""
    with browser.new_context(
        service_workers="block", viewport={"width": width, "height": height}, has_touch=True
    ) as context:
        booth = open_booth(context.new_page(), showing, "All")
        stop(booth, showing, dark=False)
        card(booth).get_by_role("button", name="House 1 to 2: read").tap()
        expect(heat(booth)).to_be_visible(timeout=READ_MS)
        boxes = [button.bounding_box() for part in (heat, card) for button in part(booth).get_by_role("button").all()]
        shown = [box for box in boxes if box]
        assert len(shown) > 15
        assert [box for box in shown if min(box["height"], box["width"]) < SMALLEST_PX] == []
        assert booth.evaluate("() => document.documentElement.scrollWidth") <= width
