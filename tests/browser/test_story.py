"""The debrief begins with what happened: a few sentences, each of which leads to its moment."""

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import BrowserContext, Locator, Page, Route, expect

from tests.browser.past import FIRST, PAIR, served_log
from tests.browser.served import Served
from tests.browser.test_debrief import READ_MS, moment
from tests.browser.test_desks import violations

pytestmark = pytest.mark.slow

SIZES = [(1024, 768), (1920, 1080), (390, 844)]
READING = "Reading the run: 405 events of nine houses"


@pytest.fixture(scope="module")
def past(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A server with a show in which two things went wrong, and a small one."""
    with served_log(tmp_path_factory.mktemp("past"), FIRST, PAIR) as server:
        yield server


@pytest.fixture
def page(past: Served, clean: BrowserContext) -> Page:
    """The debrief of the show, its story told."""
    page = clean.new_page()
    page.goto(f"{past.base}/debrief?run={FIRST.run}")
    expect(sentences(page).first).to_be_visible(timeout=READ_MS)
    return page


def sentences(page: Page) -> Locator:
    return page.get_by_role("list", name="What happened").get_by_role("button")


def chart(page: Page) -> Locator:
    return page.get_by_role("slider", name="Moment of the run")


class Held:
    """Requests that are not answered until somebody lets them go."""

    def __init__(self, page: Page, pattern: str) -> None:
        self._routes: list[Route] = []
        self._is_open = False
        page.route(re.compile(pattern), self._handle)

    def _handle(self, route: Route) -> None:
        if self._is_open:
            route.continue_()
        else:
            self._routes.append(route)

    def let_go(self) -> None:
        self._is_open = True
        for route in self._routes:
            route.continue_()


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_the_story_is_seen_first_with_its_chart(past: Served, clean: BrowserContext, width: int, height: int) -> None:
    """Without a touch the first sentences and the chart are on the screen, the story above, nothing over the side."""
    page = clean.new_page()
    page.set_viewport_size({"width": width, "height": height})
    page.goto(f"{past.base}/debrief?run={FIRST.run}")
    expect(page.get_by_role("article").first).to_be_visible(timeout=READ_MS)
    expect(page.get_by_role("searchbox", name="Find the moment")).to_be_attached(timeout=READ_MS)
    tops = [0.0]
    for seen in (*sentences(page).all(), chart(page)):
        expect(seen).to_be_in_viewport(ratio=1)
        box = seen.bounding_box()
        assert box is not None
        tops.append(box["y"])
    assert tops == sorted(tops)
    assert len(tops) == 4
    assert page.evaluate("() => document.documentElement.scrollWidth") <= width


def test_a_sentence_moves_marker_and_clock_together(page: Page) -> None:
    """Touched, it is where the run is looked at: the clock, the marker and the picture are of its moment."""
    expect(page.get_by_role("searchbox", name="Find the moment")).to_be_visible(timeout=READ_MS)
    for sentence in reversed(sentences(page).all()):
        at = sentence.get_by_role("time").first.inner_text()
        sentence.click()
        expect(moment(page)).to_have_text(at)
        expect(chart(page)).to_have_attribute("aria-valuetext", at)
        expect(sentence).to_have_attribute("aria-current", "time")
    expect(page.get_by_role("list", name="Alarms at this moment")).to_contain_text("House 5: the strike window")
    expect(page.get_by_role("region", name="The run at this moment")).to_have_attribute("aria-busy", "false")


def test_clock_and_marker_agree_before_the_server_has_answered(page: Page) -> None:
    """A picture of another moment than the clock's is shown as that."""
    expect(page.get_by_role("searchbox", name="Find the moment")).to_be_visible(timeout=READ_MS)
    held = Held(page, r"/state\?")
    sentences(page).last.click()
    at = sentences(page).last.get_by_role("time").first.inner_text()
    expect(moment(page)).to_have_text(at)
    expect(chart(page)).to_have_attribute("aria-valuetext", at)
    now = page.get_by_role("region", name="The run at this moment")
    expect(now).to_have_attribute("aria-busy", "true")
    held.let_go()
    expect(now).to_have_attribute("aria-busy", "false", timeout=READ_MS)


def test_the_page_says_that_it_reads_until_all_is_there(past: Served, clean: BrowserContext) -> None:
    """The chart is there at once, then the story, then the rest; until then it is said what is being read."""
    page = clean.new_page()
    page.route(re.compile("/first$"), without_story)
    story, rest = Held(page, "/story$"), Held(page, "/api/debriefs/")
    page.goto(f"{past.base}/debrief?run={FIRST.run}")
    reading = page.get_by_role("status").filter(has_text=READING)
    expect(reading).to_be_visible()
    expect(chart(page)).to_have_attribute("aria-valuetext", re.compile(r"\d+:\d\d:\d\d"))
    expect(sentences(page)).to_have_count(0)
    story.let_go()
    expect(sentences(page)).to_have_count(2, timeout=READ_MS)
    expect(reading).to_be_visible()
    rest.let_go()
    expect(reading).to_have_count(0, timeout=READ_MS)


def without_story(route: Route) -> None:
    """As the server answers for a run that nobody has opened."""
    answer = route.fetch()
    route.fulfill(response=answer, json={**answer.json(), "story": None})


def test_a_story_that_is_kept_waits_for_nothing(past: Served, clean: BrowserContext) -> None:
    """Opened again, what happened is told before anything else is answered."""
    page = clean.new_page()
    assert page.request.get(f"{past.base}/api/library/{FIRST.run}/story", timeout=READ_MS).ok
    held = Held(page, "/api/debriefs/")
    page.goto(f"{past.base}/debrief?run={FIRST.run}")
    expect(sentences(page)).to_have_count(2)
    held.let_go()


def test_the_other_clock_has_its_own_story(page: Page) -> None:
    """Known then is read anew, and told."""
    expect(page.get_by_role("searchbox", name="Find the moment")).to_be_visible(timeout=READ_MS)
    with page.expect_response(re.compile(r"/story\?clock=then"), timeout=READ_MS):
        page.get_by_role("radio", name="Known then").check()
    expect(sentences(page).first).to_be_visible(timeout=READ_MS)


def test_the_story_can_be_reached_and_read_by_everybody(page: Page) -> None:
    """By the keyboard, and by the rules of access."""
    expect(page.get_by_role("searchbox", name="Find the moment")).to_be_visible(timeout=READ_MS)
    sentences(page).last.focus()
    page.keyboard.press("Enter")
    expect(moment(page)).to_have_text(sentences(page).last.get_by_role("time").first.inner_text())
    assert violations(page) == ""


def test_the_library_says_how_each_run_stands(past: Served, clean: BrowserContext) -> None:
    """The one that goes on, and those that are over."""
    page = clean.new_page()
    page.goto(f"{past.base}/library")
    runs = page.get_by_role("list", name="Runs").get_by_role("listitem")
    expect(runs.filter(has_text="A Short Walk")).to_contain_text("not started yet")
    for title in ("Pair", "The Cartographer's Daughter"):
        expect(runs.filter(has_text=title).get_by_text("over", exact=True)).to_be_visible(timeout=READ_MS)
