"""The library of runs in the browser: found, put away, brought back, removed; and a recording that is dropped."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Locator, Page, expect

from tests.browser.hands import report
from tests.browser.past import FIRST, PAIR, served_log
from tests.browser.served import Served
from tests.browser.test_desks import violations

pytestmark = pytest.mark.slow

READ_MS = 60_000
"""Alarms are counted by going through a show once."""

LIST = re.compile(r"/api/library(\?|$)")
"""Where the page asks for the list."""

DROP = """({name, text}) => {
  const dropped = new DataTransfer();
  dropped.items.add(new File([text], name));
  window.dispatchEvent(new DragEvent("drop", {dataTransfer: dropped, cancelable: true}));
}"""


@pytest.fixture
def past(tmp_path: Path) -> Iterator[Served]:
    """A server with two shows in its log that nobody else looks at."""
    with served_log(tmp_path, FIRST, PAIR) as server:
        yield server


@pytest.fixture
def page(past: Served, clean: BrowserContext) -> Page:
    page = clean.new_page()
    page.goto(f"{past.base}/library")
    expect(runs(page)).to_have_count(3, timeout=READ_MS)
    return page


def runs(page: Page) -> Locator:
    """What the list shows: the live run and the two that are over, or those of them that are asked for."""
    return page.get_by_role("list", name="Runs", exact=True).get_by_role("listitem")


def answer(page: Page, button: str) -> None:
    page.get_by_role("dialog").get_by_role("button", name=button, exact=True).click()


def test_runs_are_found_by_day_plan_house_trouble_and_words(page: Page) -> None:
    """Each question narrows the list, and the address keeps it."""
    expect(runs(page).filter(has_text="The Cartographer's Daughter")).to_contain_text("slack tight", timeout=READ_MS)
    for label, asked in (("Find", "cartogr"), ("Plan", "larkspur"), ("House", "9"), ("To", "2026-03-20")):
        page.get_by_label(label, exact=True).fill(asked)
        expect(runs(page)).to_have_count(1)
        expect(runs(page)).to_contain_text("The Cartographer's Daughter Sat, Mar 14, 2026")
        page.get_by_role("button", name="Show all").click()
        expect(runs(page)).to_have_count(3)
    page.get_by_role("combobox", name="Trouble").select_option(label="slack tight")
    expect(runs(page)).to_have_count(1)
    expect(page).to_have_url(re.compile(r"\?trouble=slack_tight$"))
    page.reload()
    expect(runs(page)).to_have_count(1, timeout=READ_MS)
    page.get_by_label("Find", exact=True).fill("nothing like it")
    expect(page.get_by_text("No run fits what is asked for")).to_be_visible()


def test_a_run_is_put_away_and_brought_back_by_name(page: Page) -> None:
    """Archiving asks first, and who does it; then the run is left out until it is asked for."""
    page.get_by_role("button", name=re.compile("^Put away: Pair")).click()
    expect(page.get_by_role("dialog")).to_contain_text("Nothing is lost")
    answer(page, "Leave it")
    expect(runs(page)).to_have_count(3)
    page.get_by_role("button", name=re.compile("^Put away: Pair")).click()
    answer(page, "Put it away")
    expect(page.get_by_role("alert")).to_contain_text("Say who does it")
    page.get_by_label("Who does it").fill("Ada")
    answer(page, "Put it away")
    expect(runs(page)).to_have_count(2, timeout=READ_MS)
    page.get_by_role("combobox", name="Put away", exact=True).select_option(label="only those")
    expect(runs(page)).to_have_count(1)
    expect(runs(page)).to_contain_text("put away by Ada")
    page.get_by_role("button", name=re.compile("^Bring back: Pair")).click()
    answer(page, "Bring it back")
    expect(runs(page)).to_have_count(0, timeout=READ_MS)


def test_removing_says_what_is_lost_and_does_it_only_then(page: Page, past: Served) -> None:
    """A run is removed for good after a question that names its events; the live one cannot be."""
    page.get_by_role("button", name=re.compile("^Remove: Pair")).click()
    lost = re.compile(f"This is lost: .*{len(PAIR.events())} events.*cannot be brought back")
    expect(page.get_by_role("dialog")).to_contain_text(lost)
    page.keyboard.press("Escape")
    expect(page.get_by_role("dialog")).to_be_hidden()
    expect(runs(page)).to_have_count(3)
    page.get_by_role("button", name=re.compile("^Remove: Pair")).click()
    answer(page, "Remove it for good")
    expect(runs(page)).to_have_count(2, timeout=READ_MS)
    assert page.request.get(f"{past.base}/api/debriefs/{PAIR.run}").status == 404
    expect(page.get_by_role("button", name=re.compile("^Remove: A Short Walk"))).to_have_count(0)


def test_what_was_refused_stays_told(past: Served, context: BrowserContext) -> None:
    """A run that the server does not put away is said why, and the list that is read anew does not wipe that away."""
    page, reason = context.new_page(), "This device only looks."
    page.goto(f"{past.base}/library")
    page.route("**/api/library/*/archive", lambda route: route.fulfill(status=403, json={"reason": reason}))
    page.get_by_role("button", name=re.compile("^Put away: Pair")).click()
    page.get_by_label("Who does it").fill("Ada")
    with page.expect_response(LIST):
        answer(page, "Put it away")
    with page.expect_response(LIST):
        pass
    expect(page.get_by_role("alert")).to_have_text(reason)


def test_a_live_run_is_shown_as_it_stands_now(past: Served, context: BrowserContext) -> None:
    """A list that stays open follows the run that is live, says when it cannot, and goes on once it can."""
    page = context.new_page()
    page.goto(f"{past.base}/library")
    live = runs(page).filter(has_text="A Short Walk")
    expect(live).to_contain_text("not started yet", timeout=READ_MS)
    report(page, past, "motor_start", "a", 1.0)
    expect(live).to_contain_text("running now", timeout=READ_MS)
    page.route(LIST, lambda route: route.abort())
    expect(page.get_by_role("alert")).to_contain_text("No word from the server", timeout=READ_MS)
    page.unroute(LIST)
    expect(page.get_by_role("alert")).to_have_count(0, timeout=READ_MS)


def test_runs_are_chosen_to_be_gone_through_together(page: Page) -> None:
    """One run is gone through; with two they can be compared or learned from."""
    page.get_by_role("checkbox", name=re.compile("^Choose Pair")).check()
    chosen = page.get_by_role("navigation", name="Chosen runs")
    expect(chosen.get_by_role("link", name="Go through it")).to_have_attribute("href", f"/debrief?run={PAIR.run}")
    page.get_by_role("checkbox", name=re.compile("^Choose The Cartographer")).check()
    both = f"/debrief?run={PAIR.run}&run={FIRST.run}"
    expect(chosen.get_by_role("link", name="Compare them")).to_have_attribute("href", f"{both}#compare")
    expect(chosen.get_by_role("link", name="Change the plan by them")).to_have_attribute("href", f"{both}#learn")


def test_a_recording_that_is_dropped_gives_the_same_account(page: Page, past: Served) -> None:
    """What was handed on is opened by dropping it: the same figures, and nothing of it can be put right."""
    text = page.request.get(f"{past.base}/api/debriefs/{PAIR.run}/recording.events.jsonl").text()
    page.evaluate(DROP, {"name": "pair.events.jsonl", "text": text})
    page.wait_for_url(re.compile(r"/debrief\?run=recording-[0-9a-f]{12}$"))
    expect(page.get_by_text("from a recording")).to_be_visible(timeout=READ_MS)
    dropped = page.url.rpartition("=")[2]
    tables = [
        page.request.get(f"{past.base}/api/debriefs/{run}/tables").json()["tables"] for run in (dropped, PAIR.run)
    ]
    assert tables[0] == tables[1]
    page.get_by_role("link", name="Put it right").click()
    expect(page.get_by_text("This is a recording: a file.")).to_be_visible()


def test_a_recording_without_its_plan_is_told_so(past: Served, context: BrowserContext, tmp_path: Path) -> None:
    """A file that cannot be used leads to one sentence and stays on the page; with its plan it opens."""
    page = context.new_page()
    page.goto(f"{past.base}/library")
    bare = tmp_path / "bare.events.jsonl"
    event = '{"id": "1", "t": "2026-04-04T23:50:00Z", "kind": "chain_start", "source": "tap"}\n'
    bare.write_text(f"{event}not json\n", encoding="utf-8")
    plan = tmp_path / "pair.plan.toml"
    plan.write_text(PAIR.plan_text(), encoding="utf-8")
    page.get_by_label("Choose files").set_input_files(bare)
    expect(page.get_by_role("alert")).to_contain_text("plan", timeout=READ_MS)
    page.get_by_label("Choose files").set_input_files([bare, plan])
    page.wait_for_url(re.compile("/debrief"))
    expect(page.get_by_text("1 line of the recording was not taken")).to_be_visible(timeout=READ_MS)


def test_the_library_breaks_no_rule_of_access(page: Page) -> None:
    """axe-core finds no violation on the library, nor on its question, in the dark and in the light."""
    page.get_by_role("checkbox", name=re.compile("^Choose Pair")).check()
    assert violations(page) == ""
    page.get_by_role("button", name=re.compile("^Remove: Pair")).click()
    assert violations(page) == ""


def test_the_library_is_one_step_from_every_run(past: Served, clean: BrowserContext) -> None:
    """The wall leads to the library, and the library to the first page."""
    page = clean.new_page()
    page.goto(past.desk("wall"))
    page.get_by_role("navigation", name="Desks").get_by_role("link", name="library").click()
    expect(page.get_by_role("heading", name="Library of runs")).to_be_visible()
    expect(page.get_by_role("link", name="Live runs")).to_have_attribute("href", "/")
