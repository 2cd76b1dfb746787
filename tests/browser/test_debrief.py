"""A show that is over, gone through in the browser: watched, searched, read, put right, learned from, compared."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Locator, Page, Route, expect

from server.timeline.plan import parse_plan
from tests.browser.past import FIRST, PAIR, SECOND, served_log
from tests.browser.served import Served
from tests.browser.test_desks import violations

pytestmark = pytest.mark.slow

READ_MS = 60_000
"""A show is gone through once before its first moment is shown, in a process that stands back for every other."""

LATE_S = 90.0
LATE = next(one for one in FIRST.events() if one.kind == "mark_pass" and one.source.startswith("tap"))
SIZES = "found => found.map((one) => one.getBoundingClientRect()).map(({ width, height }) => [width, height])"
PARTS = ["Watch it again", "Read it", "Put it right", "Change the plan", "Compare", "Hand it on"]
SMALLEST_PX = 48
"""As on the other desks."""

FILM = """() => document.querySelector("debrief-desk").shadowRoot.querySelector("chain-picture").shadowRoot
    .querySelector("canvas").toDataURL()"""


@pytest.fixture(scope="module")
def past(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A server with two shows of one chain in its log, one tap of the first having arrived late."""
    first = FIRST._replace(late_s={LATE.id: LATE_S})
    with served_log(tmp_path_factory.mktemp("past"), first, SECOND) as server:
        yield server


@pytest.fixture
def pair(tmp_path: Path) -> Iterator[Served]:
    """A server with a small show in its log that nobody else looks at."""
    with served_log(tmp_path, PAIR) as server:
        yield server


@pytest.fixture
def page(past: Served, clean: BrowserContext) -> Page:
    """The debrief of the first show, at its start."""
    return opened(clean.new_page(), f"{past.base}/debrief?run={FIRST.run}")


def opened(page: Page, address: str) -> Page:
    page.goto(address)
    expect(page.get_by_role("article").first).to_be_visible(timeout=READ_MS)
    return page


def part(page: Page, name: str) -> None:
    link = page.get_by_role("navigation", name="Parts of the debrief").get_by_role("link", name=name)
    link.click()
    expect(link).to_have_attribute("aria-current", "page", timeout=READ_MS)
    if name in {"Change the plan", "Compare"}:
        expect(page.get_by_role("table").first).to_be_visible(timeout=READ_MS)


def moment(page: Page) -> Locator:
    """The time of the house's clock that is shown large."""
    return page.get_by_role("banner").get_by_role("time")


def seconds_of(clock: str) -> int:
    """Seconds after the full hour."""
    _, minutes, seconds = clock.removesuffix(" am").removesuffix(" pm").split(":")
    return 60 * int(minutes) + int(seconds)


def press(page: Page, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).click()


def test_a_run_is_gone_through_alarm_by_alarm_and_event_by_event(page: Page) -> None:
    """Buttons and keys go on and back; the list, the chart and the wall's picture are at that moment."""
    start = moment(page).inner_text()
    here = page.get_by_role("listitem").filter(has=page.locator("[aria-current=true]"))
    press(page, "Next alarm")
    expect(here).to_contain_text(re.compile("Act now.*House 5: the strike window has closed", re.DOTALL))
    at = moment(page).inner_text()
    assert at != start
    expect(page.get_by_role("slider", name="Moment of the run")).to_have_attribute("aria-valuetext", at)
    expect(page.get_by_role("list", name="Alarms at this moment")).to_contain_text(
        "House 5: the strike window has closed"
    )
    expect(page.get_by_role("article", name="House 5")).to_contain_text("act now")
    page.keyboard.press("ArrowRight")
    expect(moment(page)).not_to_have_text(at)
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("Shift+ArrowLeft")
    expect(page.get_by_text("Nothing wrong")).to_be_visible()
    expect(moment(page)).not_to_have_text(at)


def test_a_run_plays_and_pauses(page: Page) -> None:
    """Space plays it from where one is, as fast as was asked for; space again stops it there."""
    page.get_by_role("combobox", name="Speed").select_option("300 times as fast")
    start, film = moment(page).inner_text(), page.evaluate(FILM)
    page.get_by_role("slider").focus()
    page.keyboard.press("Space")
    expect(page.get_by_role("button", name="Pause")).to_be_visible()
    expect(moment(page)).not_to_have_text(start)
    page.wait_for_function(f"(film) => ({FILM})() !== film", arg=film)
    expect(page.get_by_role("article", name="House 3")).to_contain_text("showing", timeout=READ_MS)
    page.keyboard.press("Space")
    expect(page.get_by_role("button", name="Play")).to_be_visible()
    stopped = page.get_by_role("slider").get_attribute("aria-valuenow")
    page.keyboard.press("End")
    page.keyboard.press("Home")
    expect(moment(page)).to_have_text(start)
    assert float(stopped or 0) > 0


def test_scrubbing_on_the_chart_moves_the_picture(page: Page) -> None:
    """A finger drawn along the chart shows each house as it was there."""
    slider = page.get_by_role("slider")
    box = slider.bounding_box()
    assert box is not None
    middle = box["y"] + box["height"] / 2
    page.mouse.move(box["x"] + 80, middle)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] / 2, middle, steps=4)
    expect(page.get_by_role("article", name="House 3")).to_contain_text("showing")
    page.mouse.move(box["x"] + box["width"] - 5, middle, steps=4)
    page.mouse.up()
    expect(page.get_by_role("article", name="House 3")).to_contain_text("clear")
    expect(moment(page)).to_have_text(slider.get_attribute("aria-valuetext") or "")


def test_the_chart_is_looked_at_closer(page: Page) -> None:
    """Closer and wider keep the moment in sight; the whole run is one press away."""
    slider, names = page.get_by_role("slider"), ["Closer", "Closer", "Closer"]
    before = slider.inner_text()
    press(page, "Next alarm")
    for name in names:
        press(page, name)
    assert slider.inner_text() != before
    expect(page.get_by_role("button", name="Whole run")).to_be_enabled()
    press(page, "Wider")
    press(page, "Whole run")
    expect(page.get_by_role("button", name="Whole run")).to_be_disabled()


def test_the_moment_that_mattered_is_found_by_words(page: Page) -> None:
    """A search narrows events and alarms; choosing one goes there."""
    page.get_by_role("searchbox", name="Find the moment").fill("tight alarm")
    rows = page.get_by_role("list", name="Moments of the run").get_by_role("button")
    expect(rows.first).to_contain_text("the film is running tight")
    assert all("tight" in row for row in rows.all_inner_texts())
    rows.first.click()
    expect(page.get_by_role("list", name="Alarms at this moment")).to_contain_text("the film is running tight")
    page.get_by_role("searchbox").fill("no such words anywhere")
    expect(page.get_by_text("0 moments found")).to_be_visible()


def test_the_two_clocks_tell_a_late_tap_apart(page: Page) -> None:
    """Known now a late tap stands at its own time; known then it comes when it arrived, and the page says which."""
    page.get_by_role("searchbox").fill(f"{LATE.by} late".lower())
    row = page.get_by_role("list", name="Moments of the run").get_by_role("button").filter(has_text="90 s late")
    expect(row).to_have_count(1)
    own = row.get_by_role("time").inner_text()
    with page.expect_response(re.compile(r"/state\?.*clock=then")):
        page.get_by_role("radio", name="Known then").check()
    expect(page.get_by_text("As the desks knew it then: only what had arrived").first).to_be_visible()
    expect(row.get_by_role("time")).not_to_have_text(own, timeout=READ_MS)
    assert (seconds_of(row.get_by_role("time").inner_text()) - seconds_of(own)) % 3600 in {89, 90, 91}


def test_every_table_can_be_read_and_stands_with_its_chart(page: Page) -> None:
    """Each table of the run is there by its name; those that have a chart have it beside them."""
    part(page, "Read it")
    buttons = page.get_by_role("navigation", name="What to read").get_by_role("button")
    expect(buttons).to_have_count(12, timeout=READ_MS)
    for name in buttons.all_inner_texts():
        press(page, name)
        expect(page.get_by_role("heading", name=name, exact=True)).to_be_visible()
    charts = {
        "Starts against plan": "How late each motor started",
        "Slack over time": "Slack of House 8 to 7",
        "Strikes against their windows": "Each strike against its window",
        "Passes planned, expected and observed": "Passes and alarms of the run",
    }
    for name, chart in charts.items():
        press(page, name)
        expect(page.get_by_role("img", name=re.compile(f"^{chart}"))).to_be_visible()
        expect(page.get_by_role("region", name=name).get_by_role("row").nth(1)).to_be_visible()


def test_a_wrong_tap_is_taken_back_and_a_forgotten_one_added(pair: Served, clean: BrowserContext) -> None:
    """Nothing is taken without a name; what is taken is told, and the run is worked out again."""
    page = opened(clean.new_page(), f"{pair.base}/debrief?run={PAIR.run}")
    part(page, "Put it right")
    press(page, "Put right: House 1: lamp lit")
    page.get_by_role("radio", name="It did not happen").check()
    form = page.get_by_role("form", name="Correction")
    form.get_by_label("Why, in a few words").fill("the other house")
    form.get_by_label("Who corrects it").fill(" ")
    press(page, "Take it back")
    expect(page.get_by_role("alert")).to_contain_text("Say who corrects this")
    form.get_by_label("Who corrects it").fill("Ada")
    press(page, "Take it back")
    expect(page.get_by_text(re.compile("^Taken: .* added to the run by Ada"))).to_be_visible(timeout=READ_MS)
    events = page.get_by_role("list", name="Events")
    expect(events.get_by_role("listitem").filter(has_text="House 1: lamp lit")).to_contain_text("taken back")
    expect(
        page.get_by_role("region", name="Corrections").get_by_role("row").filter(has_text="Ada").first
    ).to_be_visible()
    form.get_by_role("combobox", name="What happened").select_option(label="lamp lit")
    form.get_by_role("combobox", name="House").select_option(label="1")
    form.get_by_label("When, on the house's clock").fill("23:50:20")
    press(page, "Add it")
    lit = events.get_by_role("listitem").filter(has_text="House 1: lamp lit")
    expect(lit).to_have_count(2, timeout=READ_MS)
    expect(lit.filter(has_text="added in the debrief")).to_contain_text("11:50:20")


def test_a_time_is_put_right(pair: Served, clean: BrowserContext) -> None:
    """The event keeps what it says, at another time; the page says how far it moves."""
    page = opened(clean.new_page(), f"{pair.base}/debrief?run={PAIR.run}")
    part(page, "Put it right")
    press(page, "Put right: House 2: lamp lit")
    form = page.get_by_role("form", name="Correction")
    time = form.get_by_label("When, on the house's clock")
    before = time.input_value()
    hours, minutes, _ = before.split(":")
    time.fill(f"{hours}:{minutes}:05.5")
    expect(form.get_by_text(re.compile(r"s (earlier|later) than it counts now"))).to_be_visible()
    form.get_by_label("Who corrects it").fill("Ada")
    press(page, "Move it to that time")
    expect(page.get_by_text(re.compile("^Taken: "))).to_be_visible(timeout=READ_MS)
    events = page.request.get(f"{pair.base}/api/debriefs/{PAIR.run}/events").json()["events"]
    (added,) = [one["event"] for one in events if one["correction"] and one["event"]["kind"] == "lamp_lit"]
    assert (added["station"], added["by"], added["t"].endswith(":05.5Z")) == ("b", "Ada", True)


def test_lessons_are_shown_and_a_plan_is_saved_on_request(past: Served, clean: BrowserContext) -> None:
    """From two runs: each path with old and new, what would have been different, and a plan that can be read."""
    page = clean.new_page()
    page.goto(f"{past.base}/debrief?run={FIRST.run}&run={SECOND.run}#learn")
    paths = page.get_by_role("region", name="Paths")
    expect(paths.get_by_role("row")).to_have_count(9, timeout=READ_MS)
    expect(paths.get_by_role("row").nth(1)).to_contain_text("±")
    expect(page.get_by_role("region", name="What would have been different").get_by_role("row")).to_have_count(10)
    expect(page.get_by_text("From 2 runs together")).to_be_visible()
    with page.expect_download() as saving:
        page.get_by_role("link", name="Save the corrected plan").click()
    assert saving.value.suggested_filename == "larkspur-2.plan.toml"
    corrected = parse_plan(saving.value.path().read_text(encoding="utf-8"), "larkspur-2.plan.toml")
    before = parse_plan(SECOND.plan_text(), "larkspur.plan.toml")
    assert [station.id for station in corrected.stations] == [station.id for station in before.stations]
    assert corrected.stations != before.stations


def test_two_runs_are_compared(past: Served, clean: BrowserContext) -> None:
    """Runs of a chain stand on one chart, told apart by letters, and in one table."""
    page = clean.new_page()
    page.goto(f"{past.base}/debrief?run={FIRST.run}#compare")
    page.get_by_role("checkbox", name=re.compile("larkspur-second")).check(timeout=READ_MS)
    page.get_by_role("link", name="Take this run with it").click()
    expect(page.get_by_role("list", name="Runs").get_by_role("listitem")).to_have_count(2, timeout=READ_MS)
    expect(page.get_by_role("img", name="Seconds after plan, by house")).to_be_visible()
    page.get_by_role("combobox", name="Lay over each other").select_option(label="slack of House 8 to 7")
    expect(page.get_by_role("img", name="Slack by minutes after the first start")).to_be_visible()
    expect(page.get_by_role("region", name="Stations").get_by_role("row")).to_have_count(10)


def test_what_is_handed_on_is_had_as_files(page: Page) -> None:
    """The recording is a file of the run's name; the report is one page."""
    part(page, "Hand it on")
    for name, ending in (("Report as a page", ".html"), ("Recording", ".events.jsonl"), ("All tables", "-tables.zip")):
        with page.expect_download() as saving:
            page.get_by_role("link", name=name, exact=True).click()
        assert saving.value.suggested_filename == f"{FIRST.run}{ending}"


def test_a_report_is_had_as_pdf(page: Page) -> None:
    """The report on paper is made when it is asked for, and kept under the run's name."""
    part(page, "Hand it on")
    with page.expect_download(timeout=READ_MS * 2) as saving:
        press(page, "Report as PDF")
    assert saving.value.suggested_filename == f"{FIRST.run}.pdf"
    assert saving.value.path().read_bytes().startswith(b"%PDF")


def test_a_report_that_cannot_be_made_says_why(past: Served, context: BrowserContext) -> None:
    """Where the part that prints is not installed, its own sentence is shown, and stays while the rest is loaded."""
    page, reason = context.new_page(), "PDF needs another part."
    held: list[Route] = []

    def hold(route: Route) -> None:
        held.append(route)

    page.route("**/tables?**", hold)
    page.route("**/report.pdf?**", lambda route: route.fulfill(status=501, json={"reason": reason}))
    opened(page, f"{past.base}/debrief?run={FIRST.run}")
    part(page, "Hand it on")
    press(page, "Report as PDF")
    told = page.get_by_text(f"Not made: {reason}", exact=True)
    expect(told).to_be_visible()
    for route in held:
        route.continue_()
    expect(page.get_by_role("link", name="Starts against plan")).to_be_visible(timeout=READ_MS)
    expect(told).to_be_visible()


def test_a_run_that_is_not_there_says_so(past: Served, context: BrowserContext) -> None:
    """A wrong name leads to one sentence and the library."""
    page = context.new_page()
    page.goto(f"{past.base}/debrief?run=nothing")
    expect(page.get_by_role("alert")).to_contain_text("no run of this name", timeout=READ_MS)
    expect(page.get_by_role("link", name="Library")).to_be_visible()


def test_a_live_run_says_how_far_it_is_shown(past: Served, context: BrowserContext) -> None:
    """A run that the server still goes by is told apart, whether its houses are over or not."""
    page = context.new_page()
    page.goto(past.desk("debrief"))
    expect(page.get_by_text("This run is live: it is shown as far as it has come.")).to_be_visible(timeout=READ_MS)


def test_no_part_breaks_a_rule_of_access(past: Served, clean: BrowserContext) -> None:
    """axe-core finds no violation on any part of the debrief, in the dark and in the light."""
    page = clean.new_page()
    page.set_viewport_size({"width": 1024, "height": 768})
    opened(page, f"{past.base}/debrief?run={FIRST.run}&run={SECOND.run}")
    found: dict[str, str] = {}
    for name in PARTS:
        part(page, name)
        found[name] = violations(page)
    assert found == dict.fromkeys(PARTS, "")


def test_targets_on_a_tablet_are_large_enough(past: Served, clean: BrowserContext) -> None:
    """Every button, field and link of each part can be hit with a thumb, and nothing hangs over the side."""
    page = clean.new_page()
    opened(page, f"{past.base}/debrief?run={FIRST.run}&run={SECOND.run}")
    for name in PARTS:
        for width, height in ((1024, 768), (768, 1024)):
            page.set_viewport_size({"width": width, "height": height})
            part(page, name)
            kinds = [page.get_by_role(role) for role in ("button", "link", "combobox", "searchbox", "textbox")]
            # At one go, since a part that goes on loading may take an element away while others are asked.
            boxes = [box for kind in kinds for box in kind.evaluate_all(SIZES)]
            assert len(boxes) > len(PARTS)
            assert [(name, box) for box in boxes if min(box) < SMALLEST_PX - 0.5] == []
            assert page.evaluate("() => document.documentElement.scrollWidth") <= width
