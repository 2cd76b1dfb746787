"""The threading list on a tablet: ticked, reloaded, without a server, changed meanwhile; and sheets in the browser."""

import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Locator, Page, ViewportSize, expect

from tests.browser.conftest import KEEPING
from tests.browser.desk_of_plans import serving_plans
from tests.browser.served import LAN, Served, served, served_plans, written_plan
from tests.browser.test_desks import violations
from tests.browser.test_plan import too_small

pytestmark = pytest.mark.slow

EXAMPLE = (Path(__file__).parents[2] / "fixtures/plans/larkspur.plan.toml").read_text(encoding="utf-8")
START = re.compile(r"motors_at = \S+")
STEPS = 16
# Of the house, with its day where midnight lies between.
AT = r"[0-9]{1,2}:[0-9]{2}(?: [A-Z][a-z]{2} [0-9]{1,2} [A-Z][a-z]{2})?"
"""Two stretches, a core, a splice, nine machines, two things at the first house, and the walk."""

TABLET: ViewportSize = {"width": 768, "height": 1024}
LOST_MS = 30_000
KEPT = "this list loads without a connection"

CUT = """() => {
  const found = [];
  const look = (root) => {
    for (const each of root.querySelectorAll("*")) {
      if (each.shadowRoot) look(each.shadowRoot);
      if (each.matches(".unseen, option") || getComputedStyle(each).display === "inline") continue;
      const over = each.scrollWidth - each.clientWidth;
      if (each.clientWidth && over > 1) {
        found.push(`${each.localName} ${each.className}: ${over} px of ${each.textContent.trim().slice(0, 40)}`);
      }
    }
  };
  look(document);
  return found;
}"""
"""Whatever is wider inside than out: its text is cut, or the page has to be pushed sideways."""

SMALL = """() => {
  const found = [];
  const look = (root) => {
    for (const each of root.querySelectorAll("*")) {
      if (each.shadowRoot) look(each.shadowRoot);
      if (!each.matches("a, button, select, summary, label:has(input)")) continue;
      const { width, height } = each.getBoundingClientRect();
      if (width > 0 && (height < 47.9 || width < 47.9)) found.push(`${each.textContent.trim()}: ${width} x ${height}`);
    }
  };
  look(document);
  return found;
}"""
"""Whatever is touched and is under 48 px, high or wide; a box is touched anywhere in its row, which is its label."""


def plan_in(minutes: float) -> str:
    """The plan of nine houses, whose motors are to start in so many minutes."""
    start = datetime.now(UTC) + timedelta(minutes=minutes)
    return START.sub(f"motors_at = {start:%Y-%m-%dT%H:%M:%SZ}", EXAMPLE)


def keep(folder: Path, text: str, name: str = "nine") -> None:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / f"{name}.plan.toml").write_text(text, encoding="utf-8")


@pytest.fixture
def nine(tmp_path: Path) -> Iterator[tuple[Served, Path]]:
    """A server that keeps the plan of nine houses, to be laced from two minutes hence, and its folder."""
    with serving_plans(tmp_path) as (server, folder):
        keep(folder, plan_in(41.3))
        yield server, folder


@pytest.fixture
def page(clean: BrowserContext) -> Page:
    page = clean.new_page()
    page.set_viewport_size(TABLET)
    return page


def steps(page: Page) -> Locator:
    return page.get_by_role("list", name="Steps of the lacing").get_by_role("checkbox")


def step(page: Page, name: str) -> Locator:
    return page.get_by_role("checkbox", name=re.compile(f"^{name}"))


def standing(page: Page) -> Locator:
    return page.get_by_role("region", name="How it stands")


def open_list(page: Page, base: str, name: str = "nine") -> None:
    page.goto(f"{base}/threading?plan={name}")
    expect(steps(page)).to_have_count(STEPS)


def expect_now(page: Page, *names: str) -> None:
    """What is marked to be done now, by its number and house, is this and nothing else."""
    marked = steps(page).and_(page.get_by_role("checkbox", name=re.compile(r"\(now\)")))
    expect(marked).to_have_count(len(names))
    for name in names:
        expect(marked.and_(step(page, rf"{name} \(now\)"))).to_have_count(1)


def test_steps_are_ticked_off_and_taken_back(nine: tuple[Served, Path], page: Page) -> None:
    """What is next stands out, for as many as lace; a touch ticks it off, another takes that back; both are kept."""
    server, _ = nine
    open_list(page, server.base)
    expect(page.get_by_role("heading", name="Threading: The Cartographer's Daughter")).to_be_visible()
    expect(standing(page)).to_contain_text(f"0 of {STEPS} done")
    expect(standing(page)).to_contain_text(re.compile(f"Begin by {AT}, in [0-9]+ (min|s): ready by"))
    expect_now(page, r"1\. House 4 to 7")
    for number in (1, 2, 3, 4):
        step(page, rf"{number}\. ").check()
    expect(standing(page)).to_contain_text(f"4 of {STEPS} done")
    expect(standing(page)).to_contain_text(re.compile("On time: laced at about .* to spare"))
    expect_now(page, r"5\. House 7", r"6\. House 8")
    step(page, r"4\. House 4").uncheck()
    expect(standing(page)).to_contain_text(f"3 of {STEPS} done")
    page.reload()
    expect(standing(page)).to_contain_text(f"3 of {STEPS} done")
    assert [box.is_checked() for box in steps(page).all()] == [True] * 3 + [False] * 13


def test_cautions_stand_in_the_step_that_they_belong_to(nine: tuple[Served, Path], page: Page) -> None:
    """Height at the rollers, motors at the machines, ways out at the walk; and what holds throughout on top."""
    server, _ = nine
    open_list(page, server.base)
    where = {r"1\. ": "proper platform", r"6\. ": "Nobody starts a motor", r"16\. ": "narrow a way out"}
    for name, caution in where.items():
        expect(step(page, f"{name}.*{caution}")).to_be_visible()
    expect(step(page, "3. .*motor")).to_have_count(0)
    expect(page.get_by_text("The site's own rules come first.")).to_be_visible()


def test_the_last_tick_leads_to_the_checks(nine: tuple[Served, Path], page: Page) -> None:
    """Splices, tape marks, every machine and the foil cues are ticked off too; then everything is checked."""
    server, _ = nine
    open_list(page, server.base)
    for box in steps(page).all():
        box.check()
    expect(standing(page)).to_contain_text(re.compile(rf"Laced at {AT}\. 5[0-9] things are left to check\."))
    page.get_by_role("button", name="Show checks").click()
    expect(page.get_by_role("heading", name="Splices and tape marks 0 of 4")).to_be_in_viewport()
    house = page.get_by_role("list", name="Checks of House 3")
    names = ["Loop at rest", "Failsafe armed", "Rollers all turn", "Douser shut, lamp out"]
    for name in names:
        house.get_by_role("checkbox", name=f"House 3: {name}").check()
    expect(page.get_by_role("heading", name="Every machine, once more 4 of 36")).to_be_visible()
    expect(page.get_by_role("region", name=re.compile("^Foil cues"))).to_contain_text(
        "counter ft from the print's first"
    )
    for box in page.get_by_role("checkbox").all():
        box.check()
    expect(standing(page)).to_contain_text("Everything is checked.")
    page.get_by_role("button", name="Take all ticks back").click()
    page.get_by_role("button", name="Leave them").click()
    expect(standing(page)).to_contain_text(f"{STEPS} of {STEPS} done")
    page.get_by_role("button", name="Take all ticks back").click()
    page.get_by_role("button", name="Take them back").click()
    expect(standing(page)).to_contain_text(f"0 of {STEPS} done")


def test_a_crew_that_begins_late_is_told_so(nine: tuple[Served, Path], page: Page) -> None:
    """By how much, and more hands make it less."""
    server, folder = nine
    keep(folder, plan_in(25))
    open_list(page, server.base)
    expect(standing(page)).to_contain_text(re.compile(r"Late by 1[3-5] min: .*Motors at"))
    page.get_by_label("People who lace").select_option(label="four people")
    expect(standing(page)).to_contain_text(re.compile(r"Late by [0-9] min: "))
    page.reload()
    expect(page.get_by_label("People who lace")).to_have_value("4")


@KEEPING
def test_ticks_are_made_and_kept_without_a_server(tmp_path: Path, context: BrowserContext) -> None:
    """Page and list load from the device with what was ticked, and when the server is back nothing is lost."""
    page = context.new_page()
    page.set_viewport_size(TABLET)
    with serving_plans(tmp_path) as (server, folder):
        keep(folder, plan_in(41.3))
        open_list(page, server.base)
        expect(page.get_by_text(KEPT)).to_be_visible()
        assert page.evaluate("() => caches.keys()") == ["festoon-threading"]
        step(page, r"1\. ").check()
        server.kill()
        page.reload()
        expect(page.get_by_role("alert").filter(has_text="No word from the server")).to_be_visible(timeout=LOST_MS)
        expect(page.get_by_text(re.compile("This is the list of [0-9]+ (s|min) ago"))).to_be_visible()
        expect(standing(page)).to_contain_text(f"1 of {STEPS} done")
        step(page, r"2\. ").check()
        expect(page.get_by_label("People who lace")).to_be_disabled()
        page.reload()
        expect(standing(page)).to_contain_text(f"2 of {STEPS} done")
        page.goto(f"{server.base}/threading")
        page.get_by_role("list", name="Plans").get_by_role("link", name="The Cartographer's Daughter").click()
        expect(standing(page)).to_contain_text(f"2 of {STEPS} done")
    [plan] = tmp_path.glob("*.plan.toml")
    with served_plans(plan, port=server.port):
        expect(page.get_by_role("alert").filter(has_text="No word from the server")).to_be_hidden(timeout=LOST_MS)
        expect(standing(page)).to_contain_text(f"2 of {STEPS} done")


def test_a_server_that_goes_while_the_page_is_open_is_told(nine: tuple[Served, Path], context: BrowserContext) -> None:
    """Within a few seconds, in sight wherever the list was pushed to; ticks go on."""
    server, _ = nine
    page = context.new_page()
    page.set_viewport_size(TABLET)
    open_list(page, server.base)
    server.kill()
    step(page, "16. ").scroll_into_view_if_needed()
    told = page.get_by_text("No word from the server.", exact=True)
    expect(told).to_be_in_viewport(timeout=LOST_MS)
    step(page, "16. ").check()
    expect(standing(page)).to_contain_text(f"1 of {STEPS} done")


def test_a_plan_that_is_changed_meanwhile_keeps_the_ticks_of_what_is_the_same(
    nine: tuple[Served, Path], context: BrowserContext
) -> None:
    """The page says so by itself, marks what is another, and takes that tick alone back."""
    server, folder = nine
    page = context.new_page()
    text = (folder / "nine.plan.toml").read_text(encoding="utf-8")
    open_list(page, server.base)
    for number in (1, 2, 3):
        step(page, rf"{number}\. ").check()
    keep(folder, text.replace("path_ft = 44", "path_ft = 47"))
    notice = page.get_by_role("alert").filter(has_text="The plan was changed at")
    expect(notice).to_contain_text("Two ticks stay. One tick was", timeout=LOST_MS)
    assert [box.is_checked() for box in steps(page).all()][:4] == [True, False, True, False]
    expect(step(page, r"2\. House 3 to 4.*Changed")).to_be_visible()
    expect(step(page, r"16\. .*Changed")).to_be_visible()
    page.get_by_role("button", name="Seen").click()
    expect(notice).to_be_hidden()
    expect(page.get_by_text("Changed", exact=True)).to_have_count(0)
    keep(folder, "[")
    page.reload()
    expect(page.get_by_role("alert").filter(has_text="This plan is not whole yet")).to_contain_text("as it was at")
    expect(standing(page)).to_contain_text(f"2 of {STEPS} done")


def test_last_nights_ticks_lace_nothing_tonight(nine: tuple[Served, Path], page: Page) -> None:
    """A plan that was moved to another day begins with no tick, and says why."""
    server, folder = nine
    open_list(page, server.base)
    step(page, r"1\. ").check()
    keep(folder, plan_in(41.3 + 24 * 60))
    page.reload()
    expect(page.get_by_role("alert").filter(has_text="of another show now")).to_be_visible()
    expect(standing(page)).to_contain_text(f"0 of {STEPS} done")


def test_a_browser_that_keeps_no_copy_says_so(nine: tuple[Served, Path], context: BrowserContext) -> None:
    """Elsewhere than here and without TLS there is no copy, as the booth desk says of itself; ticks are kept."""
    server, _ = nine
    page = context.new_page()
    page.add_init_script("Object.defineProperty(navigator, 'serviceWorker', { value: undefined })")
    open_list(page, server.base)
    expect(page.get_by_text("No copy of this desk here: do not reload it without a connection")).to_be_visible()
    expect(page.get_by_text("Ticks stay on this device")).to_be_visible()
    expect(page.get_by_text(KEPT)).to_have_count(0)


@pytest.mark.parametrize("name", ["nothing", "../../secret", "<img src=x onerror=alert(1)>", "half"])
def test_a_plan_without_a_list_is_said_in_a_sentence(
    nine: tuple[Served, Path], context: BrowserContext, name: str
) -> None:
    """One that is not there, whatever the address says, and one that is not whole."""
    server, folder = nine
    keep(folder, "[", "half")
    page = context.new_page()
    page.goto(f"{server.base}/threading?plan={name}")
    reason = "This plan is not whole yet" if name == "half" else "There is no plan of this name here."
    expect(page.get_by_role("alert")).to_contain_text(reason)
    expect(page.get_by_role("link", name="Plans", exact=True)).to_be_visible()


@pytest.mark.parametrize("width", [390, 768, 1024, 1920])
def test_nothing_is_cut_and_everything_is_big_enough(nine: tuple[Served, Path], browser: Browser, width: int) -> None:
    """At four widths, begun and late, with a house of a long name: no text is cut, and a thumb finds every target."""
    server, folder = nine
    long = re.sub(r'house = "4"', 'house = "The Wharfinger\'s Grand Auditorium of the Upper Quay"', plan_in(20))
    keep(folder, long)
    context = browser.new_context(has_touch=True, locale="en-US", viewport={"width": width, "height": 900})
    page = context.new_page()
    open_list(page, server.base)
    steps(page).nth(0).tap()
    expect(standing(page)).to_contain_text("Late by")
    expect(page.get_by_text(KEPT)).to_be_visible()
    assert page.evaluate(CUT) == []
    assert page.evaluate(SMALL) == []
    page.goto(f"{server.base}/threading")
    expect(page.get_by_role("list", name="Plans").get_by_role("link")).to_have_count(1)
    assert page.evaluate(CUT) == []
    page.goto(f"{server.base}/plan?plan=nine#sheets")
    expect(page.get_by_role("list", name="Sheets").get_by_role("link")).to_have_count(7)
    assert too_small(page) == []
    context.close()


def test_no_rule_of_access_is_broken(nine: tuple[Served, Path], page: Page) -> None:
    """axe-core finds nothing on the list, begun and changed, in the dark and in the light; nor where sheets are."""
    server, folder = nine
    text = (folder / "nine.plan.toml").read_text(encoding="utf-8")
    open_list(page, server.base)
    step(page, r"1\. ").check()
    assert violations(page) == ""
    page.get_by_role("button", name="Always dark").click()
    keep(folder, text.replace("path_ft = 44", "path_ft = 47"))
    page.reload()
    expect(page.get_by_role("button", name="Seen")).to_be_visible()
    assert violations(page) == ""
    page.goto(f"{server.base}/threading")
    expect(page.get_by_role("list", name="Plans")).to_be_visible()
    assert violations(page) == ""
    page.goto(f"{server.base}/plan?plan=nine#sheets")
    expect(page.get_by_role("list", name="Sheets")).to_be_visible()
    assert violations(page) == ""


def test_a_list_is_ticked_by_keyboard(nine: tuple[Served, Path], page: Page) -> None:
    """Tab comes to the first step, space ticks it off, and the next Tab comes to the second."""
    server, _ = nine
    open_list(page, server.base)
    steps(page).nth(0).focus()
    page.keyboard.press("Space")
    expect(standing(page)).to_contain_text(f"1 of {STEPS} done")
    page.keyboard.press("Tab")
    expect(steps(page).nth(1)).to_be_focused()


def test_sheets_of_a_saved_plan_open_beside_the_desk(nine: tuple[Served, Path], page: Page) -> None:
    """From the list of plans to a printed sheet: each in a tab of its own, in its style, and its links work."""
    server, _ = nine
    page.goto(f"{server.base}/plan")
    page.get_by_role("link", name="Sheets to print").click()
    sheets = page.get_by_role("list", name="Sheets").get_by_role("link")
    expect(sheets).to_have_count(7)
    with page.context.expect_page() as opened:
        page.get_by_role("link", name=re.compile("^Overview")).click()
    paper = opened.value
    expect(paper.get_by_role("heading", name="Overview")).to_be_visible()
    assert paper.evaluate("() => getComputedStyle(document.querySelector('h1')).fontSize") == "36px"  # 27 pt
    for title in ("Booth North", "Threading", "Lobby", "Chart"):
        paper.get_by_role("link", name=title, exact=True).click()
        expect(paper.get_by_role("heading", name=title, level=1)).to_be_visible()
        paper.go_back()
    assert paper.pdf(format="A4").startswith(b"%PDF")
    page.get_by_label("People in the crew").select_option(label="five people")
    expect(sheets).to_have_count(8)
    with page.context.expect_page() as opened:
        page.get_by_role("link", name=re.compile("^Crew")).click()
    expect(opened.value.get_by_role("heading", name=re.compile("^Person 1"))).to_be_visible()
    page.get_by_role("link", name=re.compile("^Threading list")).click()
    expect(steps(page)).to_have_count(STEPS)
    expect(page.get_by_label("People who lace")).to_have_value("5")


def test_the_desk_says_of_which_plan_the_sheets_are(nine: tuple[Served, Path], context: BrowserContext) -> None:
    """One that is not saved has none yet, what is changed is not on them, and one that is not whole has none."""
    server, folder = nine
    keep(folder, "[", "half")
    page = context.new_page()
    page.goto(f"{server.base}/plan?new=example#sheets")
    expect(page.get_by_text("Sheets are made of what is saved: save this plan")).to_be_visible()
    page.goto(f"{server.base}/plan?plan=half#sheets")
    expect(page.get_by_role("alert").filter(has_text="so it has no sheets: 1 thing to fill in or mend")).to_be_visible()
    page.goto(f"{server.base}/plan?plan=nine#show")
    page.get_by_label("Title").fill("Another")
    page.get_by_label("Title").blur()
    page.get_by_role("link", name="Sheets", exact=True).click()
    expect(page.get_by_role("alert").filter(has_text="What you changed is not on these sheets yet")).to_be_visible()
    page.goto(f"{server.base}/plan")
    expect(page.get_by_role("link", name="Threading list")).to_have_count(1)


def test_a_device_that_looks_ticks_for_itself(tmp_path: Path, browser: Browser) -> None:
    """Paired only to look, over a network without TLS: it has list and sheets, and keeps its own ticks."""
    plan = written_plan(tmp_path)
    keep(tmp_path / "log" / "plans", plan_in(41.3))
    with served("serve", str(plan), "--port", "0", "--host", "0.0.0.0", "--data", str(tmp_path / "log")) as server:
        here = browser.new_context(locale="en-US").new_page()
        code = here.request.post(f"{server.base}/api/pairings/codes", data={"name": "Ida", "role": "look"}).json()
        there = browser.new_context(locale="en-US").new_page()
        base = f"http://{LAN}:{server.port}"
        there.goto(f"{base}/threading?plan=nine")
        expect(there.get_by_label("Code")).to_be_visible()
        there.get_by_label("Code").fill(code["code"])
        there.get_by_role("button", name="Pair").click()
        expect(there.get_by_role("status")).to_contain_text("It is Ida's")
        open_list(there, base)
        expect(there.get_by_text("No copy of this desk here")).to_be_visible()
        step(there, r"1\. ").check()
        there.reload()
        expect(standing(there)).to_contain_text(f"1 of {STEPS} done")
        there.get_by_role("link", name="Plan and sheets").click()
        with there.context.expect_page() as opened:
            there.get_by_role("link", name=re.compile("^Overview")).click()
        opened.value.get_by_role("link", name="Lobby", exact=True).click()
        expect(opened.value.get_by_role("heading", name="Lobby", level=1)).to_be_visible()
        open_list(here, server.base)
        expect(standing(here)).to_contain_text(f"0 of {STEPS} done")
        there.context.close()
        here.context.close()
