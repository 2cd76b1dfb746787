"""The plan desk in the browser: from an empty desk to a plan, wrong input, undo, and two people at one plan."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, ViewportSize, expect

from server.timeline.plan import parse_plan
from tests.browser.desk_of_plans import house, houses, open_new, save, serving_plans, tab_to, verdict, wait_for_focus
from tests.browser.served import LAN, Served, served, written_plan
from tests.browser.test_desks import violations

pytestmark = pytest.mark.slow

TABLET: ViewportSize = {"width": 1024, "height": 768}
SIX = [("4", None), ("5", "62"), ("6", "48.5"), ("9", "131"), ("8", "57"), ("7", "54")]
"""Houses in film order, with the path to each in feet."""


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[tuple[Served, Path]]:
    """A server without a plan, and the folder of its plans."""
    with serving_plans(tmp_path) as served:
        yield served


@pytest.fixture
def page(clean: BrowserContext) -> Page:
    page = clean.new_page()
    page.set_viewport_size(TABLET)
    return page


def check_six(folder: Path) -> None:
    """The plan of six houses is the only one, and its file says what was entered."""
    [path] = folder.glob("*.plan.toml")
    assert path.name == "six-by-night.plan.toml"
    plan = parse_plan(path.read_text(encoding="utf-8"), path.name)
    assert [station.house for station in plan.stations] == [house for house, _ in SIX]
    assert [round(station.path_m / 0.3048, 6) for station in plan.stations] == [float(path or 0) for _, path in SIX]
    assert (plan.title, plan.print[1].length_s) == ("Six by Night", 6000.0)
    assert {station.inputs.motor for station in plan.stations} == {"tap"}


def test_a_plan_of_six_houses_is_made_by_keyboard_alone(desk: tuple[Served, Path], page: Page) -> None:
    """From an empty desk to a saved plan without a pointer: every field and button is reached, and says what it is."""
    served, folder = desk
    page.goto(f"{served.base}/plan")
    expect(page.get_by_text("No plan is kept here yet.")).to_be_visible()
    tab_to(page, "Begin empty")
    page.keyboard.press("Enter")
    expect(verdict(page)).to_have_text("Not a whole plan yet: 2 things to fill in or mend.")
    tab_to(page, "Add the first house")
    for number, (name, path) in enumerate(SIX):
        page.keyboard.press("Enter")
        wait_for_focus(page, "House")
        expect(houses(page)).to_have_count(number + 1)
        page.keyboard.type(name)
        if path is not None:
            tab_to(page, "Path.*")
            page.keyboard.type(path)
        tab_to(page, "Add a house")
    tab_to(page, "Print.*", back=True)
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="The print, in film order")).to_be_visible()
    for _ in range(2):
        tab_to(page, "Length")
    page.keyboard.type("1:40:00")
    tab_to(page, "Show", back=True)
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="The show")).to_be_visible()
    tab_to(page, "Title")
    page.keyboard.press("Control+A")
    page.keyboard.type("Six by Night")
    expect(page.get_by_role("heading", name="Six by Night")).to_be_visible()
    expect(verdict(page)).to_have_text(re.compile("^(This chain can run|Nothing is found)"))
    page.keyboard.press("Control+S")
    wait_for_focus(page, "Not yet|Who does it")
    tab_to(page, "Who does it")
    page.keyboard.type("Ada")
    page.keyboard.press("Enter")
    expect(page.get_by_text(re.compile("^Saved .* by Ada$"))).to_be_visible()
    expect(page).to_have_url(re.compile(r"/plan\?plan=six-by-night#show$"))
    check_six(folder)


def test_a_plan_of_six_houses_is_made_by_touch_alone(
    desk: tuple[Served, Path], browser: Browser, browser_context_args: dict[str, Any]
) -> None:
    """The same with a finger: everything that is touched is at least 48 px high and wide."""
    served, folder = desk
    context = browser.new_context(**browser_context_args | {"has_touch": True, "viewport": TABLET})
    page = context.new_page()
    page.goto(f"{served.base}/plan")
    page.get_by_role("button", name="Begin empty").tap()
    for number, (name, path) in enumerate(SIX):
        page.get_by_role("button", name=re.compile("^Add (a|the first) house$")).tap()
        entry = houses(page).nth(number)
        entry.get_by_label("House", exact=True).tap()
        page.keyboard.press("Control+A")
        page.keyboard.type(name)
        if path is not None:
            entry.get_by_label(re.compile("^Path from")).tap()
            page.keyboard.type(path)
    assert too_small(page) == []
    page.get_by_role("link", name="Print").tap()
    page.get_by_role("listitem", name="Feature").get_by_label("Length", exact=True).tap()
    page.keyboard.type("1:40:00")
    assert too_small(page) == []
    page.get_by_role("link", name="Show").tap()
    expect(page.get_by_role("listitem", name="Feature")).to_have_count(0)  # the film's parts have titles too
    page.get_by_label("Title").tap()
    page.keyboard.press("Control+A")
    page.keyboard.type("Six by Night")
    page.get_by_role("button", name="Save", exact=True).tap()
    page.get_by_label("Who does it").tap()
    page.keyboard.type("Ada")
    page.get_by_role("button", name="Save it").tap()
    expect(page.get_by_text(re.compile("^Saved .* by Ada$"))).to_be_visible()
    check_six(folder)
    context.close()


TARGETS = """() => {
  const found = [];
  const look = (root) => {
    for (const each of root.querySelectorAll("*")) {
      if (each.shadowRoot) look(each.shadowRoot);
      if (!each.matches("button, select, textarea, a, input:not([type=checkbox]), .check, .handle")) continue;
      const { width, height } = each.getBoundingClientRect();
      const name = each.textContent.trim() || each.id;
      if (width > 0 && (height < 47.9 || width < 38)) found.push(`${name}: ${width} x ${height}`);
    }
  };
  look(document);
  return found;
}"""


def too_small(page: Page) -> list[str]:
    """Everything on the page that is touched and lower than 48 px."""
    found: list[str] = page.evaluate(TARGETS)
    return found


def test_houses_change_places_by_buttons_and_by_dragging(desk: tuple[Served, Path], page: Page) -> None:
    """Order follows the finger and the button alike; a path goes with its pair of houses, and comes back with it."""
    served, _ = desk
    open_new(page, served.base)
    names = [entry.get_attribute("aria-label") for entry in houses(page).all()]
    assert names[:4] == ["House 3", "House 1", "House 2", "House 5"]
    page.get_by_role("button", name="Move House 1 down").focus()
    page.keyboard.press("Enter")
    expect(houses(page).nth(2)).to_have_accessible_name("House 1")
    wait_for_focus(page, "Move House 1 down")
    expect(houses(page).nth(1)).to_have_accessible_name("House 2")
    expect(house(page, "House 1").get_by_label("Path from House 2", exact=True)).to_have_value("52")
    expect(house(page, "House 2").get_by_label("Path from House 3", exact=True)).to_have_value("")
    expect(verdict(page)).to_have_text("This chain does not work: 2 things to change.")
    page.keyboard.press("Control+Z")
    expect(house(page, "House 2").get_by_label("Path from House 1", exact=True)).to_have_value("52")
    handle = house(page, "House 5").locator(".handle")
    handle.hover()
    page.mouse.down()
    page.mouse.move(40, house(page, "House 1").bounding_box()["y"] + 2, steps=4)  # type: ignore[index]
    page.mouse.up()
    expect(houses(page).nth(1)).to_have_accessible_name("House 5")
    expect(house(page, "House 1").get_by_label("Path from House 5", exact=True)).to_have_value("")
    page.get_by_role("button", name="Move House 5 up").click()
    expect(houses(page).nth(0)).to_have_accessible_name("House 5")
    expect(house(page, "House 1").get_by_label("Path from House 3", exact=True)).to_have_value("44")


def test_a_house_is_dragged_with_a_finger(
    desk: tuple[Served, Path], browser: Browser, browser_context_args: dict[str, Any]
) -> None:
    """On a tablet the handle drags the house and not the page."""
    served, _ = desk
    context = browser.new_context(**browser_context_args | {"has_touch": True, "viewport": TABLET})
    page = context.new_page()
    open_new(page, served.base)
    start, end = house(page, "House 3").locator(".handle").bounding_box(), house(page, "House 2").bounding_box()
    assert start is not None
    assert end is not None
    hand = context.new_cdp_session(page)
    x = start["x"] + 10
    for kind, y in (
        ("touchStart", start["y"] + 20),
        ("touchMove", end["y"]),
        ("touchMove", end["y"] + end["height"] - 5),
    ):
        hand.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [{"x": x, "y": y}]})
    hand.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    expect(houses(page).nth(2)).to_have_accessible_name("House 3")
    expect(houses(page).nth(0)).to_have_accessible_name("House 1")
    context.close()


def test_a_length_is_given_in_time_feet_or_frames(desk: tuple[Served, Path], page: Page) -> None:
    """Another unit waits for its figure, with the old one in sight; then it takes its place in the text."""
    served, _ = desk
    open_new(page, served.base, part="print")
    reel = page.get_by_role("listitem", name="Reel 1")
    length, unit = reel.get_by_role("textbox", name="Length"), reel.get_by_role("combobox", name="Unit: length")
    unit.select_option(label="feet")
    expect(length).to_have_value("")
    expect(length).to_have_attribute("placeholder", "was 17:05")
    expect(verdict(page)).to_have_text("Nothing is found against this chain.")
    length.fill("1537.5")
    page.get_by_role("link", name="Text").click()
    text = page.get_by_role("textbox", name="Text of the plan")
    expect(text).to_have_value(re.compile(r'title = "Reel 1"\nfeet = 1537\.5\ncue = true\n'))


def test_what_is_wrong_is_told_beside_its_field_and_stays_in_it(desk: tuple[Served, Path], page: Page) -> None:
    """A wrong value is kept as it was typed, told in words where it stands, and what was meant is offered."""
    served, _ = desk
    open_new(page, served.base)
    field = house(page, "House 1").get_by_label("Advertised")
    field.fill("7:05pm")
    field.blur()
    told = house(page, "House 1").get_by_role("list", name="What is wrong here")
    expect(told).to_contain_text("Advertised time: Found '7:05pm'. Write a time of day, such as 19:00.")
    expect(field).to_have_accessible_description("Found '7:05pm'. Write a time of day, such as 19:00.")
    expect(field).to_have_value("7:05pm")
    expect(field).to_have_attribute("aria-invalid", "true")
    expect(verdict(page)).to_have_text("Not a whole plan yet: 1 thing to fill in or mend.")
    expect(page.get_by_role("img", name=re.compile("^Planned passes of every mark"))).to_be_visible()
    page.get_by_role("button", name="Write 19:05").click()
    expect(field).to_have_value("19:05")
    expect(told).to_be_hidden()
    path = house(page, "House 1").get_by_label("Path from House 3", exact=True)
    path.fill("forty")
    expect(house(page, "House 1")).to_contain_text("Found 'forty'. Write a number")
    page.get_by_role("link", name="Text").click()
    page.get_by_role("link", name=re.compile("^Chain")).click()
    expect(path).to_have_value("forty")


def test_a_plan_that_is_not_there_is_one_sentence(desk: tuple[Served, Path], context: BrowserContext) -> None:
    """A wrong name leads to a sentence no higher than it is long, and to the plans."""
    page = context.new_page()
    page.set_viewport_size(TABLET)
    page.goto(f"{desk[0].base}/plan?plan=nothing")
    said = page.get_by_role("alert")
    expect(said).to_have_text("There is no plan of this name here.")
    assert (box := said.bounding_box()) is not None
    assert box["height"] < box["width"] / 4
    expect(page.get_by_role("link", name="Plans")).to_be_visible()


def test_a_broken_text_is_told_with_its_line_and_empties_no_field(desk: tuple[Served, Path], page: Page) -> None:
    """What is pasted and is no plan leaves the fields with what was last read, and leads to its line."""
    served, _ = desk
    open_new(page, served.base, part="text")
    area = page.get_by_role("textbox", name="Text of the plan")
    whole = area.input_value()
    area.fill(whole.replace('house = "1"', 'house = "1'))
    line = whole.split('house = "1"')[0].count("\n") + 1
    expect(verdict(page)).to_have_text("The text cannot be read as a plan.")
    wrong = page.get_by_role("list", name="What is wrong in the text")
    expect(wrong).to_contain_text(f"Line {line}: This line cannot be read")
    page.get_by_role("button", name=f"Go to line {line}").click()
    selected = "(area) => area.value.slice(area.selectionStart, area.selectionEnd)"
    assert area.evaluate(selected) == 'house = "1'
    page.get_by_role("link", name="Chain").click()
    expect(house(page, "House 1").get_by_label("House", exact=True)).to_have_value("1")
    expect(house(page, "House 1").get_by_label("House", exact=True)).to_be_disabled()
    page.get_by_role("button", name="Undo").click()
    expect(verdict(page)).to_have_text("Nothing is found against this chain.")
    expect(house(page, "House 1").get_by_label("House", exact=True)).to_be_enabled()


def test_every_change_is_undone_and_done_again(desk: tuple[Served, Path], page: Page) -> None:
    """What was typed into one field is one step; undoing everything leaves the text as it was, to the byte."""
    served, _ = desk
    open_new(page, served.base, part="text")
    whole = page.get_by_role("textbox", name="Text of the plan").input_value()
    page.get_by_role("link", name="Chain").click()
    house(page, "House 1").get_by_label("Booth").press("End")
    page.keyboard.type(" wing")
    page.get_by_role("button", name="Add a house").click()
    expect(houses(page)).to_have_count(10)
    page.get_by_role("button", name="More about House 10").click()
    page.get_by_role("button", name="Take House 10 out").click()
    expect(houses(page)).to_have_count(9)
    for _ in range(2):
        page.keyboard.press("Control+Z")
    expect(houses(page)).to_have_count(9)
    page.keyboard.press("Control+Z")
    expect(house(page, "House 1").get_by_label("Booth")).to_have_value("North")
    expect(page.get_by_role("button", name="Undo")).to_be_disabled()
    page.keyboard.press("Control+Shift+Z")
    expect(house(page, "House 1").get_by_label("Booth")).to_have_value("North wing")
    page.keyboard.press("Control+Z")
    page.get_by_role("link", name="Text").click()
    expect(page.get_by_role("textbox", name="Text of the plan")).to_have_value(whole)


def test_two_tabs_at_one_plan_lose_nothing(desk: tuple[Served, Path], context: BrowserContext) -> None:
    """The second save is told who came first and what differs; whichever is chosen, both texts are there."""
    served, folder = desk
    first = context.new_page()
    open_new(first, served.base)
    save(first)
    second = context.new_page()
    second.goto(first.url)
    for page, path in ((first, "45"), (second, "46")):
        house(page, "House 1").get_by_label("Path from House 3", exact=True).fill(path)
    first.get_by_role("button", name="Save", exact=True).click()
    expect(first.get_by_text(re.compile("^Saved"))).to_be_visible()
    second.get_by_role("button", name="Save", exact=True).click()
    told = second.get_by_role("alert")
    expect(told).to_contain_text("This plan was saved meanwhile by Ada")
    expect(told).to_contain_text("House 1: path 46 ft, was 45 ft.")
    file = folder / "the-cartographers-daughter.plan.toml"
    assert "path_ft = 45\n" in file.read_text(encoding="utf-8")
    second.get_by_role("button", name="Take theirs").click()
    expect(house(second, "House 1").get_by_label("Path from House 3", exact=True)).to_have_value("45")
    second.get_by_role("button", name="Undo").click()
    expect(house(second, "House 1").get_by_label("Path from House 3", exact=True)).to_have_value("46")
    second.get_by_role("button", name="Save", exact=True).click()
    expect(second.get_by_text(re.compile("^Saved"))).to_be_visible()
    assert "path_ft = 46\n" in file.read_text(encoding="utf-8")
    second.get_by_role("link", name="Versions").click()
    versions = second.get_by_role("list", name="Versions, the latest first").get_by_role("listitem")
    expect(versions.filter(has_text="by Ada")).to_have_count(3)
    second.get_by_role("button", name="Bring version 1 back").click()
    second.get_by_role("link", name="Chain").click()
    expect(house(second, "House 1").get_by_label("Path from House 3", exact=True)).to_have_value("44")


def test_what_is_not_saved_outlives_a_reload(desk: tuple[Served, Path], page: Page) -> None:
    """A tab that is loaded again has what was changed in it, and says so."""
    served, _ = desk
    open_new(page, served.base)
    save(page)
    house(page, "House 1").get_by_label("Path from House 3", exact=True).fill("47")
    expect(page.get_by_text("Changed since it was saved")).to_be_visible()
    page.on("dialog", lambda dialog: dialog.accept())
    page.reload()
    expect(house(page, "House 1").get_by_label("Path from House 3", exact=True)).to_have_value("47")
    expect(page.get_by_text("What you had changed and not saved is back.")).to_be_visible()


def test_a_plan_that_a_live_run_goes_by_is_copied(desk: tuple[Served, Path], page: Page) -> None:
    """The file under a live run stays as it is, to the byte; what is saved is another plan."""
    served, folder = desk
    folder.mkdir()
    live = next(folder.parent.parent.glob("*.plan.toml")).read_text(encoding="utf-8")
    (folder / "tonight.plan.toml").write_text(live, encoding="utf-8")
    page.goto(f"{served.base}/plan?plan=tonight")
    expect(page.get_by_text("A live run goes by this plan.")).to_be_visible()
    house(page, "House 2").get_by_label("Path from House 1", exact=True).fill("101")
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_label("Who does it").fill("Ada")
    page.get_by_role("button", name="Save it").click()
    expect(page.get_by_text("Yours is saved beside it, as tonight-2.plan.toml.")).to_be_visible()
    expect(page).to_have_url(re.compile(r"\?plan=tonight-2"))
    assert (folder / "tonight.plan.toml").read_text(encoding="utf-8") == live
    assert "path_ft = 101\n" in (folder / "tonight-2.plan.toml").read_text(encoding="utf-8")


DROP = """({name, text}) => {
  const dropped = new DataTransfer();
  dropped.items.add(new File([text], name));
  window.dispatchEvent(new DragEvent("drop", {dataTransfer: dropped, cancelable: true}));
}"""


def test_a_plan_is_dropped_and_handed_on_as_the_same_file(desk: tuple[Served, Path], page: Page) -> None:
    """A file that is dropped opens as a new plan, and downloads as it was; a recording is told to be one."""
    served, _ = desk
    text = (Path(__file__).parents[2] / "fixtures/plans/sixteen.plan.toml").read_text(encoding="utf-8")
    page.goto(f"{served.base}/plan")
    page.get_by_role("button", name="Begin empty").wait_for()
    page.evaluate(DROP, {"name": "show.events.jsonl", "text": "{}"})
    expect(page.get_by_role("alert")).to_have_text(
        "show.events.jsonl is a recording of a show, not a plan: open it in the library."
    )
    page.evaluate(DROP, {"name": "sixteen.plan.toml", "text": text})
    expect(houses(page)).to_have_count(16)
    with page.expect_download() as download:
        page.get_by_role("button", name="Download").click()
    assert download.value.suggested_filename == "sixteen-for-midnight.plan.toml"
    assert Path(download.value.path()).read_text(encoding="utf-8") == text
    expect(page.get_by_role("region", name="Table of times")).to_contain_text("Sat 18 Jul")


def test_the_plan_desk_breaks_no_rule_of_access(desk: tuple[Served, Path], page: Page) -> None:
    """axe-core finds no violation on the list nor on any part of a plan, right or wrong, dark or light."""
    served, _ = desk
    page.goto(f"{served.base}/plan")
    page.get_by_role("button", name="Begin empty").wait_for()
    assert violations(page) == ""
    open_new(page, served.base)
    page.get_by_role("button", name="More about House 1").click()
    house(page, "House 1").get_by_label("Advertised").fill("7:05pm")
    expect(page.get_by_role("button", name="Write 19:05")).to_be_visible()
    assert violations(page) == ""
    for part in ("Show", "Print", "Rules", "Text"):
        page.get_by_role("link", name=re.compile(f"^{part}")).click()
        assert violations(page) == "", part
    save(page)
    page.get_by_role("link", name="Versions").click()
    expect(page.get_by_role("listitem", name="Version 1")).to_be_visible()
    assert violations(page) == ""
    page.goto(f"{served.base}/plan")
    expect(page.get_by_role("list", name="Plans, the latest saved first").get_by_role("listitem")).to_have_count(1)
    assert violations(page) == ""


def test_a_device_that_only_looks_changes_nothing(tmp_path: Path, page: Page, browser: Browser) -> None:
    """It reads every plan with its answer, may download it, and finds nothing to change it with."""
    plan = written_plan(tmp_path)
    arguments = (str(plan), "--port", "0", "--host", "0.0.0.0", "--data", str(tmp_path / "log"))
    with served("serve", *arguments) as server:
        open_new(page, server.base)
        save(page)
        code = page.request.post(f"{server.base}/api/pairings/codes", data={"name": "Ida", "role": "look"}).json()
        wall = browser.new_context().new_page()
        there = f"http://{LAN}:{server.port}"
        wall.goto(f"{there}/pair")
        wall.get_by_label("Code").fill(code["code"])
        wall.get_by_role("button", name="Pair").click()
        expect(wall.get_by_role("status")).to_contain_text("It is Ida's")
        wall.goto(f"{there}/plan")
        expect(wall.get_by_role("list", name="Plans, the latest saved first").get_by_role("listitem")).to_have_count(1)
        expect(wall.get_by_role("button", name="Begin empty")).to_have_count(0)
        wall.get_by_role("link", name=re.compile("^The Cartographer's Daughter")).click()
        expect(verdict(wall)).to_have_text("Nothing is found against this chain.")
        expect(wall.get_by_role("button", name="Save")).to_have_count(0)
        expect(house(wall, "House 1").get_by_label("House", exact=True)).to_be_disabled()
        expect(wall.get_by_role("button", name="Move House 1 down")).to_be_disabled()
        wall.get_by_role("link", name="Versions").click()
        expect(wall.get_by_role("listitem", name="Version 1")).to_contain_text("by Ada")
        expect(wall.get_by_role("button", name=re.compile("Bring version"))).to_have_count(0)
        wall.context.close()
