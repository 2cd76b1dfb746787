"""Sites where plans are made: kept, taken by the plans that name them, and a crew that is counted."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Locator, Page, ViewportSize, expect

from tests.browser.desk_of_plans import house, houses, open_new, save, serving_plans, tab_to, verdict, wait_for_focus
from tests.browser.larkspur_site import CALLED, SITE
from tests.browser.served import Served
from tests.browser.test_desks import violations
from tests.browser.test_plan import DROP, too_small

pytestmark = pytest.mark.slow

TABLET: ViewportSize = {"width": 1024, "height": 768}
FILE = "larkspur-nine-harrow-falls.site.toml"


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[tuple[Served, Path]]:
    """A server without a plan, and the folder of its sites."""
    with serving_plans(tmp_path) as (served, plans):
        yield served, plans.parent / "sites"


@pytest.fixture
def sited(desk: tuple[Served, Path]) -> tuple[Served, Path]:
    """The same with a site that somebody put there."""
    _, folder = desk
    folder.mkdir()
    (folder / FILE).write_text(SITE, encoding="utf-8")
    return desk


@pytest.fixture
def page(clean: BrowserContext) -> Page:
    page = clean.new_page()
    page.set_viewport_size(TABLET)
    return page


def drop(page: Page, text: str, name: str = "ours.site.toml") -> None:
    page.evaluate(DROP, {"name": name, "text": text})


def open_sited(page: Page, base: str) -> None:
    """Begin a plan, and wait until the desk knows what its site has."""
    with page.expect_response(re.compile(r"/api/plans/sites/[^/]+$")) as answer:
        open_new(page, base)
    answer.value.finished()
    page.evaluate("() => new Promise((drawn) => requestAnimationFrame(() => requestAnimationFrame(drawn)))")


def path_of(page: Page, name: str, before: str) -> Locator:
    return house(page, f"House {name}").get_by_label(f"Path from House {before}", exact=True)


def test_a_site_that_is_dropped_is_checked_and_kept(desk: tuple[Served, Path], context: BrowserContext) -> None:
    """Faults are told all at once, by line; one with a known name takes its place only after a question."""
    served, folder = desk
    page = context.new_page()
    page.goto(f"{served.base}/plan")
    page.get_by_role("button", name="Begin empty").wait_for()
    broken = SITE.replace("walk_s = 400", "walk_s = -1", 1).replace("path_ft = 44", "path_ft = 0")
    drop(page, broken)
    told = page.get_by_role("dialog")
    expect(told).to_have_accessible_name("This site file is not kept")
    faults = told.get_by_role("list", name="Faults of the site file").get_by_role("listitem")
    expect(faults).to_have_count(2)
    line = broken[: broken.index("walk_s = -1")].count("\n") + 1
    expect(faults.nth(1)).to_contain_text(f"Line {line}: walks[0].walk_s: found -1")
    page.keyboard.press("Escape")
    expect(told).to_have_count(0)
    assert not folder.exists()
    drop(page, SITE)
    expect(told).to_have_accessible_name("The site file is kept")
    told.get_by_role("button", name="Close").click()
    expect(page.get_by_role("list", name="Sites")).to_contain_text(
        f"{CALLED} sites/{FILE}: 9 houses, 11 measured paths"
    )
    other = SITE.replace("path_ft = 44", "path_ft = 43")
    drop(page, other)
    expect(told).to_have_accessible_name(f"Replace the site file of {CALLED}?")
    told.get_by_role("button", name="Keep what is there").click()
    assert (folder / FILE).read_text(encoding="utf-8") == SITE
    drop(page, other, "anything.toml")
    told.get_by_role("button", name="Replace it").click()
    expect(told).to_have_accessible_name("The site file is kept")
    assert (folder / FILE).read_text(encoding="utf-8") == other


def test_a_plan_takes_the_site_of_its_name_and_says_so(sited: tuple[Served, Path], page: Page) -> None:
    """Nothing is chosen for it; another name, and none is taken; choosing one gives the plan its name. All is kept."""
    served, _ = sited
    open_new(page, served.base, part="show")
    chooser = page.get_by_role("combobox", name="Site file")
    said = page.get_by_text(re.compile("^(Taken is|No site file|Choose one)"))
    expect(chooser).to_have_value(FILE.removesuffix(".site.toml"))
    expect(said).to_have_text(f"Taken is sites/{FILE}, which has the name of this site: 9 houses, 11 measured paths.")
    page.get_by_label("Site", exact=True).fill("Elsewhere")
    page.get_by_label("Site", exact=True).blur()
    expect(said).to_have_text("No site file is called Elsewhere. Choose one, and the plan gets the name of its site.")
    expect(chooser).to_have_value("")
    chooser.select_option(label=CALLED)
    expect(page.get_by_label("Site", exact=True)).to_have_value(CALLED)
    chooser.select_option(label="none")
    expect(page.get_by_label("Site", exact=True)).to_have_value("")
    page.get_by_role("button", name="Undo").click()
    expect(chooser).to_have_value(FILE.removesuffix(".site.toml"))
    save(page)
    page.reload()
    expect(said).to_contain_text(f"Taken is sites/{FILE}")


def test_houses_and_paths_come_from_the_site(sited: tuple[Served, Path], page: Page) -> None:
    """By keyboard: a house with its booth and its path, and the measured path whenever neighbours change."""
    served, _ = sited
    open_sited(page, served.base)
    page.get_by_role("button", name="Move House 1 up").focus()
    page.keyboard.press("Enter")
    expect(houses(page).nth(0)).to_have_accessible_name("House 1")
    expect(path_of(page, "3", "1")).to_have_value("44")
    expect(path_of(page, "2", "3")).to_have_value("71.5")
    expect(house(page, "House 2").get_by_label("Rollers")).to_have_value("9")
    page.keyboard.press("Control+Z")
    for name in ("7", "8"):
        page.get_by_role("button", name=f"More about House {name}").click()
        page.get_by_role("button", name=f"Take House {name} out").click()
    expect(houses(page)).to_have_count(7)
    chooser = page.get_by_role("combobox", name="House to add")
    expect(chooser.get_by_role("option")).to_have_text(
        ["House 7, South", "House 8, South", "another than the site has"]
    )
    tab_to(page, "House to add.*")
    tab_to(page, "Add a house")
    page.keyboard.press("Enter")
    wait_for_focus(page, "House")
    expect(path_of(page, "7", "9")).to_have_value("118.5")
    expect(house(page, "House 7").get_by_label("Booth")).to_have_value("South")
    tab_to(page, "Add a house")
    page.keyboard.press("Enter")
    expect(chooser).to_have_count(0)
    expect(path_of(page, "8", "7")).to_have_value("16.6")
    page.get_by_role("button", name="Turn the chain about").click()
    expect(houses(page).nth(0)).to_have_accessible_name("House 8")
    expect(path_of(page, "9", "7")).to_have_value("118.5")
    expect(path_of(page, "3", "1")).to_have_value("44")


def test_paths_that_the_site_has_otherwise_are_told_and_taken_together(sited: tuple[Served, Path], page: Page) -> None:
    """Nothing is written over by itself; one touch takes them, one undo brings the plan's own back."""
    served, _ = sited
    open_sited(page, served.base)
    group = page.get_by_role("group", name="Paths of the site file")
    expect(group.get_by_role("listitem")).to_have_text(["House 8 to 7: 54.5 ft, here 16.6 m"])
    path_of(page, "1", "3").fill("")
    expect(group.get_by_role("listitem")).to_have_text(["House 3 to 1: 44 ft", "House 8 to 7: 54.5 ft, here 16.6 m"])
    group.get_by_role("button", name="Take them from the site file").click()
    expect(group).to_have_count(0)
    expect(path_of(page, "1", "3")).to_have_value("44")
    expect(path_of(page, "7", "8")).to_have_value("54.5")
    page.get_by_role("button", name="Undo").click()
    expect(path_of(page, "7", "8")).to_have_value("16.6")


def test_a_crew_is_counted_and_remembered(sited: tuple[Served, Path], page: Page) -> None:
    """Who has to be where, when; one who is too few is told with why, in words without a key of a file."""
    served, _ = sited
    open_new(page, served.base, part="show")
    crew = page.get_by_label("People in the crew")
    people = page.get_by_role("region", name="Who has to be where")
    expect(people).to_have_count(0)
    crew.fill("none")
    expect(page.get_by_text("Write a number from 1 to 200, or leave it empty.")).to_be_visible()
    crew.fill("1")
    findings = page.get_by_role("list", name="What to look at")
    expect(findings).to_contain_text("One person cannot do this show")
    expect(verdict(page)).to_have_text(re.compile("^This chain does not work"))
    assert re.search(r"\b[a-z]+_[a-z]+\b|\[\[", findings.inner_text()) is None
    crew.fill("3")
    expect(findings).not_to_contain_text("cannot do this show")
    expect(people.get_by_role("group")).to_have_count(3)
    people.get_by_text("Person 1").click()
    expect(people.get_by_role("list", name="What person 1 does")).to_contain_text("House 3: strike the lamp")
    page.goto(f"{served.base}/plan?new=example#show")
    expect(crew).to_have_value("3")
    expect(people.get_by_role("group")).to_have_count(3)
    crew.fill("")
    expect(people).to_have_count(0)


def test_a_site_file_with_faults_is_told_on_the_show(desk: tuple[Served, Path], page: Page) -> None:
    """Nothing of it is taken, and where it is wrong stands beside the choice."""
    served, folder = desk
    folder.mkdir()
    (folder / FILE).write_text(SITE.replace("walk_s = 400", "walk_s = -1", 1), encoding="utf-8")
    open_new(page, served.base, part="show")
    expect(page.get_by_role("list", name="Faults of the site file").get_by_role("listitem")).to_contain_text(
        re.compile(r"Line \d+: walks\[0\]\.walk_s: found -1")
    )
    page.get_by_role("link", name=re.compile("^Chain")).click()
    expect(page.get_by_role("combobox", name="House to add")).to_have_count(0)
    page.goto(f"{served.base}/plan")
    expect(page.get_by_role("list", name="Sites")).to_contain_text("Nothing of it is taken while it has faults:")
    assert violations(page) == ""


def test_a_site_is_used_by_touch_and_breaks_no_rule_of_access(
    sited: tuple[Served, Path], browser: Browser, browser_context_args: dict[str, Any]
) -> None:
    """On a phone and a tablet alike: what is touched is large enough, and axe-core finds nothing."""
    served, _ = sited
    for size in (ViewportSize(width=390, height=844), TABLET):
        context = browser.new_context(**browser_context_args | {"has_touch": True, "viewport": size})
        page = context.new_page()
        open_new(page, served.base, part="show")
        page.get_by_label("People in the crew").tap()
        page.keyboard.type("2")
        expect(page.get_by_role("region", name="Who has to be where")).to_be_visible()
        assert too_small(page) == []
        assert violations(page) == ""
        page.get_by_role("link", name=re.compile("^Chain")).tap()
        page.get_by_role("button", name="More about House 7").tap()
        page.get_by_role("button", name="Take House 7 out").tap()
        expect(page.get_by_role("combobox", name="House to add")).to_be_visible()
        assert too_small(page) == []
        assert violations(page) == ""
        page.get_by_role("button", name="Add a house").tap()
        expect(path_of(page, "7", "8")).to_have_value("16.6")
        drop(page, SITE.replace("path_ft = 44", "path_ft = 43"))
        expect(page.get_by_role("dialog")).to_be_visible()
        assert violations(page) == ""
        page.get_by_role("button", name="Keep what is there").tap()
        assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth")
        context.close()
